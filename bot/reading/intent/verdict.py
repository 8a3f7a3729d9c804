"""How an inspection judged, and what a thing is said not to be: both only where the words say so."""

from typing import Literal

from bot.language.schema import LINE
from bot.reading.text.prepare import PreparedText
from knowledge.names import DONE

OF_ENTRY = frozenset(DONE) - {"services supported", "backfill", "units out"}
AIR = frozenset(("air_t", "air_tested"))
ASKING = frozenset(("ask", "open", "exist"))
NOT_SO = frozenset(("planned", "maybe", "denied", "supposed"))


def verdict(text: PreparedText) -> Literal["safe", "not safe"] | None:
    """What the text finds the trench to be. One bad word outweighs any good one."""
    bad = good = False
    for clause in text.clauses:
        asks = clause.question or any(not ASKING.isdisjoint(piece.tags) for piece in clause.pieces)
        for piece in clause.pieces:
            if "verdict_bad" in piece.tags:
                bad = bad or piece.state != "denied"
            elif "verdict" in piece.tags:
                bad = bad or piece.state == "denied"
                told = piece.state == "asked" and bool(piece.tags.purposes) and not asks  # "safe to work in"
                good = good or piece.state == "" or told
            elif "inspected" in piece.tags and piece.state == "":
                good = good or "verdict" in text.language.meanings(piece.text.split()[-1])
    if bad:
        return "not safe"
    return "safe" if good else None


def air_told(text: PreparedText) -> bool:
    """Whether it is said what an air test found: "clear", "no gas". True where it has no such words."""
    if not text.language.vocabulary.say.get("air_result"):
        return True
    before = False  # a result in a clause of its own is of the test in the clause before
    for clause in text.clauses:
        own = any(not AIR.isdisjoint(piece.tags) for piece in clause.pieces)
        if own or before:
            for piece in clause.pieces:
                denies = piece.state == "denied" and piece.text.split()[0] in text.language.denials
                if "air_result" in piece.tags and (piece.state == "" or denies):
                    return True
        before = own
    return False


def not_so(text: PreparedText, said: set[str]) -> list[str]:
    """What is spoken of as planned, doubted, partly done or not yet done, and is not among what is `said`."""
    found: dict[str, None] = {}
    for clause in text.clauses:
        turned = clause.limited or clause.partly or any(piece.state in NOT_SO for piece in clause.pieces)
        if clause.question or not turned:
            continue
        for piece in clause.pieces:
            found.update(dict.fromkeys(piece.tags.reported))
    return [what for what in found if what not in said]


def seems(text: PreparedText) -> list[str]:
    """What is spoken of where nothing plans, doubts, denies or asks: it may be meant as a report."""
    found: dict[str, None] = {}
    for clause in text.clauses:
        if not (clause.question or clause.limited or any(piece.state in NOT_SO for piece in clause.pieces)):
            for piece in clause.pieces:
                found.update(dict.fromkeys(piece.tags.reported))
            both = all(any(tag in piece.tags for piece in clause.pieces) for tag in ("located", LINE))
            if both and not text.figures:
                found["services located"] = None  # "cables traced": of all, or of these alone?
    return [what for what in found if what in OF_ENTRY]
