"""The meanings of a word or phrase: a set of names, with those that have a subject parted out once."""

from typing import Self

PARTING = frozenset(("count", "reference", "deny", "unit_t"))
TURNING = frozenset(("deny", "suppose", "may", "ask", "open", "plan", "none", "none_after", "purpose.entry"))
GROUPS = ("kind", "taken", "mixed", "state", "service", "ordinal")


class Meanings(frozenset[str]):
    """Names such as "unit", "label.depth.after", "kind.clay". Compiled once with the vocabulary.

    `label` is (dimension, place) of a length's label; `kind`, `taken`, `mixed`, `state`, `service` and
    `ordinal` the second part of such a name; `purposes` what is asked of the service.
    """

    label: tuple[str, str] | None
    kind: str | None
    taken: str | None
    mixed: str | None
    state: str | None
    service: str | None
    ordinal: str | None
    purposes: tuple[str, ...]
    ground: str | None  # the kind of ground named, in whatever word
    turns: bool  # whether it denies, supposes, plans or asks what stands about it
    parts: bool  # whether it parts the figures before it from those after

    def __new__(cls, names: tuple[str, ...] = ()) -> Self:
        """Parts the names, which stand in the order of the vocabulary."""
        made = super().__new__(cls, names)
        for group in GROUPS:
            setattr(made, group, _second(names, group))
        label = _second(names, "label")
        made.label = None if label is None else (label.split(".")[0], label.split(".")[1])
        made.purposes = tuple(name[8:] for name in names if name.startswith("purpose."))
        made.ground = made.kind or made.taken
        made.turns = not TURNING.isdisjoint(names)
        made.parts = bool(made.ground or made.state or made.service) or not PARTING.isdisjoint(names)
        return made


def _second(names: tuple[str, ...], group: str) -> str | None:
    start = group + "."
    return next((name[len(start) :] for name in names if name.startswith(start)), None)


NONE = Meanings()
