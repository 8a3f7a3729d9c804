"""Which figure measures what: labels matched with the figures beside them.

Where labels and figures can be paired in two ways, or one thing is given two values, the dimension
is in doubt and asked about; a figure that no label claims measures nothing.
"""

from dataclasses import dataclass, field
from itertools import pairwise

from bot.language.lexicon import Language
from bot.reading.measures.elements import Element, elements_of
from bot.reading.measures.pairing import across, held, own, paired, row, two_values, wrong_way
from bot.reading.text.spans import SaidFigure, Span
from knowledge.reading import ASKED, LENGTHS

NOT_SO = ("supposed", "asked", "denied", "planned", "maybe")  # what a label may stand under


@dataclass(slots=True)
class MeasuredLengths:
    """Figures by dimension in metres, the dimensions in doubt, and the figures left over."""

    values: dict[str, float] = field(default_factory=dict)
    doubts: set[str] = field(default_factory=set)
    loose: list[Span] = field(default_factory=list)
    unit: str | None = None
    dug: bool = False
    claimed: set[str] = field(default_factory=set)


def metres(figure: SaidFigure, dimension: str, imperial: bool) -> float | None:
    """The figure as a length of that dimension; None where it has two readings or is not believable."""
    if figure.at_least and dimension not in ("spoil", "plant"):
        return None  # of a distance to keep, "over 1.5 m" is no worse than 1.5 m
    value, field = plain_metres(figure, imperial), ASKED[LENGTHS[dimension]]
    if value is not None and figure.other is not None:
        other = plain_metres(figure.other, imperial)
        value = None if other is None else min(value, other) if field.nearest else max(value, other)
    believable = value is not None and field.least <= round(value, 6) <= field.most
    return round(value, 3) if value is not None and believable else None


def plain_metres(figure: SaidFigure, imperial: bool) -> float | None:
    """The figure in metres by the rule for figures without a unit; None where that leaves it in doubt."""
    if figure.doubt or figure.kind not in ("length", "bare"):
        return None
    if figure.unit is not None:
        return figure.metres
    if 10 <= figure.value < 100 or (imperial and figure.value < 100):
        return None
    return figure.value / 1000 if figure.value >= 100 else figure.value


def is_imperial(pieces: list[Span]) -> bool:
    """Whether any figure of the message is in feet or inches."""
    return any(
        piece.figure.unit in ("ft", "inch") if piece.figure is not None else "feet" in piece.tags
        for piece in pieces
    )


def measure(pieces: list[Span], language: Language, imperial: bool) -> MeasuredLengths:
    """All dimensions that a message names. Linear in its length."""
    measured = MeasuredLengths()
    elements = elements_of(pieces, language)
    rows = any(
        bool(one.dimension) == bool(two.dimension) and two.joiner != "|" for one, two in pairwise(elements)
    )
    if rows:  # else labels and figures take turns
        _blocks(elements, measured, imperial)
    pairs: list[tuple[Element, Element]] = []
    chunk: list[Element] = []
    mends = corrected = False
    for element in [*elements, None]:
        breaks = (
            element is None
            or element.correcting
            or element.joiner in ("|", ",", "x", "and", "plus", "or", "/")
        )
        if element is not None and mends and element.dimension and element.place != "after":
            breaks = True  # "depth 1.6 sorry 1.8 width 0.9": the figure mends, the label begins anew
        if breaks and chunk:
            pairs.extend(paired(chunk, measured.doubts))
            chunk = []
        mends = not chunk and corrected and element is not None and element.figure is not None
        corrected = element is not None and element.correcting
        if element is not None and not element.correcting and not element.piece.used:
            chunk.append(element)
    if 2 * len(pairs) < len(elements):
        pairs.extend(across(elements, pairs))
        wrong_way(elements, pairs, measured.doubts)
        pairs.sort(key=lambda pair: max(pair[0].at, pair[1].at))
    if rows or any(element.joiner == "plus" for element in elements):
        two_values(elements, pairs, measured.doubts)
    if any(element.of_object for element in elements):
        own(elements, pairs)
    _settle(elements, pairs, measured, imperial)
    _broken(elements, pieces, pairs, measured)
    _fallen(elements, measured, imperial)
    measured.doubts &= LENGTHS.keys()
    measured.loose = [
        element.piece for element in elements if element.figure is not None and not element.piece.used
    ]
    return measured


def _fallen(elements: list[Element], measured: MeasuredLengths, imperial: bool) -> None:
    """ "1.6 falling to 2.1": what falls is the bottom, where no other depth is named."""
    if "depth" in measured.claimed:
        return
    for element in elements:
        if element.figure is None or not element.figure.falling or element.piece.used:
            continue
        value = metres(element.figure, "depth", imperial)
        if value is None or "depth" in measured.values:
            measured.doubts.add("depth")
        else:
            measured.values["depth"], element.piece.used = value, True


def _broken(
    elements: list[Element],
    pieces: list[Span],
    pairs: list[tuple[Element, Element]],
    measured: MeasuredLengths,
) -> None:
    """ "1. 6 deep", "depth 1, 6", "width 1..2": a figure over beside one that was taken, parted by a mark."""
    figures = [element for element in elements if element.figure is not None]
    label = {id(two): one for pair in pairs for one, two in (pair, pair[::-1]) if one.dimension}
    for one, two in pairwise(figures):
        between = pieces[one.at + 1 : two.at]
        parted = between and all(piece.text in (".", ",", ";", "\n") for piece in between)
        digits = one.piece.raw.isdigit() and (two.piece.raw[0] == "." or "." not in two.piece.raw)
        if not (parted and digits):
            continue
        for over, taken in ((one, two), (two, one)):
            named = label.get(id(taken))
            if named is not None and not over.piece.used and one.figure is not None and one.figure.value < 10:
                measured.doubts.add(named.dimension)


def _blocks(elements: list[Element], measured: MeasuredLengths, imperial: bool) -> None:
    """ "d x w 1.6 x 0.9", "1.6 x 0.9 x 6 (D x W x L)": as many figures as labels, in the same order."""
    at = 0
    while at < len(elements):
        labels = row(elements, at, label=True)
        figures = row(elements, at, label=False)
        first = labels if len(labels) > 1 else figures
        if len(first) < 2:
            at += 1
            continue
        after = at + len(first)
        follow = row(elements, after, label=bool(first[0].figure))
        if len(follow) == len(first) and not held(elements, at, after + len(follow)):
            wanted = first if first[0].dimension else follow
            given = follow if wanted is first else first
            if len({one.dimension for one in wanted} & {"depth", "width", "length"}) == len(wanted):
                for label, figure in zip(wanted, given, strict=True):
                    _assign(label, figure, measured, imperial)
                at = after + len(follow)
                continue
        at = after


def _assign(
    label: Element, figure: Element, measured: MeasuredLengths, imperial: bool, *, over: bool = False
) -> None:
    dimension = label.dimension
    if label.due and figure.figure is not None and figure.figure.unit is None:
        return  # "digger coming at 9"
    label.piece.used = figure.piece.used = True
    if dimension not in LENGTHS or figure.figure is None:
        return
    own = dimension == "length" or (dimension in ("depth", "width") and label.at > figure.at)
    if figure.of_object and label.place == "after" and own:
        if figure.of_object == "service":
            measured.doubts.add(dimension)  # its own length, or the trench's?
        return
    measured.claimed.add(dimension)
    unsure = label.piece.state in NOT_SO
    if unsure and dimension == "spoil":
        return  # "spoil to go back 1.5": a plan is not done
    if "dug" in label.piece.tags and not unsure:
        measured.dug = figure.piece.dug = True
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
    elements: list[Element], pairs: list[tuple[Element, Element]], measured: MeasuredLengths, imperial: bool
) -> None:
    """Gives each dimension its figure in order, corrections last said."""
    if not any(element.correcting for element in elements):
        for one, two in pairs:
            _assign(*((one, two) if one.dimension else (two, one)), measured, imperial)
        return
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
        after = elements[at + 1].dimension if at + 1 < len(elements) else ""
        twice = bool(after) and after == element.dimension
        if (pair is None and not twice) or (pair is not None and id(pair[0]) in done):
            mark = None  # "i correct the width: width 1.0" names it twice


def _corrected(
    element: Element,
    last: Element | None,
    at_once: bool,
    paired: dict[int, tuple[Element, Element]],
    measured: MeasuredLengths,
    imperial: bool,
    before: list[str],
) -> None:
    """A correcting figure that names no dimension mends what stands at once before it; else all is asked."""
    element.piece.used = True
    if last is not None and at_once:
        pair = paired.get(id(last), (last, last))
        label = pair[0] if pair[0].dimension else pair[1]
        if label.dimension in LENGTHS:
            _assign(label, element, measured, imperial, over=True)
            return
        last.piece.used = True
        element.piece.used = False
        return
    measured.doubts.update(name for name in before if name in ("depth", "width", "length"))
