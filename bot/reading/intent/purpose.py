"""What a message is for, from what was found in it."""

from dataclasses import dataclass
from typing import get_args

from bot.reading.text.clauses import Clause
from bot.reading.text.spans import Span
from knowledge.reading import Purpose

MOST_TO_NAME = 2  # words after "green light" that name the trench: "for T7"
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
    inspected: bool = False
    settled: bool = False  # something is done that stands before entry: no end of the job


def purpose(clauses: list[Clause], evidence: Evidence) -> Purpose:
    """The one purpose of a message; a hazard outranks every other."""
    if evidence.hazard:
        return "report"
    if evidence.stop:
        return "stop"
    if evidence.allowed:
        return "entry"
    asked = _asked(clauses, inspected=evidence.inspected)
    if "entry" not in asked and not evidence.reports and any(verdict_asked(clause) for clause in clauses):
        return "entry"
    if "why" in asked:
        return "why"
    if ("entry" in asked or evidence.entry) and not ("steps" in asked and "entry" not in asked):
        return "entry"
    for one in ORDER:
        if one in asked and not evidence.details and not (one == "close" and evidence.settled):
            return one
    if evidence.dug and not evidence.sizes:
        return "report"
    if evidence.answers and "help" in asked and not evidence.sizes:
        return "help"  # who asks for help answers no question
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


def verdict_asked(clause: Clause) -> bool:
    """ "T7 good to go?", "is T7 safe": whether a clause asks for nothing but the verdict on a trench."""
    words = [piece for piece in clause.pieces if piece.kind not in ("mark", "ref")]
    judged = any("verdict" in piece.tags for piece in words)
    opens = bool(words) and "open" in words[0].tags and clause.pieces[0] is words[0]
    named = any(piece.kind == "ref" for piece in clause.pieces)
    plain = all(not piece.tags.thing or "people" in piece.tags for piece in words)
    plain = plain and all(piece.figure is None for piece in words)  # not "good to go at 20 bar?"
    return judged and plain and len(words) <= 3 and named and (clause.question or opens)


def leave_asked(clause: Clause) -> bool:
    """ "may we step down into it", "lads want to get in": whether leave is asked for what is done inside, or,
    in a question, for nothing but the trench: "green light on T7?".

    Where the clause reports something, what is safe to climb down is that which it reports.
    """
    led = reports = denied = sends = False
    asked_of: list[Span] = []  # what stands after the leave that is asked for
    for piece in clause.pieces:
        tags = piece.tags
        reports = reports or (piece.told and any(said.group == "done" for said in piece.says))
        if led and ("enter" in tags or (sends and "inwards" in tags)):
            return True  # "happy to send two down"
        sends = sends or "sends" in tags
        if led:
            asked_of.append(piece)
        if "leave" in tags:
            led = not denied and (not reports or "ask" in tags)
        elif "deny" in tags:
            led = False
        denied = "deny" in tags
    named = [piece.kind == "ref" for piece in asked_of]
    nothing_else = not any(
        piece.told or piece.tags.said or (piece.kind == "word" and not piece.tags) for piece in asked_of
    )
    return led and clause.question and nothing_else and len(named) <= MOST_TO_NAME and any(named)


def lack_asked(clause: Clause) -> bool:
    """ "what is still to do before we go in", "anything left": whether what the record lacks is asked. Or
    whether it is whole: "is everything reported?", "all sent or is something missing", "complete, yes or no".
    """
    led = False
    said: set[str] = set()
    for piece in clause.pieces:
        if piece.told or piece.figure is not None or {*piece.tags.purposes} - {"entry", "status"}:
            return False  # "what size for what is left, 2 m"
        if led and "lacking" in piece.tags:
            return True
        led = led or "what_of" in piece.tags
        said |= {*piece.tags}
    whole = "whole_list" in said or said.issuperset(("all", "recorded"))
    of_all = all(not piece.tags.thing or {"people", "trench", "ref"} & piece.tags for piece in clause.pieces)
    return whole and of_all and (clause.question or "whether" in said)


def _asked(clauses: list[Clause], *, inspected: bool) -> set[str]:
    """The purposes whose phrases stand in the message and are not denied.

    Beside an inspection "safe to work in" is its verdict.
    """
    found: set[str] = set()
    for clause in clauses:
        idle = any("chat" in piece.tags for piece in clause.pieces)
        if not (idle or inspected) and (leave_asked(clause) or lack_asked(clause)):
            found.add("entry")
        head = True
        for piece in clause.pieces:
            judged = inspected and not clause.question and "verdict" in piece.tags
            if judged or (idle and "purpose.entry" in piece.tags) or ("head" in piece.tags and not head):
                continue
            head = head and (piece.kind != "word" or not piece.tags or "people" in piece.tags)
            if not piece.told and piece.state != "denied":
                found.update(piece.tags.purposes)
    return found
