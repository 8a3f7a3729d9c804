"""The trench drawn, for the office and for phones."""
