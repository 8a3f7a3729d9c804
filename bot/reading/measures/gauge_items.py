"""The unit numbers and the pressures of a message, in the order told: what gauge readings are made of."""

from dataclasses import dataclass
from itertools import pairwise

from bot.reading.text.spans import SaidFigure, Span

MOST_UNITS = 12  # a small number beside a pressure is a unit's; a greater one may be a pressure itself


@dataclass(slots=True)
class GaugeItem:
    """In the run of a message: unit numbers, or a pressure."""

    piece: Span
    at: int
    units: tuple[int, ...] = ()
    figure: SaidFigure | None = None
    end: int = 0  # the place after the last of its unit numbers


def items_of(pieces: list[Span], *, stated: bool, gauged: bool) -> list[GaugeItem]:
    """Unit numbers and figures that may be pressures, in order. Unit numbers are marked used."""
    items: list[GaugeItem] = []
    at = 0
    count = len(pieces)
    while at < count:
        piece = pieces[at]
        figure = piece.figure
        if stated and (by_number := _set_by_number(pieces, at)):
            items.append(GaugeItem(piece, at, units=by_number[0], end=by_number[1]))
            at = by_number[1]
            continue
        if figure is None:
            if "unit" in piece.tags or ("dial" in piece.tags and _small(pieces, at + 1)):
                numbers, end = _numbers(pieces, at + 1)
                if numbers:
                    _add_units(items, GaugeItem(piece, at, units=numbers, end=end), pieces)
                    at = end
                    continue
            after = pieces[at + 1] if at + 1 < count else None
            if (
                piece.tags.ordinal
                and (stated or gauged)
                and after
                and (after.text == "one" or "unit_t" in after.tags)
            ):
                items.append(GaugeItem(piece, at, units=(int(piece.tags.ordinal),)))
                after.used = True
                at += 1
            at += 1
            continue
        if piece.used:
            at += 1
            continue
        if figure.kind == "pressure":
            items.append(GaugeItem(piece, at, figure=figure))
        elif figure.kind == "ordinal":
            items.append(GaugeItem(piece, at, units=(int(figure.value),)))
        elif figure.kind == "bare" and figure.whole:
            after = pieces[at + 1] if at + 1 < count else None
            before = pieces[at - 1] if at else None
            small = 0 < figure.value < 100
            marked = after is not None and (after.text in (":", "=") or _bullet(pieces, at))
            counted = before is not None and not before.tags.isdisjoint(("level", "top", "bottom"))
            of_many = at > 1 and "of" in pieces[at - 1].tags and _counted(pieces[at - 2])
            upon = before is not None and "upon" in before.tags and not of_many  # not "2 of 4 units"
            on = upon or (before is not None and not of_many and _next_unit(pieces, at, items))
            if small and (marked or on) and (stated or gauged) and not counted:
                items.append(GaugeItem(piece, at, units=(int(figure.value),)))
                piece.used = True
            else:
                items.append(GaugeItem(piece, at, figure=figure))
        elif figure.kind == "bare":
            items.append(GaugeItem(piece, at, figure=figure))
        at += 1
    return items


def _add_units(items: list[GaugeItem], item: GaugeItem, pieces: list[Span]) -> None:
    """ "u1 u2 u3 all 45 bar": unit numbers that follow at once belong together."""
    before = items[-1] if items else None
    gap = pieces[before.end : item.at] if before is not None and before.end else [item.piece]
    if before is not None and all(one.text == "&" or "and" in one.tags for one in gap):
        before.units, before.end = (*before.units, *item.units), item.end
    else:
        items.append(item)


def _bullet(pieces: list[Span], at: int) -> bool:
    """ "1 - 45 bar", "1) 45 bar": a number before a pressure, parted by a mark."""
    if at + 2 >= len(pieces) or not (pieces[at + 1].text in ("-", ")") or "at" in pieces[at + 1].tags):
        return False
    number, after = pieces[at].figure, pieces[at + 2].figure
    return (
        number is not None
        and 0 < number.value <= MOST_UNITS
        and after is not None
        and after.kind == "pressure"
    )


def _next_unit(pieces: list[Span], at: int, items: list[GaugeItem]) -> bool:
    """ "unit 1 45 bar, 2 44 bar": once units are named, a number before a pressure is one more."""
    return any(item.units for item in items) and _names_one(pieces, at)


def _names_one(pieces: list[Span], at: int) -> bool:
    """Whether the number here, small and whole, stands right before a pressure: "gauge 1 45 bar"."""
    after = pieces[at + 1].figure if at + 1 < len(pieces) else None
    return _small(pieces, at) and after is not None and after.kind == "pressure"


def _counted(piece: Span) -> bool:
    """ "2 of 4 units", "full set of 14": what a number after "of" is the count of."""
    return piece.figure is not None or "all" in piece.tags


def _small(pieces: list[Span], at: int) -> bool:
    """Whether a number stands here that can be a unit's and is hardly a pressure."""
    number = pieces[at].figure if at < len(pieces) else None
    return number is not None and number.kind == "bare" and number.whole and 0 < number.value <= MOST_UNITS


def _numbers(pieces: list[Span], at: int) -> tuple[tuple[int, ...], int]:
    """Unit numbers after "unit": "2", "1 and 2", "1, 2 & 3", "1 to 4". Marks them used."""
    found: list[int] = []
    ranged = False
    while at < len(pieces):
        piece = pieces[at]
        figure = piece.figure
        if figure is not None and figure.kind == "bare" and figure.whole and 0 < figure.value < 100:
            follows = bool(found) and figure.value == found[-1] + 1 and found[-1] < 12
            if len(found) and not (
                follows or ranged or "more" in pieces[at - 1].tags or pieces[at - 1].text in (",", "&")
            ):
                break
            number = int(figure.value)
            first = found[-1] + 1 if ranged and found else number
            found.extend(range(first, number + 1) if ranged and first <= number else [number])
            piece.used = True
            ranged = False
            at += 1
            continue
        if found and (listed := _commas(piece)):
            found.extend(listed)
            piece.used = True
            at += 1
            continue
        nearby = pieces[at + 1].figure if at + 1 < len(pieces) else None
        if not found:
            if piece.text in ("-", "#", ".") or "number" in piece.tags:
                at += 1
                continue
            break
        if nearby is None or nearby.kind != "bare":
            break
        if nearby.value > MOST_UNITS and not _many(pieces, at):
            break
        if not nearby.whole and not _commas(pieces[at + 1]):
            break
        if "range" in piece.tags or piece.text == "-":
            ranged = True
        elif not ("more" in piece.tags or piece.text in (",", "&", "+")) or _labelled(pieces, at + 2):
            break
        at += 1
    return tuple(found), at


def _set_by_number(pieces: list[Span], at: int) -> tuple[tuple[int, ...], int] | None:
    """ "8-14 in, 40 bar", "5 and 6 set at 40 bar": several unit numbers, though nobody says "unit"."""
    before = pieces[at - 1] if at else None
    joined = ("-", "/", "&", "+")
    led = before is None or (before.kind in ("ref", "mark") and before.text not in joined)
    if not led or not _whole(pieces, at) or pieces[at].used:
        return None
    used = [piece.used for piece in pieces]
    numbers, end = _numbers(pieces, at)
    rising = len(numbers) > 1 and all(one < two for one, two in pairwise(numbers))
    if rising and end < len(pieces) and "set" in pieces[end].tags:
        return numbers, end
    for piece, was in zip(pieces, used, strict=True):
        piece.used = was
    return None


def _whole(pieces: list[Span], at: int) -> bool:
    figure = pieces[at].figure
    return figure is not None and figure.kind == "bare" and figure.whole and 0 < figure.value < 100


def _many(pieces: list[Span], at: int) -> bool:
    """ "units 1 to 14 set": a range of more units than a small number names, where all are said to be set."""
    ranged = "range" in pieces[at].tags or pieces[at].text == "-"
    after = pieces[at + 2] if at + 2 < len(pieces) else None
    return ranged and after is not None and not {"set", "all"}.isdisjoint(after.tags)


def _commas(piece: Span) -> list[int]:
    """ "2,3" as two unit numbers."""
    one, comma, two = piece.raw.partition(",")
    whole = comma and one.isdigit() and two.isdigit() and len(one) < 3 and len(two) < 3
    return [int(one), int(two)] if whole else []


def _labelled(pieces: list[Span], at: int) -> bool:
    return at < len(pieces) and pieces[at].tags.label is not None


def in_lists(items: list[GaugeItem], pieces: list[Span]) -> list[GaugeItem]:
    """ "45, 44 and 46 bar on units 1, 2 and 3": as many pressures as unit numbers, in order."""
    out: list[GaugeItem] = []
    for item in items:
        count = len(item.units)
        row = out[-count:] if count > 1 else []
        if len(row) == count > 1 and all(one.figure is not None for one in row):
            del out[-count:]
            for number, one in zip(item.units, row, strict=True):
                out.extend((GaugeItem(item.piece, one.at, units=(number,)), one))
            continue
        out.append(item)
    return out
