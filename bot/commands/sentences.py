"""`trenchword sentences`: every sentence that crews are answered with, filled with example figures.

It is for reading them aloud: a sentence that is not clear when heard cold is changed in its file.
"""

import argparse
import string
from collections.abc import Iterator
from pathlib import Path

from bot.channels import segments
from bot.commands import Commands, UsageError
from bot.commands.log import basis_of
from bot.language.catalog import Catalog
from knowledge.units import Amount

# Blanks that are not lengths. Any other is shown as a length of this many metres.
_LENGTH = 1.6
_WORDS = {
    "trench": "T7", "other": "T9", "trenches": "T1, T5", "name": "Sam", "time": "08:14",
    "until": "13:11", "since": "09:40", "code": "7304", "words": "bank looks tired",
    "number": "+447700900123", "emergency": "999", "gas_line": "0800 111 999", "power_line": "105",
    "units": "7", "count": "2", "set": "3", "planned": "14", "unit": "2", "level": "1",
    "group": "3", "hands": "1", "factor": "1.2", "wanted": "1.5", "across": "1.5", "up": "1",
    "rise": "4", "steepest": "6",
    "mass": "221 kg", "unit_mass": "27 kg", "plant_t": "8 t", "fluid": "0.6 L", "load": "14 kN",
    "capacity": "38.2 kN", "pressure": "17.4 kPa", "surcharge": "10 kPa", "bar": "20 bar",
    "low": "28 bar", "high": "51 bar", "band": "28-51 bar", "differ": "3 bar", "oxygen": "19.5 %",
    "gas": "20 %", "kit": "light", "table": "4", "soil_type": "B", "run": "2", "runs": "10",
    "heads": "2", "out": "1", "start": "6 m", "end": "12 m", "site": "Mill Lane", "to": "Kim",
    "keeper": "Kim", "every": "4 h", "next": "T8", "date": "12/03/2026", "place": " (22 Larch St)",
    "at": "1.2 m", "places": "0.6 m, 1.8 m, 3 m",
}  # fmt: skip
_TERMS = {
    "soil": "firm clay", "hazard": "crack", "hazards": "crack", "missing": "ladder", "facts": "ladder",
    "fact": "ladder", "meaning": "peat", "word": "rain", "kind": "clay", "what": "gas", "water": "standing",
    "face": "face ravelling", "strut": "strut short", "by": "apparent pressure", "watched": "wall",
    "things": "ladder", "details": "firm clay",
}  # fmt: skip
_LENGTHS_TOO = {
    "face": ("rail-does-not-fit",),
    "run": ("runs-of", "units-run", "load-run", "van"),
}
_EXAMPLES = {"example": "ladder", "examples": "ladder"}


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("sentences", help="print every sentence with example figures")
    command.add_argument("language", metavar="LANGUAGE", nargs="?", default="en", help="en, en-us, es ...")
    command.add_argument("--db", type=Path, metavar="FILE", help="use the changes saved in this database")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print one sentence a line: its key, its SMS parts, its words."""
    catalogs = basis_of(args.db).catalogs
    if args.language not in catalogs:
        raise UsageError(f"sentences: no language {args.language!r}; there are {', '.join(sorted(catalogs))}")
    for key, text in filled(catalogs[args.language]):
        print(f"{key}\t{segments.count(text).parts}\t{text}")
    return 0


def filled(catalog: Catalog) -> Iterator[tuple[str, str]]:
    """Every sentence by section and key, as it is sent."""
    for section in ("say", "ask", "detail", "rules"):
        for key, sentence in getattr(catalog, section).items():
            if sentence:
                yield f"{section}.{key}", segments.to_gsm(_filled(catalog, key, sentence))


def _filled(catalog: Catalog, key: str, sentence: str) -> str:
    names = [name for _, name, _, _ in string.Formatter().parse(sentence) if name]
    return catalog.fill(sentence, {name: _value(catalog, key, name) for name in names})


def _value(catalog: Catalog, key: str, name: str) -> Amount | str:
    if key in _LENGTHS_TOO.get(name, ()):
        return Amount(_LENGTH, "m")
    if name in _EXAMPLES:
        return catalog.examples[_EXAMPLES[name]]
    if name in _TERMS:
        return catalog.term(_TERMS[name])
    return catalog.figures.written(_WORDS[name]) if name in _WORDS else Amount(_LENGTH, "m")
