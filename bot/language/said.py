"""What a statement means: "done ladder", "hazard crack", "water dry", as a typed value.

A words file names meanings by text. Each is parsed once, at load, against the lists of the core; one that
is on none of them is refused there, since a hazard misspelt would be a hazard that nobody hears.
"""

from typing import Literal, NamedTuple, get_args

from knowledge.reading import Done, Ends, Face, Hazard, Purpose, Water

Group = Literal[
    "hazard",  # a danger
    "noticed",  # a danger, but where a trench is being sized only a detail of it
    "done",
    "undone",
    "water",
    "face",
    "ends",
    "traffic",
    "disturbed",
    "fissured",
    "unclear",  # a field of the reading that was said in two ways
    "purpose",
    "seen",  # looked at and found in order: a report, and nothing more
]
_YES_NO = ("yes", "no")
_WHAT: dict[Group, tuple[str, ...]] = {
    "hazard": get_args(Hazard),
    "noticed": get_args(Hazard),
    "done": get_args(Done),
    "undone": get_args(Done),
    "water": get_args(Water),
    "face": get_args(Face),
    "ends": get_args(Ends),
    "traffic": _YES_NO,
    "disturbed": _YES_NO,
    "fissured": _YES_NO,
    "unclear": ("water", "face"),
    "purpose": get_args(Purpose),
    "seen": ("",),
}


class Said(NamedTuple):
    """One meaning: its group, and what of that group; nothing of a group that is one meaning by itself."""

    group: Group
    what: str = ""


def said(text: object) -> Said:
    """The meaning that a words file writes as `text`. Raises ValueError where there is no such meaning."""
    if isinstance(text, Said):
        return text
    name, _, what = str(text).partition(" ")
    group = next((one for one in _WHAT if one == name), None)
    if group is None:
        raise ValueError(f"no meaning starts with {name!r}; known: {', '.join(_WHAT)}")
    if what not in _WHAT[group]:
        raise ValueError(f"no {group} {what!r}; known: {', '.join(_WHAT[group])}")
    return Said(group, what)
