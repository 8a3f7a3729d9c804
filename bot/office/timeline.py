"""One line of time a day: dug, set, read, danger, inspected, who was let in, and each text. Pure."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo

from markupsafe import Markup

from bot.drawing.svg import box, drawing, element, line, text
from bot.office.gauge_strip import reading_state
from knowledge.entry.inspection import inspections
from knowledge.entry.may_enter import allowance
from knowledge.record.set_shores import Bands
from knowledge.record.shift import Shift
from knowledge.record.state import TrenchState
from knowledge.record.trench import Event, Trench
from knowledge.tables.load import Tables
from knowledge.units import printed

WIDE, LEFT, RIGHT = 1000.0, 92.0, 24.0
LANE, TOP, FOOT = 28.0, 8.0, 26.0
LEAST = timedelta(minutes=10)  # that a line shows
LANES = ("Dug", "Units set", "Gauges", "Danger", "Held", "Inspected", "People in", "Texts")
INK, BAD, GOOD, WAIT = "#1c2528", "#98210f", "#0d5c48", "#6d4a00"
CLOSE = 26.0  # two marks nearer than this share one label


@dataclass(frozen=True)
class DayLine:
    """A day, and its line as a drawing."""

    day: date
    svg: Markup


@dataclass(frozen=True)
class HeldSpan:
    """From when to when something held, and its name."""

    begin: datetime
    end: datetime
    name: str


def day_lines(trench: Trench, tables: Tables, shift: Shift, now: datetime) -> list[DayLine]:
    """Every day on which something was told, the latest first."""
    spans = _spans(trench, tables, shift, now)
    days = sorted({_day(event.at, shift.zone) for event in trench.events}, reverse=True)
    return [DayLine(day, _drawn(trench, tables, shift.zone, day, spans, now)) for day in days]


def _day(at: datetime, zone: tzinfo) -> date:
    return at.astimezone(zone).date()


def _spans(trench: Trench, tables: Tables, shift: Shift, now: datetime) -> dict[str, list[HeldSpan]]:
    end = trench.now.closed.at if trench.now.closed else now
    return {
        "Danger": list(_held(trench, _dangers, end)),
        "Held": list(_held(trench, _stops, end)),
        "People in": list(_inside(trench, tables, shift, now)),
    }


def _dangers(state: TrenchState) -> str:
    possible = ["possible danger"] if state.possible else []
    return ", ".join(dict.fromkeys([*(each.kind for each in state.hazards), *possible]))


def _stops(state: TrenchState) -> str:
    names = [
        *(["stopped"] if state.stopped else []),
        *(["refused"] if state.refused else []),
        *(["past its plan"] if any(each.what == "depth" for each in state.changed) else []),
        *(["not understood"] if state.open_texts else []),
    ]
    return ", ".join(names)


def _held(trench: Trench, name: Callable[[TrenchState], str], end: datetime) -> Iterator[HeldSpan]:
    """The spans in which a state has one name that is not empty."""
    begin, said = end, ""
    for event, state in zip(trench.events, trench.states, strict=True):
        now = name(state)
        if now != said:
            if said:
                yield HeldSpan(begin, event.at, said)
            begin, said = event.at, now
    if said:
        yield HeldSpan(begin, end, said)


def _inside(trench: Trench, tables: Tables, shift: Shift, now: datetime) -> Iterator[HeldSpan]:
    """When a leave was in force, by whom given."""
    open_: HeldSpan | None = None
    for n, event in enumerate(trench.events, start=1):
        then = replace(trench, events=trench.events[:n], states=trench.states[:n])
        given = allowance(then, event.at, tables, shift)
        if open_ and (given is None or event.at > open_.end):
            yield replace(open_, end=min(open_.end, event.at))
            open_ = None
        if given:
            open_ = HeldSpan(open_.begin if open_ else given.at, given.until, given.by)
    if open_:
        yield replace(open_, end=min(open_.end, max(now, open_.begin)))


def _drawn(
    trench: Trench, tables: Tables, zone: tzinfo, day: date, spans: dict[str, list[HeldSpan]], now: datetime
) -> Markup:
    told = [
        (event, state)
        for event, state in zip(trench.events, trench.states, strict=True)
        if _day(event.at, zone) == day
    ]
    first, last = told[0][0].at, told[-1][0].at
    if _day(now, zone) == day:
        last = max(last, now)
    last = max(last, first + LEAST)
    axis = _Axis(first, last)
    parts = list(_frame(axis, zone))
    parts += _dug(told, axis)
    parts += _set(told, axis)
    parts += _gauges(told, axis, tables)
    for lane, colour in (("Danger", BAD), ("Held", WAIT), ("People in", GOOD)):
        parts += _bars(spans[lane], lane, axis, colour)
    inspected = {event.id for event in inspections(trench, tables)}
    parts += _inspected([event for event, _ in told if event.id in inspected], axis)
    parts += [
        line(axis.x(e.at), _y("Texts") - 6, axis.x(e.at), _y("Texts") + 6, stroke=INK, stroke_width=1.5)
        for e, _ in told
    ]
    name = f"line-{day.isoformat()}"
    height = TOP + LANE * len(LANES) + FOOT
    return drawing(WIDE, height, f"Line of {day:%d %b %Y}", _in_words(told, spans, zone, day), name, parts)


@dataclass(frozen=True)
class _Axis:
    first: datetime
    last: datetime

    def x(self, at: datetime) -> float:
        share = (at - self.first) / (self.last - self.first)
        return LEFT + 8 + min(max(share, 0.0), 1.0) * (WIDE - LEFT - RIGHT - 8)

    def shows(self, span: HeldSpan) -> bool:
        return span.begin <= self.last and span.end >= self.first


def _y(lane: str) -> float:
    """The middle of a lane."""
    return TOP + LANE * (LANES.index(lane) + 0.5)


def _frame(axis: _Axis, zone: tzinfo) -> Iterator[Markup]:
    bottom = TOP + LANE * len(LANES)
    for n, lane in enumerate(LANES):
        y = TOP + LANE * n
        if n % 2 == 0:
            yield box(0, y, WIDE, LANE, fill="#f3efe5")
        yield text(4, y + LANE / 2 + 4, lane)
    for at in _ticks(axis, zone):
        x = axis.x(at)
        yield line(x, TOP, x, bottom, stroke="#d8d3c7")
        yield text(x, bottom + 16, f"{at.astimezone(zone):%H:%M}", text_anchor="middle", font_size=11)


def _ticks(axis: _Axis, zone: tzinfo) -> Iterator[datetime]:
    """Some six round times."""
    span = axis.last - axis.first
    step = next(
        (timedelta(minutes=n) for n in (2, 5, 10, 15, 30, 60, 120, 180) if span <= timedelta(minutes=7 * n)),
        timedelta(hours=4),
    )
    midnight = axis.first.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    at = midnight + ((axis.first - midnight) // step + 1) * step
    while at <= axis.last:
        yield at
        at += step


def _labels(places: Sequence[tuple[float, str]], lane: str, colour: str = INK) -> list[Markup]:
    """Words beside marks; where two are too near each other the later one stands."""
    shown: list[tuple[float, str]] = []
    for x, said in places:
        while shown and x - shown[-1][0] < CLOSE + 3.2 * len(shown[-1][1]):
            shown.pop()
        shown.append((x, said))
    return [_label(x, said, lane, colour) for x, said in shown]


def _label(x: float, said: str, lane: str, colour: str) -> Markup:
    flip = x > WIDE - RIGHT - 7 * len(said)
    return text(
        x - 6 if flip else x + 6,
        _y(lane) + 4,
        said,
        fill=colour,
        font_size=11,
        text_anchor="end" if flip else None,
    )


def _dug(told: Sequence[tuple[Event, TrenchState]], axis: _Axis) -> list[Markup]:
    marks, before = [], None
    for event, state in told:
        if state.dug_m is not None and state.dug_m != before:
            marks.append((axis.x(event.at), f"{printed(state.dug_m)} m"))
            before = state.dug_m
    dots = [element("path", d=f"M {x - 4:.1f} {_y('Dug') - 4:.1f} h 8 l -4 9 z", fill=INK) for x, _ in marks]
    return [*dots, *_labels(marks, "Dug")]


def _set(told: Sequence[tuple[Event, TrenchState]], axis: _Axis) -> list[Markup]:
    marks, before = [], None
    for event, state in told:
        standing = state.shores.standing, state.shores.planned
        if standing != before and (standing[0] or before):
            marks.append((axis.x(event.at), f"{standing[0]} of {standing[1] or '?'}"))
        before = standing
    dots = [box(x - 4, _y("Units set") - 4, 8, 8, fill=INK) for x, _ in marks]
    return [*dots, *_labels(marks, "Units set")]


def _gauges(told: Sequence[tuple[Event, TrenchState]], axis: _Axis, tables: Tables) -> list[Markup]:
    parts = []
    marks = []
    for event, state in told:
        if not event.reading.gauges:
            continue
        bands, x, y = Bands.of(state.plan, tables.entry), axis.x(event.at), _y("Gauges")
        read = {
            unit: reading_state(g, bands, state.dug_m)
            for unit, g in state.shores.gauges.items()
            if g.at == event.at
        }
        odd = [unit for unit, each in read.items() if each != "in"]
        if odd:
            parts.append(
                element(
                    "path",
                    d=f"M {x - 5:.1f} {y - 5:.1f} l 10 10 m 0 -10 l -10 10",
                    stroke=BAD,
                    stroke_width=2.5,
                )
            )
            marks.append((x, f"{len(odd)} of {len(read)} outside"))
        else:
            parts.append(element("circle", cx=x, cy=y, r=4, fill=GOOD))
            marks.append((x, f"{len(read)} read"))
    return [*parts, *_labels(marks, "Gauges")]


def _bars(spans: Sequence[HeldSpan], lane: str, axis: _Axis, colour: str) -> list[Markup]:
    parts: list[Markup] = []
    for span in spans:
        if axis.shows(span):
            x0, x1, y = axis.x(span.begin), axis.x(span.end), _y(lane)
            parts.append(box(x0, y - 8, max(x1 - x0, 3.0), 16, fill="#fff", stroke=colour, stroke_width=2))
            room = max(x1 - x0, 0.0)
            inside = room > 7 * len(span.name)
            at = x0 + 2 if inside else x1
            parts.append(_label(at, span.name, lane, colour))
    return parts


def _inspected(told: Sequence[Event], axis: _Axis) -> list[Markup]:
    parts, marks = [], []
    for event in told:
        x, y = axis.x(event.at), _y("Inspected")
        safe = event.reading.verdict == "safe"
        parts.append(
            element(
                "path",
                d=f"M {x:.1f} {y - 6:.1f} l 6 6 l -6 6 l -6 -6 z",
                fill=GOOD if safe else "#fff",
                stroke=GOOD if safe else BAD,
            )
        )
        marks.append((x + 3, f"{event.by}{'' if safe else ': ' + (event.reading.verdict or 'no verdict')}"))
    return [*parts, *_labels(marks, "Inspected")]


def _in_words(
    told: Sequence[tuple[Event, TrenchState]], spans: dict[str, list[HeldSpan]], zone: tzinfo, day: date
) -> str:
    """The line as sentences, for those who cannot see it."""
    said = [f"{len(told)} texts"]
    depths = [state.dug_m for _, state in told if state.dug_m is not None]
    if depths:
        said.append(f"dug to {printed(depths[-1])} m")
    for lane, own in spans.items():
        for span in own:
            begin, end = (at.astimezone(zone) for at in (span.begin, span.end))
            if begin.date() <= day <= end.date():
                said.append(f"{lane}: {span.name}, {begin:%d %b %H:%M} to {end:%d %b %H:%M}")
    return "; ".join(said) + "."
