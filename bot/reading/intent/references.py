"""Which trench a message names, and who may go in by it: references, renaming, allowing, codes."""

from dataclasses import dataclass, field

from bot.language.tokens import MOST_DIGITS
from bot.reading.text.prepare import PreparedText
from bot.reading.text.spans import Span

SHORT = 100  # from here on a number after "trench" may be a measure: "trench 1600 by 900"


@dataclass(slots=True)
class Named:
    """The references in order, each once; `same_as` where two are said to be one; `aside` where one was
    named only to say where another is."""

    trenches: list[str] = field(default_factory=list)
    same_as: str | None = None
    aside: bool = False
    unread: bool = False  # something is named as a trench is, and is no name that is known here
    numbers: list[Span] = field(default_factory=list)  # "trench 1600": a number, unless it is a measure


@dataclass(slots=True)
class AllowingText:
    """Whether the sender allows entry, and the code that proves who does."""

    allowed: bool = False
    code: str | None = None


def named(text: PreparedText) -> Named:
    """The trench references of a message. Figures taken as such are marked used."""
    found = Named()
    for at, piece in enumerate(text.pieces):
        name = piece.text if piece.kind == "ref" else None
        if name is not None and sum(sign.isdigit() for sign in name) > MOST_DIGITS:
            found.unread, name = True, None
        if name is not None and _beside(text, at):
            found.aside, name = True, None
        if "trench" in piece.tags:
            name = _numbered(text, at + 1, found)
        if name is not None and name not in found.trenches:
            found.trenches.append(name)
    if len(found.trenches) == 2 and _renames(text):
        found.same_as = found.trenches[1]
        for piece in text.pieces:
            piece.used = piece.used or piece.kind == "ref" or "rename" in piece.tags
    return found


def _beside(text: PreparedText, at: int) -> bool:
    """ "near T9", "same as T9 but 2 m deep", "10 m from T9": another trench than the one told of."""
    before = text.pieces[max(at - 2, 0) : at]
    if text.found.of("hazard") or text.found.of("noticed"):
        return False  # "gas near T9" is told of T9
    if not before or "beside" not in before[-1].tags:
        return False
    if "measured_from" in before[-1].tags and any("spoil_t" in piece.tags for piece in text.pieces):
        return False  # "spoil 2 m back from T7" lies at T7
    return "measured_from" not in before[-1].tags or (len(before) > 1 and before[0].figure is not None)


def _renames(text: PreparedText) -> bool:
    """ "T3 is T7", "rename T3 to T7", and nothing else said."""
    pieces = text.pieces
    refs = [at for at, piece in enumerate(pieces) if piece.kind == "ref"]
    if len(refs) != 2 or len(pieces) > 8 or text.figures:
        return False
    plain = all(
        piece.kind in ("ref", "mark") or piece.tags or piece.text in text.language.small for piece in pieces
    )
    return plain and any("rename" in piece.tags for piece in pieces[: refs[1]])


def _numbered(text: PreparedText, at: int, found: Named) -> str | None:
    """ "trench 7", "trench no 4": a short whole number that no label or other figure follows. A longer one
    is noted among the `numbers` of what was found."""
    pieces, start = text.pieces, at
    while at < len(pieces) and ("number" in pieces[at].tags or pieces[at].text in (".", "#", "-")):
        at += 1
    if at >= len(pieces):
        return None
    piece = pieces[at]
    figure = piece.figure
    if figure is None or not figure.whole or figure.kind not in ("bare", "noise"):
        return None
    if piece.used and not (piece.aside and at > start):  # "trench no 4" was set aside as a job's number is
        if piece.aside and piece.raw.isdecimal():
            found.numbers.append(piece)  # "trench 7 ladder in": the trench, or one of seven ladders?
        return None
    after = pieces[at + 1] if at + 1 < len(pieces) else None
    beyond = pieces[at + 2].figure if at + 2 < len(pieces) else None
    if after is not None and after.text in (".", ",") and after.glued and beyond is not None and beyond.whole:
        return None  # "trench 2. 1m deep": 2.1, or trench 2?
    if after is not None and not piece.glued:
        labels = {tag for tag in after.tags if tag.startswith("label.") and tag.endswith(".after")}
        measures = labels or not after.tags.isdisjoint(("times", "range"))
        if measures or after.text in ("*", "/", "-"):
            return None
    if figure.kind == "noise" or figure.value >= SHORT:
        if piece.raw.isdecimal():
            found.numbers.append(piece)
        return None
    piece.used = True
    return f"T{int(figure.value)}"


def allowance(text: PreparedText) -> AllowingText:
    """ "allow T7", "allow T7 4821", "T7 code 4821". A question or a denial allows nothing."""
    if text.present.isdisjoint(("allow", "code")):
        return AllowingText()
    found = AllowingText(_allows(text))
    after_code = False
    alone = all(
        piece.kind in ("mark", "ref", "figure") or "code" in piece.tags or piece.text in text.language.small
        for piece in text.pieces
    )
    for piece in text.pieces:
        if "code" in piece.tags:
            after_code = alone or found.allowed  # "cost code 8812" lets nobody in
        elif (
            piece.figure is not None
            and piece.raw.isdigit()
            and (after_code or (found.allowed and len(piece.raw) >= 4))
        ):
            found.code, piece.used, piece.aside = piece.raw, True, False
            break
    found.allowed = found.allowed or found.code is not None
    if found.allowed:
        for piece in text.pieces:
            piece.used = piece.used or not piece.tags.isdisjoint(("allow", "code"))
    return found


def _allows(text: PreparedText) -> bool:
    small = text.language.small
    for piece in text.pieces:
        if piece.kind == "word" and ("allow" in piece.tags or piece.text not in small):
            stated = "allow" in piece.tags and piece.state in ("", "maybe")
            return stated and not text.clauses[0].question
    return False
