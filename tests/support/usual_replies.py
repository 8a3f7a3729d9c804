"""A day of usual texts in each language, and what it is answered: for tests, and as a table of what it costs.

`python tests/support/usual_replies.py` prints the SMS parts of each answer; with a language, its answers too.
"""

import sys
import tomllib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from shipped import shipped

from bot.channels import segments
from bot.clock import MessageClock
from bot.config.basis import Basis
from bot.config.people import People
from bot.message import Message, Person, Site
from bot.service import Service
from bot.storage.turns import Store

TEXTS = Path(__file__).parents[1] / "cases" / "usual_replies.toml"
LANGUAGES = ("en", "es", "pl", "pt", "ro")
MORNING = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
CODE = "7304"
NUMBERS = {"F": "+447700900123", "S": "+447700900124"}


@dataclass(frozen=True)
class Answered:
    """One text of the day and its answer."""

    kind: str
    text: str
    reply: str

    @property
    def parts(self) -> int:
        return segments.count(self.reply).parts


def day(language: str, basis: Basis, rulebook: str = "uk") -> list[Answered]:
    """The day as a crew of that language texts it, a text every three minutes."""
    crew = [Person(NUMBERS["F"], "Sam", "fitter", "Yard"), Person(NUMBERS["S"], "Alex", "supervisor", "Yard")]
    people = People(crew, [Site("Yard", rulebook=rulebook)])  # type: ignore[arg-type]
    store = Store(":memory:")
    service = Service(store, people, basis, MessageClock(), new_code=lambda: CODE)
    answered = []
    for number, row in enumerate(tomllib.loads(TEXTS.read_text(encoding="utf-8"))["text"]):
        at = MORNING + number * timedelta(minutes=3)
        text = row[language]
        said = Message(
            id=str(number), channel="chat", sender=NUMBERS[row["by"]], text=text, sent_at=at, received_at=at
        )
        with store.transaction():
            answered.append(Answered(row["kind"], text, service.answer(said).reply))
    store.close()
    return answered


def table(basis: Basis) -> str:
    """The parts of each answer, one language a column."""
    days = [day(language, basis) for language in LANGUAGES]
    rows = ["| answer | " + " | ".join(LANGUAGES) + " |", "| --- " * (len(LANGUAGES) + 1) + "|"]
    for same in zip(*days, strict=True):
        rows.append(f"| {same[0].kind} | " + " | ".join(str(one.parts) for one in same) + " |")
    rows.append("| all | " + " | ".join(str(sum(one.parts for one in each)) for each in days) + " |")
    return "\n".join(rows)


if __name__ == "__main__":
    whole = shipped()
    print(table(whole))
    for one in [each for code in sys.argv[1:] for each in day(code, whole)]:
        print(f"\n[{one.kind}, {one.parts}] {one.text}\n{one.reply}")
