"""The labelled texts that the second reader is trained on, all invented: JSON lines in tests/cases/second."""

import hashlib
import json
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bot.reading.second import features

FOLDER = Path(__file__).parents[1] / "cases" / "second"

Purpose = Literal[
    "size", "entry", "report", "why", "kit", "steps", "sketch", "status", "help", "close", "stop", "answer",
    "chat", "unclear",
]  # fmt: skip

Fact = Literal[
    "services", "units", "gap below", "ladder", "spoil", "ends", "water", "air test", "inspection",
]  # fmt: skip

SETTINGS = {
    "buckets": features.BUCKETS,
    "pieces": [features.SHORTEST, features.LONGEST],
    "strength": 8.0,  # inverse of the penalty on weights
    "weight_of_hard": 3.0,  # how much more a text counts that was written to be mistaken
}


class Labelled(BaseModel):
    """A text, whether it tells of danger, what it is for (None: not labelled, used for danger only), and the
    one fact of entry that it speaks of, done or not (None: of none, of several, or not labelled)."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    text: str = Field(min_length=1)
    danger: bool
    purpose: Purpose | None
    fact: Fact | None = None
    lang: Literal["en", "es", "pt", "pl", "ro"]
    writer: str

    @property
    def hard(self) -> bool:
        """Whether it comes from a set that was written for this reader, near misses and all."""
        return "/" not in self.writer


def labelled(folder: Path = FOLDER) -> list[Labelled]:
    """All texts, file after file. Raises ValueError with file, line and reason where one cannot be used."""
    found: list[Labelled] = []
    before: dict[str, Labelled] = {}
    for file in sorted(folder.glob("*.jsonl")):
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
            try:
                each = Labelled.model_validate_json(line)
            except ValueError as error:
                raise ValueError(f"{file.name}, line {number}: {error}") from None
            other = before.setdefault(each.text, each)
            if (other.danger, other.purpose, other.fact) != (each.danger, each.purpose, each.fact):
                raise ValueError(f"{file.name}, line {number}: labelled otherwise before: {each.text!r}")
            found.append(each)
    if not found:
        raise ValueError(f"{folder}: no labelled texts")
    return found


def stamp(texts: list[Labelled]) -> str:
    """Digest of the labelled texts, the settings and what is seen of each text."""
    seen = [[each.model_dump(), features.buckets(each.text)] for each in texts]
    said = json.dumps([SETTINGS, seen], ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:16]
