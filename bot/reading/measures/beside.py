"""What stands or lies beside the trench, with its distance: houses, poles, traffic, plant by weight; pits.

Runs before lengths are read, so that "house foundation 1.2 m away" is no width and no length of the trench.
A thing counts where its distance is told, where a word puts it beside the trench, or where it is told by
itself between two commas. What is not clearly its distance is left: the thing is then asked about.
"""

from dataclasses import dataclass, field

from bot.language.lexicon import Language
from bot.language.meanings import NONE
from bot.reading.measures.lengths import plain_metres
from bot.reading.text.spans import Span
from knowledge.reading import Beside

NEAR_WORDS = 4  # words between a thing and what is said of where it stands
ENDS = frozenset((".", "\n", "!", "?", ";", ",", "|"))
FARTHEST_M = 100.0  # more is no distance from a trench's edge: common practice, no source
NOT_SO = frozenset(("supposed", "asked", "maybe"))
SIZES = frozenset(("depth", "width", "length"))
TRAFFIC = frozenset(("traffic_t", "passing_t"))


@dataclass(slots=True)
class BesideTold:
    """What is told of the trench's neighbours; metres and tonnes. None is untold."""

    things: list[Beside] = field(default_factory=list)
    traffic_m: float | None = None
    plant_t: float | None = None
    pit: bool = False
    junction: bool = False
    overhang: bool = False  # of the surface; how far is a length of its own
    no_slab: bool = False
    edge_of: str | None = None  # the trench from whose edge a thing is told: "13 t digger 3 m from T7"


@dataclass(slots=True)
class _Part:
    """A phrase of the section `beside`, or one word, mark or figure, with the pieces that it spans."""

    group: str
    first: int
    last: int
    words: int = 1


def told(pieces: list[Span], language: Language, imperial: bool) -> BesideTold:
    """Reads what stands beside the trench; the figures and words that it takes are marked as used."""
    found = BesideTold()
    if not any(_may_stand(piece, language) for piece in pieces):
        return found
    parts = _parts(pieces, language)
    for at, part in enumerate(parts):
        if part.group == "ref":
            found.edge_of = found.edge_of or _edge_of(pieces, parts, at)
        elif part.group == "no_slab":
            found.no_slab = True
            _use(pieces, part, part)
        elif part.group == "pit":
            _pit(pieces, parts, at, found)
        elif part.group in ("junction", "junction_at"):
            _junction(pieces, parts, at, found)
        elif part.group == "overhang":
            found.overhang = found.overhang or not _denied(pieces, parts, at)
        elif part.group == "kind.slope" and pieces[part.first].used:
            continue  # "embankment 5 m away slopes 1 in 3": its own slope
        elif part.group == "traffic" or part.group.startswith("kind."):
            _thing(pieces, parts, at, found, language, imperial)
        elif part.group == "plant":
            _weight(pieces, parts, at, found, language)
    return found


def _may_stand(piece: Span, language: Language) -> bool:
    """Whether a piece could be of something beside a trench, or of what is told from its edge."""
    label = piece.tags.label
    return (
        (label is not None and label[0] in ("plant", "spoil"))
        or not TRAFFIC.isdisjoint(piece.tags)
        or (piece.figure is None and not language.beside_words.isdisjoint(piece.text.split()))
    )


def _parts(pieces: list[Span], language: Language) -> list[_Part]:
    """The message as phrases of the section `beside`, the longest at each place, and all else one by one."""
    words = [(word, at) for at, piece in enumerate(pieces) for word in piece.text.split() or [""]]
    parts: list[_Part] = []
    at = 0
    while at < len(words):
        word, place = words[at]
        piece = pieces[place]
        if piece.figure is not None:
            parts.append(_Part("figure", place, place))
            while at < len(words) and words[at][1] == place:
                at += 1
            continue
        for phrase, group in language.beside.get(word, ()):
            end = at + len(phrase)
            if tuple(one for one, _ in words[at:end]) == phrase:
                parts.append(_Part(group, place, words[end - 1][1], len(phrase)))
                at = end
                break
        else:
            parts.append(_Part(_group(piece), place, place))
            at += 1
    return _owners(pieces, parts)


def _owners(pieces: list[Span], parts: list[_Part]) -> list[_Part]:
    """ "the foundation of a house": what stands there is the foundation, in one part with its owner."""
    if sum(part.group.startswith("kind.") for part in parts) < 2:
        return parts
    joined: list[_Part] = []
    for at, part in enumerate(parts):
        if part.group.startswith("kind."):
            step = len(joined) - 1
            while step >= 0 and at - step < NEAR_WORDS and joined[step].group == "word":
                step -= 1
            of = step > 0 and joined[step].group == "from" and "of" in pieces[joined[step].first].tags
            if of and joined[step - 1].group.startswith("kind."):
                owned = joined[step - 1]
                joined[step - 1 :] = [
                    _Part(owned.group, owned.first, part.last, owned.words + part.words + len(joined) - step)
                ]
                continue
        joined.append(part)
    return joined


def _edge_of(pieces: list[Span], parts: list[_Part], at: int) -> str | None:
    """The trench named here, where it is named as what something told before it stands beside."""
    step = at - 1
    near = measured = False
    while step >= 0 and parts[step].group in ("near", "from", "away", "edge"):
        near = near or parts[step].group == "near"
        step -= 1
    if step == at - 1 or step < 0:
        return None
    for part in reversed(parts[: step + 1]):
        piece = pieces[part.first]
        measured = measured or part.group == "figure"
        if part.group == "end" or part.group == "ref":
            return None
        spoil = piece.tags.label is not None and piece.tags.label[0] == "spoil"
        if part.group in ("plant", "traffic") or part.group.startswith("kind.") or spoil:
            return pieces[parts[at].first].text if near or measured else None
    return None


def _group(piece: Span) -> str:
    if piece.kind == "mark":
        return "end" if piece.text in ENDS else "mark"
    if "traffic_t" in piece.tags or {"passing_t", "passing_by"} <= piece.tags:
        return "traffic"
    if piece.tags.label is not None:
        return "plant" if piece.tags.label[0] == "plant" else "label"
    if piece.kind == "ref":
        return "ref"
    return "label" if piece.tags.service is not None else "word"


def _thing(
    pieces: list[Span], parts: list[_Part], at: int, found: BesideTold, language: Language, imperial: bool
) -> None:
    part = parts[at]
    what = part.group.removeprefix("kind.")
    if pieces[part.first].state in NOT_SO or _street(pieces, part, language):
        return
    after = _distance_after(pieces, parts, at)
    taken = after or _distance_before(pieces, parts, at)
    if _denied(pieces, parts, at):
        if after is not None:  # "no house foundation within 5 m"
            _use(pieces, part, parts[after[1]])
        return
    off = None
    if taken is not None and not _unsure(pieces, parts, *taken):
        off = _metres(pieces[parts[taken[0]].first], imperial)
    if what == "traffic":
        if off is not None and taken is not None:
            found.traffic_m = off if found.traffic_m is None else min(off, found.traffic_m)
            _use(pieces, parts[min(taken[0], at)], parts[max(taken[1], at)])
        return
    slope = _one_in(pieces, parts, at) if what in ("slope", "embankment") else None
    placed = _placed(pieces, parts, at, language)
    if taken is None and slope is None and placed is None:
        return
    first, last = placed or (at, at)
    if taken is not None:
        first, last = min(taken[0], first), max(taken[1], last)
    if slope is not None:
        first, last = min(first, slope[1]), max(last, slope[2])
    deep_at, deep = last, None
    if after and what != "pole":
        deep_at = last + _parted(pieces, parts, last)
        deep = _deep(pieces, parts, deep_at, imperial)
    if deep is not None:
        last = deep_at + 2
    _use(pieces, parts[first], parts[last])
    one_in = None if slope is None else slope[0]
    found.things.append(Beside.model_validate({"what": what, "at_m": off, "deep_m": deep, "one_in": one_in}))


def _denied(pieces: list[Span], parts: list[_Part], at: int) -> bool:
    """ "no buildings near", "there are no trees": a denial shortly before it, no mark and figure between."""
    if pieces[parts[at].first].state == "denied":
        return True
    for part in reversed(parts[max(at - NEAR_WORDS, 0) : at]):
        if part.group in ("end", "figure", "label", "ref"):
            return False
        if "deny" in pieces[part.first].tags:
            return True
    return False


def _street(pieces: list[Span], part: _Part, language: Language) -> bool:
    """ "Wall Street", "calle del Muro": a name."""
    words = language.vocabulary.beside
    if not words.street_first:
        return part.last + 1 < len(pieces) and pieces[part.last + 1].text in words.streets
    before = [word for piece in pieces[max(part.first - 2, 0) : part.first] for word in piece.text.split()]
    while before and before[-1] in language.small:
        before.pop()
    return bool(before) and before[-1] in words.streets


def _unsure(pieces: list[Span], parts: list[_Part], start: int, end: int) -> bool:
    """ "less than 2 m away", "1.2 m not 2 m away", "2 m away sorry 1.2 m": asked about."""
    before = pieces[parts[start - 1].first].tags if start else NONE
    if "correct" in before and start > 1 and pieces[parts[start - 2].first].figure is not None:
        pieces[parts[start - 2].first].used = True  # the distance that is taken back
    if not {"vague", "negation"}.isdisjoint(before) and "at_least" not in before:
        return True
    for step in range(end + 1, min(end + 3, len(parts) - 1)):
        after, figure = pieces[parts[step].first], pieces[parts[step + 1].first]
        if not {"correct", "negation"}.isdisjoint(after.tags) and _length(figure):
            label = pieces[parts[step + 2].first].tags.label if step + 2 < len(parts) else None
            if label is None or label[1] == "before":
                figure.used = after.used = True
            return True
        if after.kind != "mark":
            break
    return False


def _length(piece: Span) -> bool:
    return piece.figure is not None and not piece.used and piece.figure.kind in ("length", "bare")


def _distance_after(pieces: list[Span], parts: list[_Part], at: int) -> tuple[int, int] | None:
    """The figure after a thing that is its distance, and where what is said of it ends."""
    commas = 0
    step = at + 1
    while step < min(len(parts), at + 2 + 2 * NEAR_WORDS):
        part = parts[step]
        piece = pieces[part.first]
        if part.group == "figure":
            if piece.figure is not None and piece.figure.merged:
                step += 1
                continue  # "2 to 3 m away"
            if not _length(piece):
                return None
            label = parts[step + 1] if step + 1 < len(parts) else None
            if label is not None and _dimension(pieces, label) is not None and not commas:
                second = parts[step + 2] if step + 2 < len(parts) else label
                if second.group != "figure" or _away(parts, step + 3) is None:
                    return None
                piece.used = pieces[label.first].used = True  # "wall 2 m high 1 m away": its own height
                step += 2
                continue
            away = _away(parts, step + 1)
            if away is None and step > at + 1 and "placing" in pieces[parts[step - 1].first].tags:
                away = step
            if label is not None and not {"negation", "correct"}.isdisjoint(pieces[label.first].tags):
                return step, step  # "1.2 m not 2 m away"
            measures = label is not None and _dimension(pieces, label) is not None
            if away is not None:
                return step, away
            sure = piece.figure is not None and piece.figure.kind == "length" and not measures
            return (step, step) if sure and not commas and not _owned_after(pieces, parts, step) else None
        if part.group == "end":
            commas += 1
            if piece.text != "," or commas > 1:
                return None
        elif not _between(part, piece):
            return None
        step += 1
    return None


def _between(part: _Part, piece: Span) -> bool:
    """Whether a word may stand between a thing and its distance."""
    if part.group == "word":
        return not piece.tags.parts or "link" in piece.tags
    return part.group in ("near", "away", "from", "mark", "kind.building")


def _owned_after(pieces: list[Span], parts: list[_Part], at: int) -> bool:
    """ "wall 1.5 m from the spoil", "x 0.9": the figure belongs to what follows."""
    for part in parts[at + 1 : at + 3]:
        if part.group in ("label", "plant", "traffic", "figure"):
            return True
        if part.group in ("end", "ref"):
            return False
        if "times" in pieces[part.first].tags or "range" in pieces[part.first].tags:
            return True
    return False


def _dimension(pieces: list[Span], part: _Part) -> str | None:
    label = pieces[part.first].tags.label
    return None if label is None or label[1] == "before" else label[0]


def _away(parts: list[_Part], at: int) -> int | None:
    """Where "away", "from the edge" ends, told of the figure before it; None where nothing of it is told."""
    if at < len(parts) and parts[at].group in ("away", "near"):
        end = at
        while end + 1 < len(parts) and parts[end + 1].group in ("away", "near", "edge"):
            end += 1
        return end
    if at + 1 < len(parts) and parts[at].group == "from" and parts[at + 1].group in ("edge", "ref"):
        return at + 1
    return None


def _distance_before(pieces: list[Span], parts: list[_Part], at: int) -> tuple[int, int] | None:
    """ "1.2 m from a house wall", "2 m off the railway"; not "spoil 1 m from the wall"."""
    cue = step = at - 1
    while step >= 0 and at - step <= NEAR_WORDS and parts[step].group == "word":
        step -= 1
    cue = step
    if cue < 1 or parts[cue].group not in ("from", "away", "near"):
        return None
    while cue > 0 and parts[cue].group in ("from", "away", "near"):
        cue -= 1
    if parts[cue].group != "figure" or not _length(pieces[parts[cue].first]):
        return None
    for part in reversed(parts[max(cue - NEAR_WORDS, 0) : cue]):
        if part.group in ("end", "figure"):
            break
        if part.group in ("label", "plant", "traffic") and _dimension(pieces, part) is None:
            return None
        if part.group.startswith("kind."):
            return None
        if not {"object", "flaw", "ladder"}.isdisjoint(pieces[part.first].tags):
            return None
    return cue, at


def _placed(pieces: list[Span], parts: list[_Part], at: int, language: Language) -> tuple[int, int] | None:
    """The parts that put it beside the trench; itself where it is told alone between two commas."""
    step = at - 1
    while step >= 0 and at - step <= NEAR_WORDS and parts[step].group in ("word", "kind.building"):
        step -= 1
    if step >= 0 and parts[step].group == "near":
        return step, at
    step = at + 1
    while step < min(len(parts), at + 2 * NEAR_WORDS) and _stands(pieces, parts, step, language):
        step += 1  # "old trench runs alongside", "a crane is working beside"
    if step < len(parts) and parts[step].group == "near":
        edge = step + 1 < len(parts) and parts[step + 1].group in ("edge", "ref")
        return at, step + 1 if edge else step
    if parts[at].words < 2 or len(parts) < 3:
        return None
    start, end = at, at
    while start > 0 and parts[start - 1].group != "end":
        start -= 1
    while end + 1 < len(parts) and parts[end + 1].group != "end":
        end += 1
    others = [pieces[part.first] for part in parts[start : end + 1] if part is not parts[at]]
    by_itself = all(not one.tags and one.text in language.skipped for one in others)
    return (at, at) if by_itself and (start > 0 or end + 1 < len(parts)) else None


def _stands(pieces: list[Span], parts: list[_Part], at: int, language: Language) -> bool:
    """Whether a word may part a thing from what puts it beside the trench."""
    part, text = parts[at], pieces[parts[at].first].text
    if "and" in pieces[part.first].tags:  # "a wall and a shed stand next to it"
        return any(after.group.startswith("kind.") for after in parts[at + 1 : at + 3])
    if part.group.startswith("kind."):
        return any("and" in pieces[before.first].tags for before in parts[max(at - 2, 0) : at])
    return part.group == "word" and (text in language.vocabulary.beside.stands or text in language.skipped)


def _parted(pieces: list[Span], parts: list[_Part], at: int) -> int:
    """1 where a comma parts its distance from how deep it is, and no more is said of it: "1.1 m away, 1.3 m
    deep."; two figures together ("1.6 deep 0.9 wide") are the trench's."""
    if at + 3 >= len(parts) or pieces[parts[at + 1].first].text != ",":
        return 0
    after = parts[at + 4] if at + 4 < len(parts) else None
    return int(after is None or after.group == "end")


def _deep(pieces: list[Span], parts: list[_Part], at: int, imperial: bool) -> float | None:
    """How deep its underside is: "1.2 m away 0.6 deep", where the trench's own depth is told beside it."""
    if at + 2 >= len(parts) or parts[at + 1].group != "figure" or not _length(pieces[parts[at + 1].first]):
        return None
    depths = sum(
        piece.tags.label is not None and piece.tags.label[0] == "depth" and not piece.used for piece in pieces
    )
    if _dimension(pieces, parts[at + 2]) != "depth" or depths < 2:
        return None
    return _metres(pieces[parts[at + 1].first], imperial)


def _one_in(pieces: list[Span], parts: list[_Part], at: int) -> tuple[float, int, int] | None:
    """ "slopes 1 in 4", "1 in 4 slope", "1:4": so many along for one up, and its first and last part."""
    own = next((one for one in range(at + 1, len(parts)) if parts[one].group in ("end", "kind.slope")), at)
    last = own if parts[own].group == "kind.slope" else at  # "embankment 5 m away slopes 1 in 3"
    for step in range(max(at - 4, 0), min(last + NEAR_WORDS, len(parts))):
        figure = pieces[parts[step].first].figure
        if figure is None:
            continue
        raw = pieces[parts[step].first].raw.replace(" ", "")
        tenths = pieces[parts[step + 1].first].raw if step + 1 < len(parts) else ""
        split = raw.partition(":")[1] and tenths[:1] == "." and tenths[1:].isdigit()  # "1:2.5" in two figures
        one, sign, along = (raw + tenths if split else raw).partition(":")
        if sign and one == "1" and along.replace(".", "", 1).isdigit() and float(along) > 0:
            return float(along), step, step + bool(split)
        if step + 2 < len(parts) and figure.kind == "bare" and figure.value == 1.0:
            second = pieces[parts[step + 2].first].figure
            joins = pieces[parts[step + 1].first]
            if second is not None and second.kind == "bare" and "in" in joins.tags and second.value > 0:
                return second.value, step, step + 2
    return None


def _weight(pieces: list[Span], parts: list[_Part], at: int, found: BesideTold, language: Language) -> None:
    """ "8 tonne digger 3 m away", "13 tonner 2 m off": of one that comes or is elsewhere nothing counts."""
    words = language.vocabulary.beside
    after = at + 1
    if after + 1 < len(parts) and "link" in pieces[parts[after].first].tags:
        after += 1  # "excavadora de 8 toneladas"
    near = [place for place in (at - 1, after) if 0 <= place < len(parts)]
    weights = []
    for place in near:
        piece = pieces[parts[place].first]
        figure = piece.figure
        if figure is None or figure.doubt:
            continue
        weighed = figure.kind == "other" and piece.raw.lower().lstrip("0123456789.,- ") in words.tonnes
        counted = place < at and figure.kind == "bare" and pieces[parts[at].first].text in words.tonners
        if weighed or counted:
            weights.append(figure.value)
            piece.used, piece.aside = True, False
    if weights:
        found.plant_t = max(weights + ([found.plant_t] if found.plant_t is not None else []))


def _pit(pieces: list[Span], parts: list[_Part], at: int, found: BesideTold) -> None:
    """A pit is what is dug, unless it is beside something, met, or another's."""
    if _denied(pieces, parts, at) or pieces[parts[at].first].state in NOT_SO:
        return
    if any(part.group in ("near", "from", "away") for part in parts[max(at - 3, 0) : at]):
        return
    taken = _distance_after(pieces, parts, at)
    after = parts[at + 1].group if at + 1 < len(parts) else ""
    placed = at + 1 < len(parts) and "placing" in pieces[parts[at + 1].first].tags
    if after in ("near", "away") or placed or (taken is not None and taken[1] > taken[0]):
        return
    found.pit = True
    for piece in pieces[parts[at].first : parts[at].last + 1]:
        if "reference" in piece.tags and parts[at].first == parts[at].last:
            continue  # "chamber 1.5 deep at the end": the chamber's depth, or the trench's?
        piece.used, piece.tags = True, NONE  # its figures are those of the trench, and of nothing in it


def _junction(pieces: list[Span], parts: list[_Part], at: int, found: BesideTold) -> None:
    """ "L shaped", "corner at 3 m"; "on the corner of Mill Lane" is an address."""
    if _denied(pieces, parts, at):
        return
    last = parts[at]
    if last.group == "junction_at":
        after = pieces[parts[at + 1].first] if at + 1 < len(parts) else None
        if after is None or after.figure is None or after.figure.kind != "length":
            return
        last = parts[at + 1]
    found.junction = True
    _use(pieces, parts[at], last)


def _metres(piece: Span, imperial: bool) -> float | None:
    """The distance, the nearer of a range; None where it has two readings or is not believable."""
    figure = piece.figure
    if figure is None:
        return None
    value = plain_metres(figure, imperial)
    if value is not None and figure.other is not None:
        other = plain_metres(figure.other, imperial)
        value = None if other is None else min(value, other)
    return round(value, 3) if value is not None and 0 <= value <= FARTHEST_M else None


def _use(pieces: list[Span], first: _Part, last: _Part) -> None:
    for piece in pieces[first.first : last.last + 1]:
        piece.used = True
