"""All that an answer is worked from: the tables, the words crews use, the sentences the bot says."""

from collections.abc import Mapping
from dataclasses import dataclass

from bot import sayings
from bot.reading import words
from bot.reading.words import Words
from bot.sayings import Sayings
from knowledge import tables
from knowledge.tables import Tables


@dataclass(frozen=True)
class Books:
    """Read once at start."""

    tables: Tables
    words: Words
    sayings: Mapping[str, Sayings]

    @classmethod
    def load(cls) -> "Books":
        """Read them all. Raises DataError that names file, key and reason."""
        read = tables.load()
        return cls(read, words.load(), sayings.load(read))
