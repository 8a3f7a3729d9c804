"""The SQLite file: turns, trench records, texts that came twice or could not be taken. It decides nothing."""
