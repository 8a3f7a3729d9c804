"""The data files under `data/`, read once and checked against each other.

Every figure that a competent person may want to change is there, beside where it comes from. To add a
file, add a field to Tables: its name is the file's, its type says what the file holds.
"""

import hashlib
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel

from knowledge.names import DATA
from knowledge.outcome import Caution
from knowledge.sourced import DataError, DataRow, Origin, Rulebook, Source, Sourced, filled, parse
from knowledge.tables.coverage import Coverage
from knowledge.tables.entry_rules import EntryRules, HazardRules
from knowledge.tables.kit import Kit
from knowledge.tables.lifting import Lifting
from knowledge.tables.sizing_figures import Practice, Pressures, RulebookTable, RuleFile, Soils
from knowledge.tables.step_rules import StepRules

# What stands behind the source of another country.
ABROAD: dict[Rulebook | None, str] = {
    "us": "[US; no UK source at hand]",
    "uk": "[UK or European; no US source at hand]",
}


class SourceFile(DataRow):
    """`sources.toml`: where figures come from, by key."""

    source: dict[str, Source]


class Tables(DataRow):
    """All figures, rules and sentences that answers are worked from."""

    sources: SourceFile
    soils: Soils
    pressures: Pressures
    practice: Practice
    rules: RuleFile
    rulebook_uk: RulebookTable
    rulebook_us: RulebookTable
    entry: EntryRules
    hazards: HazardRules
    steps: StepRules
    lifting: Lifting
    coverage: Coverage
    kits: dict[str, Kit]
    stamp: str

    def rulebook(self, name: Rulebook) -> RulebookTable:
        return self.rulebook_uk if name == "uk" else self.rulebook_us

    def source(self, row: Sourced, rulebook: Rulebook = "uk") -> str:
        """Where a row comes from under a rulebook, as it is printed.

        A law, standard or manual of the other country is only cited where none of its own is at hand, and is
        marked so; one that is withdrawn names what stands in its place.
        """
        origin = row.where(rulebook)
        found = self.sources.source[origin.source]
        text = f"{found.title}, {origin.at}" if origin.at else found.title
        if found.withdrawn:
            text = f"{text} (withdrawn; now {found.withdrawn})"
        if found.home not in (None, rulebook):
            text = f"{text} {ABROAD[found.home]}"
        return text

    @cached_property
    def fixed_cautions(self) -> dict[tuple[str, Rulebook], Caution]:
        """The cautions that read the same for every trench of a rulebook."""
        return {
            (name, book): Caution(
                id=name,
                say=filled(rule.say, rule.amounts),
                source=self.source(rule, book),
                numbers=rule.amounts,
            )
            for name, rule in self.rules.cautions
            for book in rule.rulebooks
            if rule.amounts.keys() == set(rule.blanks)
        }


def load(folder: Path = DATA) -> Tables:
    """The tables of a folder. Raises DataError with file, key and reason."""
    read: dict[str, Any] = {}
    for name, field in Tables.model_fields.items():
        if isinstance(field.annotation, type) and issubclass(field.annotation, DataRow):
            read[name] = parse(folder / f"{name}.toml", field.annotation)
    kits = {file.stem: parse(file, Kit) for file in sorted((folder / "kits").glob("*.toml"))}
    tables = Tables(**read, kits=kits, stamp=stamp_of(folder))
    _check(tables)
    return tables


def stamp_of(folder: Path = DATA) -> str:
    """A short hash over all data files: two answers with the same stamp used the same tables."""
    whole = hashlib.sha256()
    for file in sorted(folder.rglob("*.toml")):
        whole.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes() + b"\0")
    return whole.hexdigest()[:12]


def _check(tables: Tables) -> None:
    """What no single file can check. Raises DataError."""
    known = tables.sources.source.keys()
    for path, row in _rows((), tables):
        if isinstance(row, Origin) and row.source not in known:
            file, *key = path[1:] if path[0] == "kits" else path
            raise DataError(f"{file}.toml: {'.'.join(key)}: no source {row.source!r} in sources.toml")
    for name, kit in tables.kits.items():
        if kit.name != name:
            raise DataError(f"{name}.toml: name: must be the file's name, not {kit.name!r}")
    for book in get_args(Rulebook):
        if (wanted := tables.rulebook(book).kit) not in tables.kits:
            raise DataError(f"rulebook_{book}.toml: kit: no kit {wanted!r} under kits")
        wanted_back = tables.rulebook(book).spoil.si
        for name, rule in tables.entry.fact.items():
            if (
                rule.fact == "spoil"
                and book in rule.rulebooks
                and rule.limit
                and rule.limit.si != wanted_back
            ):
                raise DataError(
                    f"entry.toml: fact.{name}.limit: must be what trenches are sized for, "
                    f"{wanted_back} m (rulebook_{book}.toml: spoil), not {rule.limit.si} m"
                )
        approved_from = tables.rulebook(book).approved_from
        for name, rule in tables.entry.facts(book):
            told = rule.from_depth and rule.from_depth.si
            if rule.fact == "table on site" and told != (approved_from and approved_from.si):
                raise DataError(
                    f"entry.toml: fact.{name}.from_depth: must be that from which rulebook_{book}.toml "
                    "wants tabulated data or an approval (approved_from)"
                )
    if "practice" not in known:
        raise DataError("sources.toml: source.practice: missing")


def _rows(path: tuple[str, ...], found: Any) -> Iterator[tuple[tuple[str, ...], BaseModel]]:
    """Every row of the tables with where it is."""
    if isinstance(found, BaseModel):
        yield path, found
        for name in type(found).model_fields:
            yield from _rows((*path, name), getattr(found, name))
    elif isinstance(found, dict):
        for name, value in found.items():
            yield from _rows((*path, str(name)), value)
    elif isinstance(found, tuple):
        for i, value in enumerate(found):
            yield from _rows((*path, str(i)), value)
