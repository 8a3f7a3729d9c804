"""The data files under `data/`: read once, validated, refused where a figure has no source.

Every figure that a competent person may want to change is here, beside where it comes from. An
error names the file, the key and the reason, so that it can be mended without reading code.
"""

import hashlib
import tomllib
from datetime import date
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from knowledge.units import Limit

DATA = Path(__file__).parent / "data"
Mark = Literal["R1", "R2", "M-H", "M-M", "M-L", "C", "practice", "invented"]


class DataError(ValueError):
    """A data file cannot be used. The text names file, key and reason."""


class Row(BaseModel):
    """Anything read from a data file: nothing undeclared, nothing changed later."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Source(Row):
    """Where figures come from. `mark` says how the source was seen: R1 read, R2 secondary, M-* from
    memory with its confidence, C computed, practice (no published source), invented (demo kit only)."""

    title: str
    mark: Mark
    note: str = ""
    url: str = ""


class Sourced(Row):
    """A row that says where it comes from: a key of sources.toml, the place in it, when it was checked."""

    source: str
    at: str = ""
    checked: date


class Figure(Sourced):
    """One number with its unit."""

    value: float
    unit: str
    note: str = ""


class Number(Row):
    """A number that fills a blank of a sentence."""

    value: float
    unit: str = ""
    limit: Limit | None = None


class Condition(Row):
    """A plain comparison: a named fact against a value. Conditions of a rule are joined by "and"."""

    fact: str
    is_: Literal["at least", "at most", "more than", "less than", "one of", "none of", "untold", "told"] = (
        Field(alias="is")
    )
    value: float | str | bool | tuple[str, ...] | None = None
    unit: str = ""


class Rule(Sourced):
    """What the rulebook or practice asks for, and when it bites."""

    when: tuple[Condition, ...] = ()
    then: Literal["require", "warn", "stop"]
    say: str
    instead: str = ""
    numbers: dict[str, Number] = {}
    rulebooks: tuple[Literal["uk", "us"], ...] = ("uk", "us")


RowT = TypeVar("RowT", bound=BaseModel)


def parse(file: Path, model: type[RowT], data: dict[str, Any] | None = None) -> RowT:
    """A data file as `model`. Raises DataError with file, key and reason."""
    try:
        found = tomllib.loads(file.read_text(encoding="utf-8")) if data is None else data
    except OSError as error:
        raise DataError(f"{file.name}: cannot be read: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DataError(f"{file.name}: not valid TOML: {error}") from error
    try:
        return model.model_validate(found)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"]) or "(file)"
        raise DataError(f"{file.name}: {key}: {first['msg']}") from error


def stamp_of(folder: Path = DATA) -> str:
    """A short hash over all data files: two answers with the same stamp used the same tables."""
    whole = hashlib.sha256()
    for file in sorted(folder.rglob("*.toml")):
        whole.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes() + b"\0")
    return whole.hexdigest()[:12]
