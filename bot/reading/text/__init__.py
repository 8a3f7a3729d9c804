"""A text made ready: figures, phrases with their meanings, clauses."""
