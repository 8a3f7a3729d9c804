"""The SQLite file: turns, trench records, pictures, what came twice or was not taken. It decides nothing."""
