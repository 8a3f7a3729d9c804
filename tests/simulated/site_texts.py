"""What crews and supervisors write in the simulation, and what each of them means by it.

Honest ways of saying a fact, loose ones and false ones; loose and false ones are those of `cases/probes` too,
which were written by people who had not seen the reader.
"""

from dataclasses import dataclass
from random import Random
from typing import Any

from complete_day import probes

from bot.language.tokens import references

DEPTHS = {1.4: (0.6, 4.0, "stiff clay"), 1.6: (0.9, 6.0, "firm clay")}
"""The trenches that are dug: width, length and ground by depth, metres."""

HONEST: dict[str, tuple[str, ...]] = {
    "services": ("services located", "cat scanned, clear"),
    "ladder": ("ladder in", "ladder's in and tied", "put the ladder in"),
    "ends": ("ends battered", "both ends laid back at 45", "end sheets in"),
    "air test": ("air test ok", "tested the air all good"),
    "water": ("no water", "dry as a bone"),
    "units": ("all units set all at 40 bar", "shores all set, 40 bar each"),
    "spoil": ("spoil back {spoil}m",),
    "dug": ("dug to {depth}", "excavated {depth}m"),
    "inspected": ("inspected ok", "i've inspected it, fine", "checked and passed"),
}
TOGETHER = ("ladder", "spoil", "air test", "water", "services")  # what one text tells of at once
GAUGES = ("all gauges 40 bar", "gauges all at 41 bar", "every gauge reads 42 bar")
UNDONE = {"ladder": "ladder taken out", "services": "services not marked after all", "units": "all units out"}
HAZARDS = ("crack in the face", "side slipped", "gas smell", "strut is leaking fluid", "water rising fast")
NOBODY_KNOWS = ("the blue one wobbled off to tea", "wotsit for dougal", "wotsit again from col")
STOPS = ("stop work", "nobody in till i say")
CHAT = ("cheers mate", "who is on tea duty", "morning all")
ASKS = ("may they go in {ref}?", "status", "{ref} what next", "due", "why {ref}")
_PROBES = tuple(
    one
    for one in probes("shown") + probes("near") + probes("absorbed")
    if one.text.count("T7") == 1 and references(one.text) == ["T7"] and not one.harmless
)
_NAMES = {"dug": "gap below", "inspected": "inspection"}  # what the probes call some of them
LOOSE = {
    fact: tuple(one.text for one in _PROBES if one.kind == "nonreport" and one.fact == _NAMES.get(fact, fact))
    for fact in HONEST
}
"""Texts that do not report the fact, though they speak of it."""
ODD = tuple((one.who, one.text) for one in _PROBES if one.kind in ("hazard", "after"))
"""Dangers and changes that no list holds: after any of them nobody goes in until somebody has answered."""


@dataclass(frozen=True)
class Written:
    """A text about to be sent: of which trench, what it means (see `plain_trench.Text`)."""

    words: str
    ref: str | None
    kind: str
    value: Any = None
    fact: str = ""  # what a YES to it would take


def sizing(ref: str, depth: float) -> Written:
    width, length, ground = DEPTHS[depth]
    return Written(f"{ref} depth {depth} width {width} length {length:g} {ground} dry", ref, "size", depth)


def honest(fact: str, ref: str, depth: float, chance: Random) -> Written:
    """A report of one fact that says no more than it."""
    spoil = chance.choice((1.5, 1.5, 1.2))
    words = chance.choice(HONEST[fact]).format(spoil=spoil, depth=depth)
    kinds = {"water": ("water", "dry"), "spoil": ("spoil", spoil), "dug": ("dug", depth)}
    kind, value = kinds.get(fact, (fact if fact in ("units", "inspected") else "fact", fact))
    return Written(f"{ref} {words}", ref, kind, value)


def together(first: str, ref: str, depth: float, chance: Random) -> Written:
    """A text that reports two facts, the first and another."""
    other = chance.choice([fact for fact in TOGETHER if fact != first])
    both = [honest(fact, "", depth, chance) for fact in (first, other)]
    words = ", ".join(one.words.strip() for one in both)
    return Written(f"{ref} {words}", ref, "several", tuple((one.kind, one.value) for one in both))


def loose(fact: str, ref: str, chance: Random) -> Written:
    """A text that only seems to report it."""
    return Written(_at(chance.choice(LOOSE[fact]), ref), ref, "none", fact=fact)


def worse(ref: str, depth: float, chance: Random) -> Written:
    """What changes a trench for the worse, in plain words."""
    fact, words = chance.choice(list(UNDONE.items()))
    return chance.choice(
        (
            Written(f"{ref} {words}", ref, "undone", fact),
            Written(f"{ref} dug to {depth + 0.1:.1f}", ref, "dug", round(depth + 0.1, 1)),
            Written(f"{ref} unit 1 at 12 bar", ref, "gauge"),
            Written(f"{ref} spoil 0.3 m from the edge", ref, "spoil", 0.3),
            Written(f"{ref} water seeping in", ref, "water", "seeping"),
            Written(f"{ref} ends open", ref, "ends open"),
        )
    )


def moves(ref: str, other: str, chance: Random) -> Written:
    """What the job does as it moves."""
    n = chance.randint(1, 3)
    return chance.choice(
        (
            Written(f"{ref} moved on {chance.choice((4, 6))} m", ref, "moved"),
            Written(f"{n} unit{'s' if n > 1 else ''} out of {ref} into {other}", ref, "fewer"),
            Written(f"{ref} {n} tagged out, bent", ref, "fewer"),
            Written(f"{ref} left open till Mon, fenced, lit", ref, "parked"),
            Written(f"{ref} {n} in", ref, "heads", n),
            Written(f"{ref} {n} out", ref, "heads", -n),
            Written(f"{ref} {n} in", ref, "heads", n),
            Written(f"{ref} all out {n}", ref, "heads", -n),
            Written(f"{ref} is outside {chance.randint(2, 40)} Larch St", ref, "none"),
            Written(f"{ref} to {chance.choice(('Rae', 'Fay'))} till 18", ref, "none"),
            Written(f"take {ref}", ref, "none"),
            Written("handover", None, "none"),
        )
    )


def danger(ref: str | None, chance: Random) -> Written:
    words = chance.choice(HAZARDS)
    return Written(f"{ref} {words}" if ref else words, ref, "hazard")


def odd(ref: str, chance: Random) -> tuple[str, Written]:
    """A danger or a change that no list holds, and by whom: "F" or "S"."""
    who, words = chance.choice(ODD)
    return who, Written(_at(words, ref), ref, "soft")


def _at(words: str, ref: str) -> str:
    return words.replace("T7", ref)
