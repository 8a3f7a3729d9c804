"""What a text says: from its words to one Reading. It never guesses."""
