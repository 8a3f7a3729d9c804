"""What a message is for, from what was found in it."""

from dataclasses import dataclass
from typing import get_args

from bot.reading.text.clauses import Clause
from knowledge.reading import Purpose

OWN_WAY = ("size", "entry", "report", "help", "stop", "answer", "chat", "unclear")
ORDER: tuple[Purpose, ...] = tuple(one for one in get_args(Purpose) if one not in OWN_WAY)


@dataclass(slots=True)
class Evidence:
    """What the parts of the reading found, as far as the purpose turns on it."""

    hazard: bool = False
    stop: bool = False
    allowed: bool = False
    entry: bool = False
    status: bool = False
    sizes: bool = False  # depth, width, length or soil, or a figure that may be one
    details: bool = False  # some of depth, width, length, soil was read
    dug: bool = False
    reports: bool = False
    answers: bool = False


def purpose(clauses: list[Clause], evidence: Evidence) -> Purpose:
    """The one purpose of a message; a hazard outranks every other."""
    if evidence.hazard:
        return "report"
    if evidence.stop:
        return "stop"
    if evidence.allowed:
        return "entry"
    asked = _asked(clauses)
    if "why" in asked:
        return "why"
    if ("entry" in asked or evidence.entry) and not ("steps" in asked and "entry" not in asked):
        return "entry"
    for one in ORDER:
        if one in asked and not evidence.details:
            return one
    if evidence.dug and not evidence.sizes:
        return "report"
    if evidence.sizes or "size" in asked or evidence.answers:
        return "size"
    if evidence.reports:
        return "report"
    if evidence.status:
        return "status"
    return "help" if "help" in asked else "unclear"


def stops(clauses: list[Clause]) -> bool:
    """Whether anybody says that nobody may be in or go in.

    No word may stand inside such a phrase: "everyone is out" stops nothing.
    """
    pieces = [piece for clause in clauses for piece in clause.pieces if piece.kind not in ("mark", "ref")]
    alone = bool(pieces) and all("stop_alone" in piece.tags for piece in pieces)
    return alone or any(
        "purpose.stop" in piece.tags and piece.state != "denied" and not piece.inside for piece in pieces
    )


def _asked(clauses: list[Clause]) -> set[str]:
    """The purposes whose phrases stand in the message and are not denied."""
    found: set[str] = set()
    for clause in clauses:
        idle = any("chat" in piece.tags for piece in clause.pieces)
        head = True
        for piece in clause.pieces:
            if (idle and "purpose.entry" in piece.tags) or ("head" in piece.tags and not head):
                continue
            head = head and (piece.kind != "word" or not piece.tags or "people" in piece.tags)
            if not piece.told and piece.state != "denied":
                found.update(piece.tags.purposes)
    return found
