"""What a statement means: "done ladder", "hazard crack", "water dry", as a typed value.

A words file names meanings by text. Each is parsed once, at load, against the lists of the core; one that
is on none of them is refused there, since a hazard misspelt would be a hazard that nobody hears.
"""

from typing import NamedTuple, get_args

from knowledge.names import DONE, HAZARDS
from knowledge.reading import ASKED, CHOICES, Purpose

Group = str  # a key of the table below
_WHAT: dict[Group, tuple[str, ...]] = {
    "hazard": HAZARDS,  # a danger
    "noticed": HAZARDS,  # a danger, but where a trench is being sized only a detail of it
    "done": DONE,
    "undone": DONE,
    **CHOICES,  # water, face, traffic ...: a field of the reading and what it is told to be
    "unclear": tuple(name for name in CHOICES if name in ASKED),  # a field said in two ways
    "purpose": get_args(Purpose),
    "seen": ("",),  # looked at and found in order: a report, and nothing more
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
