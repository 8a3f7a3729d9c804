"""Texts on their way out: the outbox, sending, reminders, and by which channel. It decides nothing."""
