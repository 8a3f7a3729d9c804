"""Which figure measures what: labels matched with the figures beside them.

Where labels and figures can be paired in two ways, or one thing is given two values, the dimension
is in doubt and asked about; a figure that no label claims measures nothing.
"""

from dataclasses import dataclass, field
from itertools import pairwise

from bot.reading.pieces import Figure, Piece
from bot.reading.words import Language

# What a field may believably be, in metres; outside it is asked about.
BELIEVABLE = {
    "depth": (0.3, 6.0),
    "width": (0.2, 5.0),
    "length": (0.2, 1000.0),
    "spoil": (0.0, 50.0),
    "plant": (0.0, 100.0),
    "pavement": (0.01, 1.0),
}
FIELDS = {name: f"{name}_m" for name in BELIEVABLE}
PARTING = frozenset(("count", "reference", "deny"))
TWO_VALUES = frozenset(("", "/", "or", "and"))


@dataclass(slots=True)
class Element:
    """A label, a figure or a correcting word in the run of a message. `dimension` is "" for a figure."""

    piece: Piece
    at: int
    dimension: str = ""
    place: str = ""
    figure: Figure | None = None
    correcting: bool = False
    of_object: bool = False  # a figure right after the name of some object: "boards 2.4 long"
    joiner: str = ""  # what stands between it and the element before: "", x, and, or, /, ",", "|", "="


@dataclass(slots=True)
class Measured:
    """Figures by dimension in metres, the dimensions in doubt, and the figures left over."""

    values: dict[str, float] = field(default_factory=dict)
    doubts: set[str] = field(default_factory=set)
    loose: list[Piece] = field(default_factory=list)
    unit: str | None = None
    dug: bool = False
    claimed: set[str] = field(default_factory=set)


def metres(figure: Figure, dimension: str, imperial: bool) -> float | None:
    """The figure as a length of that dimension; None where it has two readings or is not believable."""
    value = plain_metres(figure, imperial)
    if value is not None and figure.other is not None:
        other = plain_metres(figure.other, imperial)
        near_end = dimension in ("spoil", "plant")
        value = None if other is None else min(value, other) if near_end else max(value, other)
    least, most = BELIEVABLE[dimension]
    return round(value, 3) if value is not None and least <= round(value, 6) <= most else None


def plain_metres(figure: Figure, imperial: bool) -> float | None:
    """The figure in metres by the rule for figures without a unit; None where that leaves it in doubt."""
    if figure.doubt or figure.kind not in ("length", "bare"):
        return None
    if figure.unit is not None:
        return figure.metres
    if 10 <= figure.value < 100 or (imperial and figure.value < 100):
        return None
    return figure.value / 1000 if figure.value >= 100 else figure.value


def is_imperial(pieces: list[Piece]) -> bool:
    """Whether any figure of the message is in feet or inches."""
    return any(
        piece.figure.unit in ("ft", "inch") if piece.figure is not None else "feet" in piece.tags
        for piece in pieces
    )


def measure(pieces: list[Piece], language: Language, imperial: bool) -> Measured:
    """All dimensions that a message names. Linear in its length."""
    measured = Measured()
    elements = _elements(pieces, language)
    _blocks(elements, measured, imperial)
    pairs: list[tuple[Element, Element]] = []
    chunk: list[Element] = []
    mends = corrected = False
    for element in [*elements, None]:
        breaks = element is None or element.correcting or element.joiner in ("|", ",", "x", "and", "or", "/")
        if element is not None and mends and element.dimension and element.place != "after":
            breaks = True  # "depth 1.6 sorry 1.8 width 0.9": the figure mends, the label begins anew
        if breaks and chunk:
            pairs.extend(_paired(chunk, measured))
            chunk = []
        mends = not chunk and corrected and element is not None and element.figure is not None
        corrected = element is not None and element.correcting
        if element is not None and not element.correcting and not element.piece.used:
            chunk.append(element)
    pairs.extend(_across(elements, pairs))
    _wrong_way(elements, pairs, measured)
    _own(elements, pairs)
    _two_values(elements, pairs, measured)
    pairs.sort(key=lambda pair: max(pair[0].at, pair[1].at))
    _settle(elements, pairs, measured, imperial)
    measured.doubts &= BELIEVABLE.keys()
    measured.loose = [
        element.piece for element in elements if element.figure is not None and not element.piece.used
    ]
    return measured


# --- the run of labels and figures ---


def _elements(pieces: list[Piece], language: Language) -> list[Element]:
    elements: list[Element] = []
    paved = any("paved" in piece.tags for piece in pieces)
    joiner = "|"
    vague = denied = in_range = False
    for at, piece in enumerate(pieces):
        figure = piece.figure
        if figure is not None:
            if figure.merged:
                in_range = True
                continue
            if _uncounted(pieces, at):
                continue
            in_range = False
            if piece.used or figure.kind not in ("length", "bare"):
                joiner = "|"
                continue
            if denied and not piece.used:
                piece.used = True  # "1.8 not 1.6"
                denied = False
                continue
            if vague:
                figure.doubt = True
            elements.append(
                Element(piece, at, figure=figure, joiner=joiner, of_object=_of_object(pieces, at))
            )
            joiner, vague = "", False
            continue
        if in_range and not piece.tags.label:
            continue
        denied = "negation" in piece.tags
        if piece.kind == "mark":
            named = bool(elements) and bool(elements[-1].dimension) and elements[-1].at == at - 1
            joiner = "=" if piece.text == "-" and piece.glued and named else _sign(piece, joiner)
            continue
        label = None if piece.used else _label(piece)
        if label is not None:
            if "thickness" in piece.tags and not paved:
                label = ("other", "after")
            elements.append(Element(piece, at, *label, joiner=joiner))
            joiner = ""
            continue
        if "correct" in piece.tags and elements:
            elements.append(Element(piece, at, correcting=True, joiner=joiner))
            joiner = ""
            continue
        vague = "vague" in piece.tags
        joiner = _word(piece, joiner, language, between=_figure(pieces, at - 1) and _figure(pieces, at + 1))
    return elements


def _of_object(pieces: list[Piece], at: int) -> bool:
    for before in reversed(pieces[max(at - 3, 0) : at]):
        if "object" in before.tags or before.tags.service is not None:
            return True
        if before.kind != "word" or (before.tags and "link" not in before.tags):
            return False
    return False


def _uncounted(pieces: list[Piece], at: int) -> bool:
    """A spoken "one" or "two" that stands by no label and no other figure: "got one here"."""
    figure = pieces[at].figure
    if figure is None or not (figure.spoken and figure.whole and figure.unit is None) or figure.value >= 100:
        return False
    after = pieces[at + 1] if at + 1 < len(pieces) else None
    before = pieces[at - 1] if at else None
    joins = {"times", "range", "between", "link", "or", "vague", "correct"}
    for near in (before, after):
        if near is not None and (
            (near.kind == "mark" and near.text in (":", "=")) or joins & set(near.tags) or _label(near)
        ):
            return near is after and "link" in near.tags and not _label(near)
    return True


def _sign(piece: Piece, joiner: str) -> str:
    text = piece.text
    if text in (".", "!", "?", ";", "|"):
        return "|"
    if text in (",", "\n", "(", ")", "[", "]", "-"):
        return joiner if joiner == "|" else ","
    if text == "/":
        return "/"
    if text in (":", "="):
        return "=" if joiner == "" else joiner
    if text in ("&", "+"):
        return "and"
    return "x" if text == "*" else joiner


def _figure(pieces: list[Piece], at: int) -> bool:
    return 0 <= at < len(pieces) and pieces[at].figure is not None


def _word(piece: Piece, joiner: str, language: Language, between: bool) -> str:
    if joiner in ("|", ","):
        return "|" if _content(piece, language) or piece.text not in language.small else joiner
    tags = piece.tags
    if "times" in tags and (between or "link" not in tags):  # Polish "na": "1,6 na 0,9", "deep na 1,6"
        return "x"
    if "and" in tags:
        return "and"
    if "or" in tags or "two_soils" in tags:
        return "or"
    if _content(piece, language):
        return "|"
    if "link" in tags and joiner == "":
        return "="
    return joiner


def _content(piece: Piece, language: Language) -> bool:
    """Whether a word parts what stands before it from what stands after."""
    if piece.kind == "ref":
        return True
    tags = piece.tags
    return bool(tags.ground or tags.state or tags.service) or not PARTING.isdisjoint(tags)


def _label(piece: Piece) -> tuple[str, str] | None:
    return piece.tags.label


# --- pairing ---


def _blocks(elements: list[Element], measured: Measured, imperial: bool) -> None:
    """ "d x w 1.6 x 0.9", "1.6 x 0.9 x 6 (D x W x L)": as many figures as labels, in the same order."""
    at = 0
    while at < len(elements):
        labels = _run(elements, at, label=True)
        figures = _run(elements, at, label=False)
        first = labels if len(labels) > 1 else figures
        if len(first) < 2:
            at += 1
            continue
        after = at + len(first)
        follow = _run(elements, after, label=bool(first[0].figure))
        if len(follow) == len(first) and not _held(elements, at, after + len(follow)):
            wanted = first if first[0].dimension else follow
            given = follow if wanted is first else first
            if len({one.dimension for one in wanted} & {"depth", "width", "length"}) == len(wanted):
                for label, figure in zip(wanted, given, strict=True):
                    _assign(label, figure, measured, imperial)
                at = after + len(follow)
                continue
        at = after


def _held(elements: list[Element], start: int, end: int) -> bool:
    """Whether the first or last of a row belongs to its neighbour outside ("0.9 wide, spoil 1.5, 6 long")."""
    before = elements[start - 1] if start else None
    after = elements[end] if end < len(elements) else None
    outside = [
        (before, elements[start], elements[start].joiner),
        (after, elements[end - 1], after.joiner if after else ""),
    ]
    return any(
        one is not None and bool(one.dimension) != bool(other.dimension) and joiner in ("", "=")
        for one, other, joiner in outside
    )


def _run(elements: list[Element], at: int, *, label: bool) -> list[Element]:
    """Elements of one kind from a place on, joined by x, by, and, a comma or a slash."""
    run: list[Element] = []
    for element in elements[at:]:
        if element.correcting or bool(element.dimension) is not label or element.piece.used:
            break
        if run and element.joiner not in ("x", "and", "/", ",", ""):
            break
        if not run and at and element.joiner not in ("", "=", ",", "|"):
            break
        run.append(element)
    return run if len(run) < 5 else []


def _paired(chunk: list[Element], measured: Measured) -> list[tuple[Element, Element]]:
    """The best pairing of neighbours in one chunk; labels that could be paired otherwise are in doubt."""
    score = [0] * (len(chunk) + 1)
    for at in range(2, len(chunk) + 1):
        link = _link(chunk[at - 2], chunk[at - 1])
        score[at] = max(score[at - 1], score[at - 2] + link if link else 0)
    pairs: list[tuple[Element, Element]] = []
    at = len(chunk)
    while at > 1:
        link = _link(chunk[at - 2], chunk[at - 1])
        if link and score[at] == score[at - 2] + link:
            pairs.append((chunk[at - 2], chunk[at - 1]))
            at -= 2
        else:
            at -= 1
    pairs.reverse()
    partner = {id(one): other for pair in pairs for one, other in (pair, pair[::-1])}
    for place, element in enumerate(chunk):
        if id(element) in partner or element.dimension == "other":
            continue
        beside = place and chunk[place - 1].figure is not None
        if element.figure is not None and (beside or element.joiner in ("or", "/")):
            continue  # a second value of the figure before it: see _two_values
        for near in (*chunk[max(place - 1, 0) : place], *chunk[place + 1 : place + 2]):
            if id(near) not in partner or not _link(*_order(near, element)):
                continue
            if not _certain(near, partner[id(near)], element):
                label = near if near.dimension else partner[id(near)]
                measured.doubts.update(one.dimension for one in (label, element) if one.dimension)
    return pairs


def _certain(near: Element, partner: Element, left: Element) -> bool:
    """Whether the pair (near, partner) is sure against the element left over beside it."""
    if left.dimension:  # a second label by the figure
        if left.dimension == "plant":
            return partner.dimension != "length"
        return left.dimension in (partner.dimension, "pavement") or partner.dimension == "other"
    pair = _order(near, partner)
    if near.dimension == "other" or pair[1].joiner == "=":
        return True
    return near.place != "before" and _link(*pair) - _link(*_order(near, left)) >= 2


def _order(one: Element, two: Element) -> tuple[Element, Element]:
    return (one, two) if one.at < two.at else (two, one)


def _link(one: Element, two: Element) -> int:
    """How well two neighbours go together as label and figure; 0 for not at all."""
    if bool(one.dimension) == bool(two.dimension) or one.correcting or two.correcting:
        return 0
    label, figure_first = (two, True) if two.dimension else (one, False)
    score = 10
    if label.place == "letter":
        glued = label.piece.glued if figure_first else two.piece.glued
        score += 3 if glued else (0 if figure_first else 1)
    elif (label.place == "after") is figure_first:
        score += 2
    if label.dimension == "other":
        return score - 1 if figure_first else (0 if label.place == "after" else score - 2)
    if label.dimension in ("spoil", "plant"):
        if figure_first:  # "1.5 to the spoil", but not "13 t digger"
            return score - 3 if two.joiner == "=" else 0
        return score - 2
    return score


def _across(elements: list[Element], pairs: list[tuple[Element, Element]]) -> list[tuple[Element, Element]]:
    """Labels and figures still over that stand next to each other with no more than a comma between."""
    dimension = {id(part): one.dimension or two.dimension for one, two in pairs for part in (one, two)}
    found = []
    last: Element | None = None
    for element in elements:
        if dimension.get(id(element)) == "other":
            continue  # "spoil 1 m high 1.5 back"
        if element.correcting or element.piece.used or id(element) in dimension:
            last = None
            continue
        near = element.joiner in (",", "=", "")
        if last is not None and near and bool(last.dimension) != bool(element.dimension):
            label = last if last.dimension else element
            if label is last or label.dimension not in ("spoil", "plant", "other"):
                found.append((last, element))
                last = None
                continue
        last = element
    return found


def _wrong_way(elements: list[Element], pairs: list[tuple[Element, Element]], measured: Measured) -> None:
    """ "depth, 1.6 width": a figure taken by the label after it while the one before it went without."""
    paired = {id(part) for pair in pairs for part in pair}
    place = {id(element): at for at, element in enumerate(elements)}
    for one, two in pairs:
        label = one if one.dimension else two
        first = one if one.at < two.at else two
        last = two if first is one else one
        beside = None
        if label is last and label.place == "before" and place[id(first)]:
            beside, joiner = elements[place[id(first)] - 1], first.joiner
        elif label is first and label.place == "after" and place[id(last)] + 1 < len(elements):
            beside = elements[place[id(last)] + 1]
            joiner = beside.joiner
        if beside is None or id(beside) in paired or joiner not in (",", "", "="):
            continue
        if beside.dimension and beside.dimension != "other" and not beside.piece.used:
            measured.doubts.update((label.dimension, beside.dimension))


def _own(elements: list[Element], pairs: list[tuple[Element, Element]]) -> None:
    """ "for a gas main 1.6 deep 0.9 wide": two sizes together are the trench's, not the pipe's."""
    place = {id(element): at for at, element in enumerate(elements)}
    for (one, two), (three, _) in pairwise(pairs):
        figure, label = (one, two) if one.figure is not None else (two, one)
        after = place[id(three)] - place[id(two)] == 1
        if figure.of_object and label.dimension == "depth" and after:
            figure.of_object = False


def _two_values(elements: list[Element], pairs: list[tuple[Element, Element]], measured: Measured) -> None:
    """A figure over right beside a named one ("1.6 1.8 deep", "1.6 or 1.8 deep") puts it in doubt."""
    named = {id(part): pair for pair in pairs for part in pair}
    for at in range(1, len(elements)):
        one, two = elements[at - 1], elements[at]
        if one.figure is None or two.figure is None or two.joiner not in TWO_VALUES:
            continue
        for over, near in ((one, two), (two, one)):
            if id(near) in named and id(over) not in named:
                label = next(part for part in named[id(near)] if part.dimension)
                measured.doubts.add(label.dimension)


# --- values ---


def _assign(
    label: Element, figure: Element, measured: Measured, imperial: bool, *, over: bool = False
) -> None:
    dimension = label.dimension
    label.piece.used = figure.piece.used = True
    if dimension not in BELIEVABLE or figure.figure is None:
        return
    measured.claimed.add(dimension)
    if figure.of_object and label.place == "after" and (dimension == "length" or label.at > figure.at):
        measured.doubts.add(dimension)  # its own length, or the trench's?
        return
    if "dug" in label.piece.tags:
        measured.dug = True
    value = metres(figure.figure, dimension, imperial)
    if value is None:
        measured.doubts.add(dimension)
        return
    if measured.unit is None or dimension == "depth":
        measured.unit = figure.figure.unit or ("mm" if figure.figure.value >= 100 else "m")
    if over:
        measured.doubts.discard(dimension)
    elif dimension in measured.values and measured.values[dimension] != value:
        measured.doubts.add(dimension)
    measured.values[dimension] = value


def _settle(
    elements: list[Element], pairs: list[tuple[Element, Element]], measured: Measured, imperial: bool
) -> None:
    """Gives each dimension its figure in order, corrections last said."""
    paired = {id(part): pair for pair in pairs for part in pair}
    done: set[int] = set()
    mark: Element | None = None  # the correcting word last met, and the element before it
    last: Element | None = None
    before: list[str] = []
    for at, element in enumerate(elements):
        if element.correcting:
            if mark is None:
                mark, last = element, elements[at - 1] if at else None
            continue
        pair = paired.get(id(element))
        if pair is not None and id(pair[0]) not in done:
            done.add(id(pair[0]))
            label, figure = pair if pair[0].dimension else pair[::-1]
            _assign(label, figure, measured, imperial, over=mark is not None and label.dimension in before)
            if mark is not None and last is not None and last.figure is not None and id(last) not in paired:
                last.piece.used = True  # "1.6 sorry 1.8 deep"
            before.append(label.dimension)
        elif pair is None and mark is not None and element.figure is not None and not element.piece.used:
            _corrected(element, last, mark.joiner != "|", paired, measured, imperial, before)
        if pair is None or id(pair[0]) in done:
            mark = None


def _corrected(
    element: Element,
    last: Element | None,
    at_once: bool,
    paired: dict[int, tuple[Element, Element]],
    measured: Measured,
    imperial: bool,
    before: list[str],
) -> None:
    """A correcting figure that names no dimension mends what stands at once before it; else all is asked."""
    element.piece.used = True
    if last is not None and at_once:
        pair = paired.get(id(last), (last, last))
        label = pair[0] if pair[0].dimension else pair[1]
        if label.dimension in BELIEVABLE:
            _assign(label, element, measured, imperial, over=True)
            return
        last.piece.used = True
        element.piece.used = False
        return
    measured.doubts.update(name for name in before if name in ("depth", "width", "length"))
