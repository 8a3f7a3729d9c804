"""What a text is for: its purpose, the trench it names, the question that it answers."""
