"""All that an answer is worked from: the tables, the words crews use, the sentences the bot says."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bot.config import shipped
from bot.language import catalog, lexicon
from bot.language.catalog import Catalog
from bot.language.lexicon import Lexicon
from bot.reading.both import Readers
from knowledge.tables import load
from knowledge.tables.load import Tables


@dataclass(frozen=True)
class Basis:
    """Read at start, and anew when the office changes a file of theirs."""

    tables: Tables
    readers: Readers
    catalogs: Mapping[str, Catalog]

    @property
    def words(self) -> Lexicon:
        """The words crews use, by language."""
        return self.readers.words

    @classmethod
    def load(cls) -> "Basis":
        """Read them all as they came. Raises DataError that names file, key and reason."""
        read = load.load()
        return cls(read, Readers(lexicon.load(tables=read)), catalog.load(read))

    def with_changed(self, changed: Mapping[str, str], whole: Mapping[str, str]) -> "Basis":
        """This basis where the files named in `changed` are other ones; `whole` are all files, with the
        changed ones. Raises DataError that names file, key and reason."""
        new = {name for name in changed if name != shipped.PEOPLE}
        spoken = {name for name in new if name.startswith(shipped.WORDS)}
        if not new:
            return self
        with shipped.written_out(whole) as place:
            read = load.load(place.data) if new - spoken else self.tables
            words = lexicon.load(place.words, read) if spoken else self.words.accepting(read)
            heard = self.readers if words is self.words else replace(self.readers, words=words)
            return replace(
                self, tables=read, readers=heard, catalogs=catalog.load(read, place.words, gaps=True)
            )
