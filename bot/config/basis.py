"""All that an answer is worked from: the tables, the words crews use, the sentences the bot says."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bot import files, sayings
from bot.reading import words
from bot.reading.words import Words
from bot.sayings import Sayings
from knowledge import tables
from knowledge.tables import Tables


@dataclass(frozen=True)
class Books:
    """Read at start, and anew when the office changes a file of theirs."""

    tables: Tables
    words: Words
    sayings: Mapping[str, Sayings]

    @classmethod
    def load(cls) -> "Books":
        """Read them all as they came. Raises DataError that names file, key and reason."""
        read = tables.load()
        return cls(read, words.load(), sayings.load(read))

    def with_changed(self, changed: Mapping[str, str], whole: Mapping[str, str]) -> "Books":
        """These books where the files named in `changed` are other ones; `whole` are all files, with the
        changed ones. Raises DataError that names file, key and reason."""
        new = {name for name in changed if name != files.PEOPLE}
        spoken = {name for name in new if name.startswith(files.WORDS)}
        if not new:
            return self
        with files.written_out(whole) as place:
            read = tables.load(place.data) if new - spoken else self.tables
            heard = words.load(place.words) if spoken else self.words
            return replace(self, tables=read, words=heard, sayings=sayings.load(read, place.words))
