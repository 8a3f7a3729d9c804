"""Pipes and cables: what they are, where along the trench they cross, how deep they lie."""

from dataclasses import dataclass, field

from bot.language.lexicon import Language
from bot.language.meanings import NONE, Meanings
from bot.reading.measures.lengths import plain_metres
from bot.reading.text.spans import SaidFigure, Span
from knowledge.reading import BuriedService


@dataclass(slots=True)
class Met:
    """The services of a message; `doubt` where a figure of one has two readings."""

    services: list[BuriedService] = field(default_factory=list)
    doubt: bool = False
    water: bool = False  # water "at" a depth: a pipe or ground water?
    leads: bool = False  # one is placed without its depth, and no depth of the trench is named before it


@dataclass(slots=True)
class _One:
    what: str
    at: list[float] = field(default_factory=list)
    depth: float | None = None
    cued: bool = False


def met(pieces: list[Span], language: Language, imperial: bool, asked: str | None = None) -> Met:
    """The services that a message places in the trench. One that is only mentioned is not among them.

    A figure with an unknown word beside it is never of the service before: "water main at 6, zorb at 11".
    `asked` is the one that the sender was asked about: what is told of none is of it.
    """
    found = Met()
    places = [
        at for at, piece in enumerate(pieces) if _what(piece) and piece.state not in ("denied", "supposed")
    ]
    for at, piece in enumerate(pieces):  # "gas at 2.1, water at 3": a pipe; alone, it may be ground water
        if (
            "water_t" in piece.tags
            and at + 2 < len(pieces)
            and "at" in pieces[at + 1].tags
            and _figure_near(pieces, at + 2)
        ):
            if places:
                places.append(at)
            else:
                found.water = True
    places.sort()
    strange = _strangers(pieces, places[0], language) if places else []
    trench_depth = _has_depth(pieces, places) or not _sized(pieces)
    found.doubt = bool(places) and any(_mended(pieces, at) for at in range(places[0], len(pieces)))
    due = {piece.clause for piece in pieces if "arriving" in piece.tags}
    at = 0
    while at < len(places):
        start = places[at]
        what = _what(pieces[start]) or "water"
        while at + 1 < len(places) and places[at + 1] == places[at] + 1:  # "gas" "pipe"
            at += 1
            other = _what(pieces[places[at]]) or "unknown"
            what = other if what == "unknown" else what
        last = places[at]
        end = places[at + 1] if at + 1 < len(places) else len(pieces)
        stranger = next((one for one in strange if last < one < end), None)
        end = end if stranger is None else stranger
        one = _One(what)
        if pieces[start].clause in due and not _measured(pieces[start:end]):
            at += 1
            continue  # "pipes arriving at 2.30": a time of day
        _before(pieces, start, one, found, imperial)
        _after(pieces, last, end, one, found, imperial, trench_depth)
        if one.cued or one.at or one.depth is not None:
            found.leads = found.leads or (one.depth is None and not trench_depth)
            for position in one.at or (None,):
                found.services.append(
                    BuriedService.model_validate({"what": one.what, "at_m": position, "depth_m": one.depth})
                )
        at += 1
    if asked is not None and not places and pieces:
        one = _One(asked)
        _after(pieces, -1, len(pieces), one, found, imperial, trench_depth=True)
        if one.at or one.depth is not None:
            place = one.at[0] if one.at else None
            found.services.append(
                BuriedService.model_validate({"what": asked, "at_m": place, "depth_m": one.depth})
            )
    for at in strange:
        figure, measures = pieces[at].figure, _measures(pieces, at + 1)
        if "at" in pieces[at - 1].tags and not measures:
            one = _One("unknown")
            _put(one, "at", pieces[at], found, imperial)
            found.services.append(BuriedService(what="unknown", at_m=one.at[0] if one.at else None))
        elif figure is not None and not measures:
            figure.kind = "other"  # of what, nobody knows: no length of the trench
    return found


def _measures(pieces: list[Span], at: int) -> bool:
    """Whether a label here makes the figure before it one of the trench: "1.6 deep", "1.6 down 0.9 wide"."""
    tags = pieces[at].tags if at < len(pieces) else NONE
    goes_on = at + 1 < len(pieces) and pieces[at + 1].figure is not None
    return tags.label is not None and ("below" not in tags or goes_on)


def _strangers(pieces: list[Span], start: int, language: Language) -> list[int]:
    """The figures after a service that a word of no known meaning names: "gas at 3, zorb at 6"."""
    found = []
    for at in range(start + 1, len(pieces)):
        piece = pieces[at]
        if piece.figure is None or piece.used or piece.glued or piece.figure.kind not in ("length", "bare"):
            continue
        step = at - 1
        while step > start and pieces[step].kind == "word" and not _unknown(pieces[step], language):
            if pieces[step].tags and {"at", "link"}.isdisjoint(pieces[step].tags):
                break
            step -= 1
        if _unknown(pieces[step], language) and any(one.figure is not None for one in pieces[start:step]):
            found.append(at)
    return found


def _unknown(piece: Span, language: Language) -> bool:
    return piece.kind == "word" and not piece.tags and not piece.used and piece.text not in language.small


def _mended(pieces: list[Span], at: int) -> bool:
    """ "gas at 3 sorry 5", "water main at 2, no sorry gas main": which holds is not said."""
    after = pieces[at + 1 : at + 5]
    says = bool(after) and (after[0].figure is not None or any(_what(one) for one in after))
    before = any(_what(one) for one in pieces[max(at - 4, 0) : at])
    return "correct" in pieces[at].tags and says and before


def _measured(pieces: list[Span]) -> bool:
    """Whether a figure with a unit of length, or a word for how a service lies, stands among them."""
    return any(
        (piece.figure is not None and piece.figure.kind == "length")
        or not {"crossing", "lengthwise", "down"}.isdisjoint(piece.tags)
        for piece in pieces
    )


def _what(piece: Span) -> str | None:
    return piece.tags.service


def _labelled(tags: Meanings, *dimensions: str) -> bool:
    return tags.label is not None and tags.label[0] in dimensions


def _has_depth(pieces: list[Span], places: list[int]) -> bool:
    """Whether the trench's own depth is named before any service, or there are more depths than services."""
    first = places[0] if places else len(pieces)
    depths = [
        at for at, piece in enumerate(pieces) if _labelled(piece.tags, "depth") or "below" in piece.tags
    ]
    named = sum("service" not in pieces[at].tags for at in places)  # "services: gas ...": gas is one
    return bool(depths) and (depths[0] < first or len(depths) > named)


def _sized(pieces: list[Span]) -> bool:
    """Whether anything of the trench itself is told that a depth could belong to."""
    return any(
        piece.tags.ground
        or piece.tags.state
        or _labelled(piece.tags, "width", "length")
        or "label.depth.before" in piece.tags
        for piece in pieces
    )


def _before(pieces: list[Span], start: int, one: _One, found: Met, imperial: bool) -> None:
    """ "at 2.1 a gas main", "150 mm pipe": a place, or a size that is no place."""
    if _lies_before(pieces, start, one, found, imperial):
        return
    at = start - 1
    while at >= 0 and start - at < 4 and pieces[at].kind == "word" and _passed(pieces[at].tags):
        at -= 1
    if at < 0 or pieces[at].figure is None or pieces[at].used:
        return
    figure = pieces[at].figure
    assert figure is not None
    if at and "at" in pieces[at - 1].tags and figure.kind in ("length", "bare"):
        _put(one, "at", pieces[at], found, imperial)
        deep = pieces[at - 3].figure if at > 2 and _labelled(pieces[at - 2].tags, "depth") else None
        if deep is not None and not pieces[at - 3].used and deep.kind in ("length", "bare"):
            pieces[at - 2].used = True  # "0.7 deep at 4 m there is a gas main"
            _put(one, "depth", pieces[at - 3], found, imperial)
    elif start - at <= 2:
        pieces[at].used = True  # its diameter, or how many of them


def _lies_before(pieces: list[Span], start: int, one: _One, found: Met, imperial: bool) -> bool:
    """ "4 m along 0.6 down gas", "at 4 m, 450 mm down, there is a cable": where it lies, before its name."""
    taken: dict[str, int] = {}
    at = start
    while len(taken) < 2:
        at -= 1
        while at > 0 and (pieces[at].text == "," or (pieces[at].kind == "word" and _passed(pieces[at].tags))):
            at -= 1
        if at < 1:
            return False
        along = "along" in pieces[at].tags
        if along or not {"below", "label.depth.after"}.isdisjoint(pieces[at].tags):
            at, kind = at - 1, "at" if along else "depth"
        elif "at" in pieces[at - 1].tags:
            kind = "at"
        else:
            return False
        figure = pieces[at].figure
        if figure is None or pieces[at].used or figure.kind not in ("length", "bare") or kind in taken:
            return False
        taken[kind] = at
        at -= int(kind == "at" and at > 0 and "at" in pieces[at - 1].tags)
    for kind, place in taken.items():
        after = pieces[place + 1]
        after.used = after.used or after.tags.label is not None or "along" in after.tags
        _put(one, kind, pieces[place], found, imperial)
    return True


def _untold(pieces: list[Span], at: int, last: int) -> bool:
    """ "gas 3m/0.6": figures right after a service, of which nothing says what they are. They are its own."""
    figure = pieces[at].figure
    if at != last + 1 or figure is None or figure.kind != "length":
        return False
    run = [at]
    while run[-1] + 2 < len(pieces) and pieces[run[-1] + 1].text == "/" and pieces[run[-1] + 2].figure:
        run.append(run[-1] + 2)
    after = pieces[run[-1] + 1].tags if run[-1] + 1 < len(pieces) else NONE
    if after - {"more"}:
        return False
    for place in run:
        one = pieces[place].figure
        if one is not None:
            one.kind = "other"
    return True


def _led(pieces: list[Span], at: int) -> bool:
    """ "runs along T4 0.5 down", "along left side": where the service lies, which begins nothing new."""
    own = pieces[at].kind == "ref" or _labelled(pieces[at].tags, "other")
    return own and not {"lengthwise", "crossing"}.isdisjoint(pieces[at - 1].tags)


def _passed(tags: Meanings) -> bool:
    """ "at 6 is a duct": what may stand between a place and the service there."""
    return not tags or ("link" in tags and {"at", "of"}.isdisjoint(tags))


def _after(
    pieces: list[Span], last: int, end: int, one: _One, found: Met, imperial: bool, trench_depth: bool
) -> None:
    clause = pieces[max(last, 0)].clause
    cue = ""
    at = last + 1
    while at < end:
        piece = pieces[at]
        if cue == "at" and piece.clause == clause + 1 and _figure_near(pieces, at) and one.at:
            clause = piece.clause
        new_clause = piece.kind != "mark" and piece.clause != clause
        if new_clause and not (piece.clause <= clause + 1 and _goes_on(pieces, at, one, trench_depth)):
            break
        if new_clause:
            clause = piece.clause
        tags = piece.tags
        if "crossing" in tags or "lengthwise" in tags:
            one.cued = True
            cue = "at" if "crossing" in tags and "lengthwise" not in tags else cue
        if piece.kind == "mark" and piece.text in (".", "\n", "!", "?"):
            break
        figure = piece.figure
        if figure is not None and not piece.used and figure.kind in ("length", "bare"):
            kind = _figure_is(pieces, at, cue, one, trench_depth)
            if kind == "":
                found.doubt = _untold(pieces, at, last) or found.doubt
                break
            _put(one, kind, piece, found, imperial)
            cue = "at" if kind == "at" and _list(pieces, at + 1) else ""
        elif "at" in tags:
            cue = "at"
        elif one.depth is not None and tags.label == ("depth", "before"):
            break  # its own is told: the trench's
        elif _labelled(tags, "depth") or "down" in tags:
            if at + 1 < end and _figure_near(pieces, at + 1) and (one.cued or one.at or "down" in tags):
                cue = "depth"
        elif (tags.label is not None or tags.ground or piece.kind == "ref") and not _led(pieces, at):
            break
        at += 1


def _goes_on(pieces: list[Span], at: int, one: _One, trench_depth: bool) -> bool:
    """Whether the next clause still speaks of the service: a figure that lies down or along."""
    if not (one.at or one.cued) and "at" not in pieces[at].tags:
        return False
    for place in range(at, min(at + 3, len(pieces))):
        figure = pieces[place].figure
        if figure is not None:
            after = pieces[place + 1].tags if place + 1 < len(pieces) else NONE
            if "below" in after or "along" in after:
                return True
            deep = "label.depth.after" in after
            return (deep and trench_depth and one.depth is None) or "at" in pieces[place - 1].tags
        if "down" in pieces[place].tags and trench_depth:
            return True
    return False


def _figure_near(pieces: list[Span], at: int) -> bool:
    for piece in pieces[at : at + 3]:
        if piece.figure is not None:
            return True
        if piece.kind == "mark" and piece.text not in (":", "="):
            return False
    return False


def _figure_is(pieces: list[Span], at: int, cue: str, one: _One, trench_depth: bool) -> str:
    """What a figure after a service is of it: "at", "depth", or "" where it is not the service's."""
    after = pieces[at + 1].tags if at + 1 < len(pieces) else NONE
    wide = _labelled(after, "width", "length", "pavement")
    if wide:
        return ""
    if "below" in after:
        return "depth"
    if "label.depth.after" in after or "label.depth.letter" in after:
        known = one.cued or bool(one.at) or trench_depth
        return "depth" if known and one.depth is None else ""
    if "label.depth.before" in after and not _figure_near(pieces, at + 2):
        return "depth"  # "at 1.2 depth"
    if "along" in after or cue == "at":
        return "at"
    if cue == "depth":
        return "depth"
    return ""


def _list(pieces: list[Span], at: int) -> bool:
    """ "at 1.2, 2.4 and 3.6": one more place follows."""
    if at + 1 >= len(pieces) or ("more" not in pieces[at].tags and pieces[at].text not in (",", "&")):
        return False
    figure = pieces[at + 1].figure
    after = pieces[at + 2].tags if at + 2 < len(pieces) else NONE
    labelled = after.label is not None or "down" in after
    return figure is not None and figure.kind in ("length", "bare") and not labelled


def _put(one: _One, kind: str, piece: Span, found: Met, imperial: bool) -> None:
    figure: SaidFigure | None = piece.figure
    assert figure is not None
    piece.used = True
    value = plain_metres(figure, imperial)
    if value is None or (kind == "depth" and value > 6):
        found.doubt = True
        one.cued = True
        return
    if kind == "at":
        one.at.append(round(value, 3))
    elif one.depth is None:
        one.depth = round(value, 3)
    else:
        found.doubt = True
