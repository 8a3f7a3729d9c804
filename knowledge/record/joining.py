"""Two references that turned out to be one trench.

What was told under either is put in one order; but nobody who told one record knew of the other, so that what
stood against entry on either is told again at the joining, the worse of two figures stands, and the trench is
inspected anew.
"""

from collections.abc import Iterable, Iterator
from typing import Any, TypeVar

from knowledge.reading import Details, Gauge, Reading, UnitsSet
from knowledge.record.state import Event, Quoted, TrenchState
from knowledge.tables.entry_rules import EntryRules

_JOINED = ("joined",)  # left over in what is told again, so that it counts only against entry
_QuotedT = TypeVar("_QuotedT", bound=Quoted)


def told_again(
    events: tuple[Event, ...], now: TrenchState, joined: TrenchState, rules: EntryRules
) -> Iterator[Event]:
    """What stood against entry on one of two records, `now` after its `events`, that became `joined`.

    Each event is the one that told it, as far as it speaks against entry; the record as a whole is told in
    the name of the last who might tell it.
    """
    first = {event.id: event for event in events}
    if events:
        teller = next((event for event in reversed(events) if rules.may(event.role, "tell")), events[-1])
        for reading in _as_a_whole(now, joined):
            yield _again(teller, reading)
    for text in _ended(now.open_texts, joined.open_texts):
        yield _again(first[text.said.event], Reading(left_over=_JOINED), open_text=True)
    for stop in _ended(now.stopped, joined.stopped):
        yield _again(first[stop.said.event], Reading(purpose="stop", left_over=_JOINED))
    for each in _ended(now.possible, joined.possible):
        reading = Reading(possible_hazard=True, danger=each.danger, left_over=_JOINED)
        yield _again(first[each.said.event], reading)


def _as_a_whole(now: TrenchState, joined: TrenchState) -> Iterator[Reading]:
    depth, shores = now.details.depth_m, now.shores
    if depth is not None and depth > (joined.details.depth_m or 0.0):
        yield Reading(purpose="size", depth_m=depth, left_over=_JOINED)
    told: dict[str, Any] = {name: getattr(now.details, name) for name in Details.model_fields}
    told |= {
        "depth_m": now.dug_m,
        "spoil_m": now.spoil_m,
        "gauges": tuple(Gauge(unit=unit or None, bar=g.bar) for unit, g in sorted(shores.gauges.items())),
        "units_set": UnitsSet(n=shores.standing) if shores.standing else None,
        "hazards": tuple(each.kind for each in now.hazards),
    }
    yield Reading(purpose="report", undone=("inspection",), left_over=_JOINED, **told)


def _again(event: Event, reading: Reading, open_text: bool = False) -> Event:
    return Event(
        id=event.id,
        at=event.at,
        by=event.by,
        number=event.number,
        role=event.role,
        reading=reading,
        words=event.words,
        open_text=open_text,
    )


def _ended(held: Iterable[_QuotedT], still: Iterable[Quoted]) -> list[_QuotedT]:
    """Those that one record held and the joined one does not: somebody answered for them who saw the
    other."""
    there = {each.said.event for each in still}
    return [each for each in held if each.said.event not in there]
