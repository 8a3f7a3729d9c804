"""A logged answer worked again with today's tables: what differs, and from where."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bot.message import event_name
from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import Details
from knowledge.record.state import Event
from knowledge.record.trench import Trench
from knowledge.sizing.size import size
from knowledge.tables.load import Tables

SIZING = ("sized", "stop")  # what was asked instead of sized hangs on the words, not on figures


@dataclass(frozen=True)
class Difference:
    """One field of the outcome, or one line of the sheet, then and now; None where it is not there."""

    name: str
    then: Any
    now: Any


@dataclass(frozen=True)
class WorkedAgain:
    """The figures that the answer was worked from, today's answer to them, and what differs."""

    figures: Details
    outcome: Ask | Stop | Sized
    differences: tuple[Difference, ...]
    stamp: str
    same_tables: bool


def work_again(row: Mapping[str, Any], trench: Trench | None, tables: Tables) -> WorkedAgain | None:
    """Work an exchange of the log again. None where it was no sizing, or its figures are not on record."""
    if row["kind"] not in SIZING or row["outcome"] is None or trench is None:
        return None
    place = _place(row, trench.events)
    if place is None:
        return None
    event, state = trench.events[place], trench.states[place]
    figures = event.sized_on or state.details
    outcome = size(figures, tables, trench.rulebook, trench.kit)
    found = differences(json.loads(row["outcome"]), outcome.public())
    return WorkedAgain(figures, outcome, found, tables.stamp, row["stamp"] == tables.stamp)


def _place(row: Mapping[str, Any], events: tuple[Event, ...]) -> int | None:
    """Where in the record the message stands, by the id that its answer gave it."""
    name = event_name(row["channel"], row["sender"], row["message_id"])
    return next((i for i, event in enumerate(events) if event.id == name), None)


def differences(then: dict[str, Any], now: dict[str, Any]) -> tuple[Difference, ...]:
    """How two outcomes differ, field by field and line by line of their sheets."""
    lines = (_lines(then.pop("sheet", [])), _lines(now.pop("sheet", [])))
    return (*changed(then, now), *changed(*lines))


def changed(then: dict[str, Any], now: dict[str, Any]) -> list[Difference]:
    """The names that do not hold the same in both."""
    names = dict.fromkeys((*then, *now))
    return [Difference(n, then.get(n), now.get(n)) for n in names if then.get(n) != now.get(n)]


def _lines(sheet: list[dict[str, Any]]) -> dict[str, str]:
    """Each line of a sheet under its symbol; a symbol that comes again is counted."""
    found: dict[str, str] = {}
    for line in sheet:
        times = sum(name.split(" (")[0] == line["symbol"] for name in found)
        name = f"{line['symbol']} ({times + 1})" if times else line["symbol"]
        found[name] = f"{line['formula']} = {line['value']:.6g} {line['unit']}"
    return found
