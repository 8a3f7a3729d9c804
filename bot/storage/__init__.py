"""The SQLite file: turns, trench records, what came in twice or could not be taken."""
