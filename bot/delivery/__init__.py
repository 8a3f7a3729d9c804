"""Texts on their way out: the outbox, sending, reminders, by which channel."""
