"""How a trench stands on the first page: what is missing since when, and which are folded away as silent."""

from datetime import timedelta

import pytest
from trench_days import MINUTE, Day, tables

from bot.message import Site
from bot.office.open_trenches import TrenchStatus, trench_status
from bot.office.waiting import Waiting
from knowledge.reading import Reading

SITE = Site("Mill Lane")


def status(day: Day, *asked: Waiting) -> TrenchStatus:
    return trench_status(day.trench, SITE, tables, day.now, asked)


def test_a_trench_of_which_nobody_wrote_for_a_day_is_silent() -> None:
    day = Day().sized().works().wait(days=2)
    assert status(day).silent(day.now)
    assert status(day).heard_at == day.now - timedelta(days=2)


@pytest.mark.parametrize("more", [{"open_text": True}, {}])
def test_what_was_not_understood_was_heard(more: dict[str, bool]) -> None:
    day = (
        Day().sized().works().wait(days=2).tell(Reading(left_over=("grand",)), words="its grand like", **more)
    )
    assert not status(day).silent(day.now)
    assert status(day).heard_at == day.now


def test_so_was_what_was_asked_about_and_not_answered() -> None:
    day = Day().sized().wait(days=2)
    asked = Waiting("question", "Sam", "+447700900123", day.now - MINUTE, "", ("width_m",))
    assert not status(day, asked).silent(day.now)


def test_what_lapsed_with_time_is_not_dated_by_a_later_text() -> None:
    """Its sentence says itself since when: "for under a minute" beside it contradicted that."""
    day = Day().sized().works().wait(days=2).tell(Reading(unread=("hello",)))
    since = {gap.missing.id: gap.since for gap in status(day).gaps}
    lapsed = [each for each in since if each.endswith(".stale")]
    assert lapsed and all(since[each] is None for each in lapsed)
