"""Demo chats, played; and the invented crew of the demo."""
