"""Gauge readings: pressures with the units they were read on, and falls between two of them."""

from dataclasses import dataclass, field

from bot.reading.measures.gauge_items import GaugeItem, in_lists, items_of
from bot.reading.text.spans import BARS, Span
from knowledge.reading import Gauge

LEAST = 5  # a smaller bare figure is no pressure
COUNTED = frozenset(("top", "bottom"))
OF_SEVERAL = frozenset(("lowest", "highest", "between"))
STATES = ("supposed", "asked", "denied", "planned", "maybe")


@dataclass(slots=True)
class PressuresRead:
    """What the message says of pressures."""

    gauges: list[Gauge] = field(default_factory=list)
    doubt: bool = False  # a pressure without its unit
    fell: bool = False
    read_on: int | None = None  # how many units the one pressure is of
    of_every: bool = False  # the one pressure is of every unit
    spread: bool = False  # the two pressures are the lowest and the highest of several units
    unit: str | None = None
    surcharge_kpa: float | None = None
    numbers: list[int] = field(default_factory=list)  # unit numbers named


def read(pieces: list[Span], present: set[str]) -> PressuresRead:
    """The pressures of a message. Figures that are taken here are marked used."""
    said = PressuresRead()
    if present.isdisjoint(("unit", "gauge")) and not any(
        piece.figure is not None and piece.figure.kind == "pressure" for piece in pieces
    ):
        return said
    stated = [piece for piece in pieces if piece.figure is not None and piece.figure.kind == "pressure"]
    units = {piece.figure.unit for piece in stated if piece.figure is not None}
    _surcharge(pieces, said)
    shared = units.pop() if len(units) == 1 else None
    gauged = any("gauge" in piece.tags and piece.state not in STATES[:2] for piece in pieces)
    items = items_of(pieces, stated=bool(stated), gauged=gauged)
    _pair(items, pieces, shared, said)
    if said.gauges and any(_unsettles(pieces, at) for at in range(len(pieces))):
        said.doubt = True
    said.unit = shared if shared != "kPa" else None
    return said


def _unsettles(pieces: list[Span], at: int) -> bool:
    """ "all at 52 bar except unit 4", "48 bar sorry 38": which reading is meant is not said."""
    tags = pieces[at].tags
    before, after = pieces[max(at - 4, 0) : at], pieces[at + 1 : at + 4]
    near = any(one.figure is not None and one.figure.kind == "pressure" for one in before)
    if "rest" in tags and after and after[0].figure is not None and after[0].used:
        return False  # "unit 2 36 bar, rest 40": those not named
    if not {"except", "rest"}.isdisjoint(tags):
        return any(one.figure is not None and one.used for one in (*before, *after))
    numbered = (
        "number" in tags and bool(after) and after[0].figure is not None and after[0].figure.kind == "bare"
    )
    told = any(one.figure is not None for one in after)
    return "correct" in tags and near and told and not numbered


def _surcharge(pieces: list[Span], said: PressuresRead) -> None:
    for at, piece in enumerate(pieces):
        figure = piece.figure
        if figure is None or figure.kind != "pressure" or figure.unit != "kPa":
            continue
        about = pieces[max(at - 3, 0) : at + 3]
        if any(one.tags.label is not None and one.tags.label[0] == "surcharge" for one in about):
            said.surcharge_kpa = round(figure.value, 3)
            piece.used = True


def _pair(items: list[GaugeItem], pieces: list[Span], shared: str | None, said: PressuresRead) -> None:
    """Gives each pressure its unit number and keeps the last reading of each."""
    figures = [item for item in items if item.figure is not None]
    said.numbers = [number for item in items for number in item.units]
    items = in_lists(items, pieces)
    units_first = bool(items) and _leads(items)
    last: dict[tuple[int, ...], float] = {}
    order: list[tuple[tuple[int, ...], float, bool]] = []
    for place, item in enumerate(items):
        if item.figure is None:
            continue
        owner, near = _owner(items, place, pieces, units_first)
        kind = _kind(item, near, pieces, shared, figures)
        if kind == "":
            continue
        if _lost(pieces, item.at):
            item.piece.used = said.fell = True  # "lost 5 bar" is no reading
            continue
        if kind == "doubt":
            item.piece.used = True
            said.doubt = True
            said.fell = said.fell or any(
                "fallen_to" in one.tags for one in pieces[max(item.at - 3, 0) : item.at]
            )
            _fall(items, place, pieces, said)
            continue
        if item.piece.state in ("supposed", "asked", "denied") or _target(pieces, item.at):
            item.piece.used = True
            continue
        item.piece.used = True
        if any("fallen_to" in one.tags for one in pieces[max(item.at - 3, 0) : item.at]):
            said.fell = True
        bar = round(item.figure.value * BARS[kind], 2)
        own = bool(owner) and place > 1 and _led(items, place - 1, pieces)
        if owner not in last and () in last and not own and _changed(pieces, items, place):
            last[owner] = last.pop(())  # "from 72 bar to 64 bar on unit 1"
            order = [(owner if of == () else of, value, again) for of, value, again in order]
        before = last.get(owner)
        if before is not None and "was_at" in pieces[item.at - 1].tags:
            said.fell = said.fell or bar > before  # "now 40 bar, was 45": the first is the reading
            continue
        both = owner == () and before is not None and bar > before and _ranged(pieces, item.at)
        spread = owner == () and before is not None and _spread(pieces, items, place)
        changed = before is not None and not (both or spread) and _changed(pieces, items, place)
        said.spread = said.spread or spread
        if changed:
            said.fell = said.fell or (before is not None and bar < before)
            order = [entry for entry in order if entry[0] != owner]
        last[owner] = bar
        order.append((owner, bar, changed))
    for owner, bar, _ in order:
        for number in owner or (None,):
            said.gauges.append(Gauge(unit=number, bar=bar))


def _leads(items: list[GaugeItem]) -> bool:
    """Whether unit numbers stand before their pressures ("u1 45") or after ("45 on u1")."""
    stated = any(item.figure and item.figure.kind == "pressure" for item in items)
    first = next(
        item for item in items if item.units or not stated or (item.figure and item.figure.kind == "pressure")
    )
    return bool(first.units)


def _owner(
    items: list[GaugeItem], place: int, pieces: list[Span], units_first: bool
) -> tuple[tuple[int, ...], bool]:
    """The unit numbers a pressure belongs to; and whether they stand right beside it."""
    item = items[place]
    if any("rest" in one.tags for one in pieces[max(item.at - 2, 0) : item.at]):
        return (), True  # "unit 2 36 bar, rest 40"
    step = -1 if units_first else 1
    at = place + step
    while 0 <= at < len(items):
        other = items[at]
        if other.units and step == 1 and _led(items, at, pieces):
            break  # "all at 40 bar, unit 9 at 36 bar"
        if other.units:
            start = other.end or other.at + 1
            between = pieces[start : item.at] if other.at < item.at else pieces[item.at + 1 : other.at]
            parted = any(one.text == "," for one in between) and any("all" in one.tags for one in between)
            if parted or any(one.text in (".", "!", "?", "\n") for one in between):
                return (), False
            words = sum(one.figure is None for one in between)
            return other.units, abs(at - place) == 1 and words <= 5
        if step == 1 and other.figure is not None and other.figure.kind == "pressure":
            break
        at += step
    left = items[place - 1] if step == 1 and place else item
    alone = place < 2 or items[place - 2].figure is None or _led(items, place - 1, pieces)
    return (left.units, True) if left.units and alone else ((), False)


def _led(items: list[GaugeItem], at: int, pieces: list[Span]) -> bool:
    """Whether unit numbers between two pressures belong to the second: a comma parts them from the first."""
    if not 0 < at < len(items) - 1 or items[at - 1].figure is None or items[at + 1].figure is None:
        return False
    first, unit, second = items[at - 1], items[at], items[at + 1]
    parted = any(one.text == "," for one in pieces[first.at + 1 : unit.at])
    return parted and not any(one.kind == "mark" for one in pieces[unit.at + 1 : second.at])


def _kind(
    item: GaugeItem, near: bool, pieces: list[Span], shared: str | None, figures: list[GaugeItem]
) -> str:
    """The unit of a pressure; "doubt" for a pressure without one; "" for what is no pressure."""
    figure = item.figure
    assert figure is not None
    if figure.kind == "pressure":
        return "doubt" if figure.doubt else figure.unit or "bar"  # "six fifty psi"
    if figure.value < LEAST or figure.value > 10000 or item.piece.glued:
        return ""
    before = pieces[max(item.at - 5, 0) : item.at]
    after = pieces[item.at + 1 : item.at + 2]
    if any(one.tags.label is not None and "gauge" not in one.tags for one in (*before[-1:], *after)):
        return ""
    if any("reference" in one.tags or "level" in one.tags for one in before[-2:]):
        return ""
    if after and "count" in after[0].tags:
        return ""
    beyond = pieces[item.at + 2].figure if item.at + 2 < len(pieces) else None
    if (after and "of" in after[0].tags and beyond) or (
        len(before) > 1 and "of" in before[-1].tags and before[-2].figure
    ):
        return ""  # "5 of 6 units"
    if after and "unit_t" in after[0].tags and (beyond is None or beyond.kind != "bare"):
        return ""
    near_after = pieces[item.at + 1 : item.at + 4]
    gauge = any("gauge" in one.tags for one in (*before, *near_after))
    if not (gauge or near or _runs_on(item, figures, pieces)):
        return ""
    if shared is None:
        return "doubt" if gauge or (near and figure.value >= 15) or _runs_on(item, figures, pieces) else ""
    stated = [one.figure.value for one in figures if one.figure and one.figure.kind == "pressure"]
    alike = stated[0] / 2.5 <= figure.value <= stated[0] * 2.5
    if not alike and _counts(item, pieces):
        return ""
    return shared if alike else "doubt"


def _counts(item: GaugeItem, pieces: list[Span]) -> bool:
    """ "all 14 pumped to 580 psi", "14 at 40 bar", "set = 14": how many they are, and no pressure."""
    figure = item.figure
    assert figure is not None
    before = [one for one in pieces[max(item.at - 2, 0) : item.at] if one.text not in ("=", ":")][-1:]
    after = pieces[item.at + 1 : item.at + 2]
    if any("all" in one.tags or ("set" in one.tags and "gauge" not in one.tags) for one in before):
        return True
    if not figure.whole or figure.value >= 100:
        return False
    following = after[0].figure if after else None
    if (
        following is not None
        and following.kind == "pressure"
        and not COUNTED.isdisjoint(before[-1].tags if before else ())
    ):
        return True  # "top seven 38 bar"
    beyond = pieces[item.at + 2].figure if item.at + 2 < len(pieces) else None
    at = beyond is not None and beyond.kind == "pressure" and not {"at", "gauge"}.isdisjoint(after[0].tags)
    return at or any("set" in one.tags for one in after)


def _runs_on(item: GaugeItem, figures: list[GaugeItem], pieces: list[Span]) -> bool:
    """ "45 46 44", "was 45 now 38 bar": one of several figures of a gauge in a row."""
    place = next(at for at, one in enumerate(figures) if one is item)
    for other in (*figures[max(place - 1, 0) : place], *figures[place + 1 : place + 2]):
        low, high = sorted((other.at, item.at))
        between = pieces[low + 1 : high]
        if len(between) > 4 or other.figure is None:
            continue
        is_pressure = other.figure.kind == "pressure" or (other.piece.used and other.at < item.at)
        joins = all(
            "was" in one.tags
            or "now" in one.tags
            or "range" in one.tags
            or "more" in one.tags
            or "link" in one.tags
            or not OF_SEVERAL.isdisjoint(one.tags)
            or one.text in (",", ">")
            for one in between
        )
        if is_pressure and joins:
            return True
    return False


def _changed(pieces: list[Span], items: list[GaugeItem], place: int) -> bool:
    """Whether a second pressure of a unit is said to follow the first ("was 45 now 38", "45 > 38")."""
    first, second = [one.at for one in items[:place] if one.figure is not None][-1], items[place].at
    if any(
        one.text == ">" or not {"now", "range", "dropping"}.isdisjoint(one.tags)
        for one in pieces[first + 1 : second]
    ):
        return True
    return any("was" in one.tags for one in (*pieces[max(first - 2, 0) : first], *pieces[first + 1 : second]))


def _spread(pieces: list[Span], items: list[GaugeItem], place: int) -> bool:
    """ "39 to 41 bar on all", "between 39 and 41", "lowest 39, highest 41": the lowest and the highest of
    several gauges: both are given. "36 rising to 48" is one that moves."""
    first, second = [one.at for one in items[:place] if one.figure is not None][-1], items[place].at
    least = [at for at in (first, second) if _ends(pieces, at, "lowest")]
    most = [at for at in (first, second) if _ends(pieces, at, "highest")]
    if least or most:
        return least != most and len(least) < 2 and len(most) < 2
    low, high = items[place - 1].figure, items[place].figure
    if low is None or high is None or not low.value < high.value:
        return False
    led = any("between" in one.tags for one in pieces[max(first - 2, 0) : first])
    joining = pieces[first + 1 : second]
    plain = any("range" in one.tags and " " not in one.text for one in joining)
    return plain or any(one.text == "-" or (led and "and" in one.tags) for one in joining)


def _ranged(pieces: list[Span], at: int) -> bool:
    """ "36 to 41 bar", "36 rising to 48": both are given, since neither is the reading of all."""
    return at > 1 and ("range" in pieces[at - 1].tags or pieces[at - 1].text == "-")


def _ends(pieces: list[Span], at: int, which: str) -> bool:
    """Whether the figure here is said to be the lowest, or the highest, of several."""
    before = pieces[max(at - 3, 0) : at]
    last = next((place for place in reversed(range(len(before))) if before[place].figure is not None), -1)
    return any(which in one.tags for one in before[last + 1 :])


def _was(pieces: list[Span], at: int) -> bool:
    return at > 0 and "was_at" in pieces[at - 1].tags


def _lost(pieces: list[Span], at: int) -> bool:
    """Whether a pressure is how much was lost: "dropped 5 bar", "6 bar down"."""
    before, after = pieces[max(at - 1, 0) : at], pieces[at + 1 : at + 2]
    return any("lost_by" in one.tags for one in before) or any("lost_after" in one.tags for one in after)


def _fall(items: list[GaugeItem], place: int, pieces: list[Span], said: PressuresRead) -> None:
    """A fall between two figures without a unit counts all the same."""
    before = [one for one in items[:place] if one.figure is not None]
    if not before:
        return
    first, second = before[-1].figure, items[place].figure
    assert first is not None and second is not None
    if not second.value < first.value or not _changed(pieces, items, place):
        return
    bare = first.kind == "bare" and first.whole and first.value >= LEAST
    near = items[place].at - before[-1].at == 2 or _was(pieces, before[-1].at)  # "45 now 40 on u3"
    if before[-1].piece.used or (bare and near):
        before[-1].piece.used = said.fell = True


def _target(pieces: list[Span], at: int) -> bool:
    """A pressure to be pumped to is no reading."""
    return any("target" in one.tags for one in pieces[max(at - 4, 0) : at])
