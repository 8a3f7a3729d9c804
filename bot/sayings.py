"""What the service says, by language: the reply part of `words/<language>.toml`."""

from collections.abc import Mapping
from pathlib import Path

from pydantic import ConfigDict, Field

from knowledge.outcome import Caution, Missing, Refusal
from knowledge.sourced import Row, parse
from knowledge.units import Amount, Lengths, show

WORDS = Path(__file__).parent / "words"


class Sayings(Row):
    """Sentences and terms of one language. English rule sentences stand beside the rules themselves,
    so `rules` is empty there; every other language translates them by id."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    say: dict[str, str]
    ask: dict[str, str]
    detail: dict[str, str]
    terms: dict[str, str] = Field(default_factory=dict)
    rules: dict[str, str] = Field(default_factory=dict)

    def term(self, word: str) -> str:
        """A term of the contract ("firm clay", "ladder") as this language says it."""
        return self.terms.get(word, word)

    def sentence(self, what: Caution | Missing | Refusal, lengths: Lengths) -> str:
        """A sentence of the core in this language and in the sender's units."""
        key = what.id if isinstance(what, Caution) else what.rule if isinstance(what, Refusal) else ""
        template = self.rules.get(key)
        return fill(template, what.numbers, lengths) if template else what.say

    def instead(self, refusal: Refusal, lengths: Lengths) -> str:
        """What to do instead of these shores."""
        template = self.rules.get(f"{refusal.rule}.instead")
        return fill(template, refusal.numbers, lengths) if template else refusal.instead


def fill(sentence: str, blanks: Mapping[str, Amount | str], lengths: Lengths = "m") -> str:
    """The sentence with its blanks filled, lengths in the unit given."""
    shown = {
        name: show(value, lengths) if isinstance(value, Amount) else value for name, value in blanks.items()
    }
    return sentence.format_map(shown)


def load(folder: Path = WORDS) -> dict[str, Sayings]:
    """Every language by its code, as the files are named. Raises DataError naming file, key and reason."""
    found = {}
    for file in sorted(folder.glob("*.toml")):
        found[file.stem] = parse(file, Sayings)
    return found
