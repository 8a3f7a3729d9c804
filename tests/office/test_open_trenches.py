"""Which trenches of the first page are folded away as silent: none of which anybody wrote today."""

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
