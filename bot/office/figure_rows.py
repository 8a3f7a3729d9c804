"""The figures of a data file as rows, each with where it comes from; a changed one says so anew.

Of a kit its words too: where relief acts; number, issue, day, limits and engineer of the supplier's table.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby, takewhile
from typing import Any, Literal, get_args

from bot.config.shipped import KITS
from bot.office.toml_edit import KeyPath
from knowledge.reading import SoilType
from knowledge.sourced import DataError
from knowledge.tables.kit import Kit
from knowledge.tables.supplier import SupplierTable

ORIGIN = ("source", "at", "checked")
UNITS = {"kg per m2": "kg/m²", "mm2": "mm²", "mm3": "mm³", "kn": "kN", "gpa": "GPa"} | {
    unit: unit for unit in ("m", "mm", "kg", "bar")
}  # as keys end
UNSAID = ("when", "value")  # of a key, where a label says the rest
FILES = {
    "soils.toml": "Soils: weight and strength of each kind of ground",
    "pressures.toml": "Ground pressure, surcharge, bearing and base",
    "practice.toml": "Figures of the trade that an engineer may change",
    "rules.toml": "Rules: what stops a sizing, and what is said beside an answer",
    "entry.toml": "Entry: what must be on record before anybody goes in",
    "hazards.toml": "Hazards: what to do at once",
    "steps.toml": "Steps of digging in and taking out",
    "lifting.toml": "Lifting by hand",
    "coverage.toml": "What of the rulebooks is handled, and where",
    "sources.toml": "Sources of the figures",
    "rulebook_uk.toml": "Rulebook: Great Britain",
    "rulebook_us.toml": "Rulebook: United States, 29 CFR 1926 Subpart P",
    "people.toml": "People and sites",
}
LANGUAGES = {"en": "English", "es": "Spanish", "pl": "Polish", "pt": "Portuguese", "ro": "Romanian"}
NAMES = ("name", "kind", "state", "id")  # what a row of a list is told by
CHOICES: dict[str, tuple[str, ...]] = {  # what a word of a kit may be, by its key
    "relief_at": get_args(Kit.model_fields["relief_at"].annotation),
    "basis": get_args(SupplierTable.model_fields["basis"].annotation),
    "soil": get_args(SoilType),
}
YES_NO = ("yes", "no")
EntryKind = Literal["words", "day", "lines", "yes or no"]


def called(file: str) -> str:
    """What people call a data file."""
    folder, _, name = file.rpartition("/")
    stem = name.removesuffix(".toml")
    if folder == "kits":
        return f"Kit: {stem}"
    if folder == "words":
        return f"Words of crews, and of the answers: {LANGUAGES.get(stem, stem)}"
    return FILES.get(file, stem.replace("_", " ").capitalize())


@dataclass(frozen=True)
class EditableFigure:
    """One figure: where it stands, what it is called inside its row, the unit that stands beside it."""

    path: KeyPath
    label: str
    value: float
    unit: str


@dataclass(frozen=True)
class EditableText:
    """What is no figure, as it is entered: words, a day, one of a few `choices`, or a list, one a line."""

    path: KeyPath
    label: str
    value: str
    kind: EntryKind
    choices: tuple[str, ...] = ()

    def read(self, given: str) -> Any:
        """What was entered, as the file holds it. Raises ValueError that says what is wanted."""
        text = given.strip()
        if not text:
            raise ValueError("It cannot be empty.")
        if self.choices and text not in self.choices:
            raise ValueError(f"One of: {', '.join(self.choices)}.")
        match self.kind:
            case "day":
                return _day(text)
            case "lines":
                return [line.strip() for line in text.split("\n") if line.strip()]
            case "yes or no":
                return text == "yes"
        return text


@dataclass(frozen=True)
class FigureRow:
    """Figures that share one source, in the order of the file; of a kit its words among them."""

    path: KeyPath
    title: str
    entries: tuple[EditableFigure | EditableText, ...]
    source: str
    at: str
    checked: str

    @property
    def numbers(self) -> list[EditableFigure]:
        return [each for each in self.entries if isinstance(each, EditableFigure)]

    @property
    def parts(self) -> list[tuple[str, list[EditableFigure | EditableText]]]:
        """The entries by the table they stand in, each under the words that their labels begin with."""

        def table(entry: EditableFigure | EditableText) -> KeyPath:
            first, *rest = entry.path[len(self.path) :]
            return (first, *rest[:1]) if rest and rest[0].isdigit() else (first,) if rest else ()

        found = []
        for place, each in groupby(self.entries, table):
            own = list(each)
            words = [entry.label.split() for entry in own] if place and len(own) > 1 else []
            found.append((" ".join(one[0] for one in takewhile(_same, zip(*words, strict=False))), own))
        return found

    @property
    def texts(self) -> list[EditableText]:
        return [each for each in self.entries if isinstance(each, EditableText)]


def rows(file: str, text: str) -> list[FigureRow]:
    """Every row of a data file, in its order. The text must be valid TOML."""
    return list(_rows((), (), tomllib.loads(text), file.startswith(KITS)))


def check_sources(file: str, before: str, after: str, today: date) -> None:
    """Raise DataError where a figure changed and still names the old source as checked on the old day.

    Where rows were added or taken out nothing can be told: whoever does that changes the text itself.
    """
    then, now = ({row.path: row for row in rows(file, text)} for text in (before, after))
    for path, row in now.items():
        old = then.get(path)
        if row.checked > today.isoformat() and (old is None or old.checked != row.checked):
            raise DataError(f"{file}: {row.title}: checked: this day is still to come")
        if then.keys() == now.keys() and old and _unsourced(old, row, today):
            raise DataError(
                f"{file}: {row.title}: a changed figure needs its source: say where it comes from, and"
                " the day it was checked"
            )


def _unsourced(old: FigureRow, row: FigureRow, today: date) -> bool:
    changed = _values(old) != _values(row)
    origin = (row.source, row.at, row.checked)
    return changed and origin == (old.source, old.at, old.checked) and row.checked != today.isoformat()


def _values(row: FigureRow) -> list[float | str]:
    return [each.value for each in row.entries]


def _rows(path: KeyPath, titles: KeyPath, value: Any, words: bool) -> Iterator[FigureRow]:
    if isinstance(value, dict) and {"source", "checked"} <= value.keys():
        found: dict[KeyPath, EditableFigure | EditableText] = {n.path: n for n in _numbers(path, (), value)}
        found |= {words.path: words for words in (_texts(path, (), value) if words else ())}
        if found:
            origin = (str(value.get(key, "")) for key in ORIGIN)
            entries = tuple(found[place] for place in _places(path, value) if place in found)
            yield FigureRow(path, " · ".join(titles) or "the whole file", entries, *origin)
    for key, title, each in _inside(value):
        yield from _rows((*path, key), (*titles, title), each, words)


def _texts(path: KeyPath, titles: KeyPath, value: Any) -> Iterator[EditableText]:
    """What is no figure of a row: not its origin, and not the name that the file or a part goes by."""
    for key, title, each in _inside(value):
        place, called = (*path, key), (*titles, title)
        named = key in NAMES and path[-1:] != ("approved_by",)
        if isinstance(each, dict) and {"source", "checked"} <= each.keys():
            continue
        if key in ORIGIN or named:
            continue
        if isinstance(each, dict) or (isinstance(each, list) and not _of_words(each)):
            yield from _texts(place, called, each)
        elif entry := _entry(each):
            kind, shown = entry
            choices = YES_NO if kind == "yes or no" else CHOICES.get(key, ())
            yield EditableText(place, " ".join(called), shown, kind, choices)


def _entry(value: Any) -> tuple[EntryKind, str] | None:
    """How a value is entered, and as what; None for a figure."""
    if isinstance(value, bool):
        return "yes or no", YES_NO[not value]
    if isinstance(value, date):
        return "day", value.isoformat()
    if isinstance(value, list):
        return "lines", "\n".join(value)
    return ("words", value) if isinstance(value, str) else None


def _places(path: KeyPath, value: Any) -> Iterator[KeyPath]:
    """Every place inside a table or list, in the order of the file."""
    for key, _, each in _inside(value):
        yield (*path, key)
        yield from _places((*path, key), each)


def _of_words(value: list[Any]) -> bool:
    return bool(value) and all(isinstance(each, str) for each in value)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError("A day, as 2026-11-25.") from None


def _numbers(path: KeyPath, titles: KeyPath, value: Any) -> Iterator[EditableFigure]:
    """The figures of a row, but for those that have a source of their own."""
    for key, title, each in _inside(value):
        place, called = (*path, key), (*titles, title)
        if isinstance(each, dict) and {"source", "checked"} <= each.keys():
            continue
        if isinstance(each, int | float) and not isinstance(each, bool):
            label = " ".join(word for word in called if word not in UNSAID) or title
            beside = str(value.get("unit", "")) if isinstance(value, dict) else ""
            written = "" if beside else next((each for each in UNITS if label.endswith(f" {each}")), "")
            unit = beside or UNITS.get(written, "")
            yield EditableFigure(place, label.removesuffix(f" {written}"), each, unit)
        else:
            yield from _numbers(place, called, each)


def _same(words: tuple[str, ...]) -> bool:
    return len(set(words)) == 1


def _inside(value: Any) -> Iterator[tuple[str, str, Any]]:
    """What stands in a table or list: key, what people call it, value."""
    if isinstance(value, dict):
        yield from ((key, key.replace("_", " "), each) for key, each in value.items())
    elif isinstance(value, list):
        yield from ((str(at), _told_by(at, each), each) for at, each in enumerate(value))


def _told_by(at: int, each: Any) -> str:
    if isinstance(each, dict) and {"fact", "is"} <= each.keys():  # of a rule: "depth, more than"
        fact = str(each["fact"]).removesuffix("_m").removesuffix("_t")
        return f"{fact.replace('_', ' ')}, {each['is']}"
    names = [str(each[key]) for key in NAMES if each.get(key)] if isinstance(each, dict) else []
    return " ".join(reversed(names)) or str(at + 1)
