"""Demo chats, played; the invented crew of the demo, its phones and their stories."""
