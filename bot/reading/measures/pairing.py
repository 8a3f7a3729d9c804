"""Labels and figures that stand together: which goes with which, and where that has two readings."""

from itertools import pairwise

from bot.reading.measures.elements import Element

TWO_VALUES = frozenset(("", "/", "or", "and"))


def held(elements: list[Element], start: int, end: int) -> bool:
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


def row(elements: list[Element], at: int, *, label: bool) -> list[Element]:
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


def paired(chunk: list[Element], doubts: set[str]) -> list[tuple[Element, Element]]:
    """The best pairing of neighbours in one chunk; labels that could be paired otherwise are in doubt."""
    whole = list(zip(chunk[::2], chunk[1::2], strict=False))
    if len(chunk) in (2, 4, 6, 8) and all(_link(one, two) for one, two in whole):
        return whole  # none is over, and neighbours can be paired in no other way
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
                doubts.update(one.dimension for one in (label, element) if one.dimension)
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


def _parted(one: Element, two: Element) -> bool:
    """ "w the 4-gas" is no width: a letter stands for one only beside its figure."""
    letter = "letter" in (one.place, two.place)
    return letter and two.joiner == "" and two.at - one.at > 1


def _link(one: Element, two: Element) -> int:
    """How well two neighbours go together as label and figure; 0 for not at all."""
    if bool(one.dimension) == bool(two.dimension) or one.correcting or two.correcting:
        return 0
    label, figure_first = (two, True) if two.dimension else (one, False)
    if label.dimension == "length" and not figure_first and two.placed:
        return 0  # "the edge of the trench at 3 m"
    score = 10
    if label.place == "letter":
        if _parted(one, two):
            return 0
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


def across(elements: list[Element], pairs: list[tuple[Element, Element]]) -> list[tuple[Element, Element]]:
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
        near = element.joiner in (",", "=", "") and not element.placed
        near = near and not (last is not None and _parted(last, element))
        if last is not None and near and bool(last.dimension) != bool(element.dimension):
            label = last if last.dimension else element
            if label is last or label.dimension not in ("spoil", "plant", "other"):
                found.append((last, element))
                last = None
                continue
        last = element
    return found


def wrong_way(elements: list[Element], pairs: list[tuple[Element, Element]], doubts: set[str]) -> None:
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
            doubts.update((label.dimension, beside.dimension))


def own(elements: list[Element], pairs: list[tuple[Element, Element]]) -> None:
    """ "for a gas main 1.6 deep 0.9 wide": two sizes together are the trench's, not the pipe's."""
    place = {id(element): at for at, element in enumerate(elements)}
    for (one, two), (three, _) in pairwise(pairs):
        figure, label = (one, two) if one.figure is not None else (two, one)
        after = place[id(three)] - place[id(two)] == 1 and three.joiner in ("", "x", "=")
        if figure.of_object and label.dimension == "depth" and after:
            figure.of_object = ""


def two_values(elements: list[Element], pairs: list[tuple[Element, Element]], doubts: set[str]) -> None:
    """A figure over right beside a named one ("1.6 1.8 deep", "1.6 or 1.8 deep") puts it in doubt."""
    named = {id(part): pair for pair in pairs for part in pair}
    for at in range(1, len(elements)):
        one, two = elements[at - 1], elements[at]
        if two.joiner == "plus" and two.figure is not None and id(one) in named:
            doubts.update(part.dimension for part in named[id(one)] if part.dimension)  # "1.6 deep plus 0.2"
            continue
        if one.figure is None or two.figure is None or two.joiner not in TWO_VALUES:
            continue
        for over, near in ((one, two), (two, one)):
            if id(near) in named and id(over) not in named:
                label = next(part for part in named[id(near)] if part.dimension)
                doubts.add(label.dimension)
