"""How long a test waits for what could hang. It decides nothing: a busy machine takes as long as it takes."""

SECONDS = 600.0
