"""The SQLite file: turns, trench records, pictures, what came twice or could not be taken. It decides nothing."""
