"""What the program came with, read once: nothing of it changes."""

from functools import cache

from bot.config.basis import Basis


@cache
def shipped() -> Basis:
    """Tables, readers and sentences as they are delivered."""
    return Basis.load()
