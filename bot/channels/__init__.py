"""One channel a file: verify a hook, read it, answer it, say what to send. No I/O; none sees another."""
