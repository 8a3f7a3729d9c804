"""The SQLite file: turns, records, pictures, texts that came twice or could not be taken. It decides nothing."""
