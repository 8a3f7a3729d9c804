"""What every data file is made of: rows that say where they come from, figures with units, sentences.

An error names the file, the key and the reason, so that it can be mended without reading code.
"""

import re
import tomllib
from collections.abc import Mapping
from datetime import date
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from knowledge import units
from knowledge.units import Amount, LimitSide, show

Rulebook = Literal["uk", "us"]
Mark = Literal["R1", "R2", "M-H", "M-M", "M-L", "C", "practice", "invented"]

# What one of each unit is in the unit that the core works in.
SI: dict[str, float] = {
    "": 1.0,
    **dict.fromkeys(("m", "kPa", "kN", "kN/m3", "kPa/m", "deg", "bar", "kg", "t", "mm3", "L"), 1.0),
    **dict.fromkeys(("%", "min", "h", "month"), 1.0),
    "ft": units.M_PER_FT,
    "in": units.M_PER_INCH,
    "mm": 0.001,
    "psf": units.KPA_PER_PSF,
    "pcf": units.KNM3_PER_PCF,
    "tsf": units.KPA_PER_TSF,
    "psi": units.BAR_PER_PSI,
    "lbf": units.N_PER_LBF / 1000,
    "in3": 25.4**3,
}
SI_UNIT = {"ft": "m", "in": "m", "mm": "m", "psf": "kPa", "pcf": "kN/m3", "tsf": "kPa", "psi": "bar"} | {
    "lbf": "kN",
    "in3": "mm3",
}


class DataError(ValueError):
    """A data file cannot be used. The text names file, key and reason."""


class DataRow(BaseModel):
    """Anything read from a data file: nothing undeclared, nothing changed later."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Source(DataRow):
    """Where figures come from. `mark` says how the source was seen: R1 read, R2 secondary, M-* from
    memory with its confidence, C computed, practice (no published source), invented (demo kit only).

    `home`: the rulebook whose own law, standard or manual it is; None where the field shares it (a textbook).
    `withdrawn`: what stands in its place today, for one that is out of force and still cited for its figures.
    """

    title: str
    mark: Mark
    note: str = ""
    url: str = ""
    home: Rulebook | None = None
    withdrawn: str = ""


class Origin(DataRow):
    """A place where something comes from: a key of sources.toml, the place in it, when it was checked."""

    source: str
    at: str = ""
    checked: date


class Sourced(Origin):
    """A row that says where it comes from, and where the `us` rulebook has it from where that differs."""

    us_source: Origin | None = None

    def where(self, rulebook: Rulebook) -> Origin:
        """Where it comes from under this rulebook."""
        return self.us_source if rulebook == "us" and self.us_source else self


class Measured(DataRow):
    """A number with its unit, which must be one that the core can convert."""

    value: float
    unit: str = ""

    @model_validator(mode="after")
    def _known_unit(self) -> "Measured":
        if self.unit not in SI:
            raise ValueError(f"unknown unit {self.unit!r}; known: {', '.join(sorted(SI))}")
        return self

    @cached_property
    def si(self) -> float:
        """The value in the unit that the core works in (metres, kPa, kN, kN/m3, degrees; bar for pumps)."""
        return round(self.value * SI[self.unit], 9)

    @property
    def si_unit(self) -> str:
        return SI_UNIT.get(self.unit, self.unit)


class Figure(Measured, Sourced):
    """One number with its unit and where it comes from."""

    note: str = ""


class SentenceFigure(Measured):
    """A number that fills a blank of a sentence."""

    limit: LimitSide | None = None


class Condition(DataRow):
    """A plain comparison: a named fact against a value. Conditions of a rule are joined by "and"."""

    fact: str
    is_: Literal["at least", "at most", "more than", "less than", "one of", "none of", "untold", "told"] = (
        Field(alias="is")
    )
    value: float | str | bool | tuple[str, ...] | None = None
    unit: str = ""

    @model_validator(mode="after")
    def _fits(self) -> "Condition":
        if self.unit not in SI:
            raise ValueError(f"unknown unit {self.unit!r}")
        compared = self.is_ in ("at least", "at most", "more than", "less than")
        if compared and (isinstance(self.value, bool) or not isinstance(self.value, int | float)):
            raise ValueError(f"{self.is_!r} compares with a number")
        if self.is_ in ("one of", "none of") and not isinstance(self.value, tuple):
            raise ValueError(f"{self.is_!r} compares with a list of words")
        return self

    @cached_property
    def si(self) -> float:
        """The number compared with, in the unit that the core works in."""
        assert isinstance(self.value, int | float)
        return self.value * SI[self.unit]


_BLANK = re.compile(r"{(\w+)}")


class Sentence(Sourced):
    """A sentence for the crew and what to do instead. Its figures are blanks, filled from `numbers`.

    Blanks that `numbers` does not name are filled by the code that raises the sentence.
    """

    say: str
    instead: str = ""
    numbers: dict[str, SentenceFigure] = Field(default_factory=dict)

    @cached_property
    def blanks(self) -> tuple[str, ...]:
        """The names of all blanks."""
        return tuple(dict.fromkeys(_BLANK.findall(self.say + self.instead)))

    @cached_property
    def amounts(self) -> dict[str, Amount | str]:
        """Its own figures, for its blanks."""
        return {name: Amount(n.si, n.si_unit, n.limit) for name, n in self.numbers.items()}

    @model_validator(mode="after")
    def _no_digits(self) -> "Sentence":
        for name, text in (("say", self.say), ("instead", self.instead)):
            if any(sign.isdigit() for sign in _BLANK.sub("", text)):
                raise ValueError(f"a digit inside `{name}`: put it in `numbers` and leave a blank")
        if unused := self.numbers.keys() - set(self.blanks):
            raise ValueError(f"numbers without a blank in the sentence: {', '.join(sorted(unused))}")
        return self


class Rule(Sentence):
    """What the rulebook or practice asks for, and when it bites."""

    when: tuple[Condition, ...] = ()
    then: Literal["require", "warn", "stop"]
    rulebooks: tuple[Rulebook, ...] = ("uk", "us")


def filled(sentence: str, numbers: Mapping[str, Amount | str]) -> str:
    """The sentence with its blanks filled, lengths in metres. Raises KeyError for a blank nobody fills."""
    return sentence.format_map({k: show(v) if isinstance(v, Amount) else v for k, v in numbers.items()})


RowT = TypeVar("RowT", bound=BaseModel)


@lru_cache(maxsize=8)
def document(text: str) -> dict[str, Any]:
    """What a TOML text holds; not to be changed. Two readers of one text in a row parse it once.

    Raises TOMLDecodeError.
    """
    return tomllib.loads(text)


def read_document(file: Path) -> dict[str, Any]:
    """What a data file holds; not to be changed. Raises DataError with file and reason."""
    try:
        return document(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise DataError(f"{file.name}: cannot be read: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DataError(f"{file.name}: not valid TOML: {error}") from error


def parse(file: Path, model: type[RowT], data: dict[str, Any] | None = None, under: str = "") -> RowT:
    """A data file as `model`; or `data`, what of it stands `under` a key. Raises DataError with file, key
    and reason."""
    found = read_document(file) if data is None else data
    try:
        return model.model_validate(found)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in (under, *first["loc"]) if part != "") or "(file)"
        raise DataError(f"{file.name}: {key}: {first['msg']}") from error
