"""Open texts, stops and possible danger: what opens them, what ends them, and what does not.

Expected answers follow from the design: what is not understood is not nothing, and nobody answers for words
that they had not been shown.
"""

from collections.abc import Callable

import pytest
from trench_days import (
    ALLOW,
    ASKED,
    DRY,
    INSPECTED,
    LADDER,
    MINUTE,
    SHIFT,
    Day,
    event,
    good_day,
    hazard,
    tables,
)

from knowledge.entry.may_enter import entry
from knowledge.outcome import Entry
from knowledge.reading import Reading
from knowledge.record.trench import Role, told

CHAT = Reading(purpose="chat")
UNCLEAR = Reading(purpose="unclear", left_over=("the far corner looks odd",))
STOP = Reading(purpose="stop")
IGNORE = Reading(purpose="answer", answer="ignore")
SEEN = Reading(purpose="answer", answer="seen")
YES = Reading(purpose="answer", answer="yes", done=("ladder",))
NO = Reading(purpose="answer", answer="no")
ALL_SAFE = Reading(purpose="answer", answer="all safe")
DANGER = hazard("other")
WORDS = "the far corner looks odd,  said robin when he came past\nthis morning"
Then = Callable[[Day], Day]


def last(day: Day) -> str:
    return day.trench.events[-1].id


def opened(role: Role = "fitter") -> Day:
    return good_day().tell(UNCLEAR, role, open_text=True, words=WORDS)


def says(reading: Reading, role: Role = "fitter", **more: object) -> Then:
    return lambda day: day.tell(reading, role, **more)


def sees(reading: Reading = SEEN, role: Role = "supervisor") -> Then:
    return lambda day: day.tell(reading, role, seen=(last(day),))


def say(found: Entry, fact: str) -> list[str]:
    return [each.say for each in found.missing if each.fact == fact]


# ---------------------------------------------------------------- open texts

PARTLY = ("and then some",)


@pytest.mark.parametrize(
    ("then", "ends"),
    [
        (says(LADDER), True),  # the sender says it otherwise, and it is taken
        (says(YES), True),
        (says(IGNORE), True),
        (says(STOP), True),
        (sees(), True),
        (sees(INSPECTED), True),  # inspected after its words were shown
        (says(INSPECTED, "supervisor"), False),
        (says(SEEN, "supervisor"), False),  # the words were not shown
        (sees(role="fitter"), False),
        (sees(role="office"), False),
        (sees(SEEN.model_copy(update={"left_over": PARTLY})), False),
        (says(LADDER, "supervisor"), False),  # another number
        (says(IGNORE, "supervisor"), False),
        (says(NO), False),
        (says(CHAT), False),
        (says(ASKED), False),
        (says(LADDER.model_copy(update={"left_over": PARTLY})), False),
        (says(IGNORE.model_copy(update={"left_over": PARTLY})), False),
        (says(UNCLEAR, open_text=True), False),
        (says(LADDER, open_text=True), False),
    ],
)
def test_what_ends_an_open_text(then: Then, ends: bool) -> None:
    day = opened()
    assert day.missing() == {"open text"}
    assert ("open text" not in then(day).missing()) == ends


@pytest.mark.parametrize("then", [says(IGNORE), says(LADDER), sees(), sees(INSPECTED)])
def test_what_was_sent_before_and_came_in_after_ends_nothing(then: Then) -> None:
    """And the other way round: an open text that comes in late stays open, whoever has answered meanwhile."""
    day = good_day()
    late = event(UNCLEAR, day.now + MINUTE / 2, open_text=True, words=WORDS)
    day.trench = told(day.tell(CHAT).trench, late, tables)
    assert "open text" in day.missing()
    first = good_day()
    text = event(UNCLEAR, first.now + MINUTE / 2, open_text=True)
    then(first)
    first.trench = told(first.trench, text, tables)
    assert "open text" in first.missing()


def test_seen_covers_what_it_names_only() -> None:
    day = opened()
    first = last(day)
    day.tell(UNCLEAR, open_text=True, words="and the near one")
    day.tell(SEEN, "supervisor", seen=(first,))
    assert [each.words for each in day.trench.now.open_texts] == ["and the near one"]


def test_an_open_text_says_who_when_and_how_it_begins() -> None:
    """Forty signs of it, on one line: the rest is on the log."""
    found = opened().entry()
    assert say(found, "open text") == [
        'Not understood, Sam 07:40: "the far corner looks odd, said robin whe". Reword it, or text IGNORE;'
        " or the supervisor texts SEEN."
    ]


def test_the_office_is_not_understood_either() -> None:
    day = opened("office")
    assert "open text" in day.missing()
    assert "open text" in day.tell(LADDER, "office").missing(), "the office reports nothing"
    assert day.tell(IGNORE, "office").missing() == set()


# ---------------------------------------------------------------- stops


@pytest.mark.parametrize(
    ("by", "then", "ends"),
    [
        ("fitter", says(INSPECTED, "supervisor"), True),
        ("supervisor", says(INSPECTED, "supervisor"), True),
        ("office", says(INSPECTED, "supervisor"), True),
        ("fitter", sees(), True),
        ("supervisor", sees(), False),
        ("office", sees(), False),
        ("fitter", sees(role="fitter"), False),
        ("fitter", says(IGNORE), False),
        ("fitter", says(LADDER), False),
        ("fitter", says(INSPECTED), False),
        ("supervisor", says(IGNORE, "supervisor"), False),
        ("supervisor", says(INSPECTED.model_copy(update={"verdict": None}), "supervisor"), False),
        ("supervisor", says(INSPECTED.model_copy(update={"left_over": PARTLY}), "supervisor"), False),
        ("supervisor", says(ALL_SAFE, "supervisor"), False),
    ],
)
def test_who_lifts_whose_stop(by: Role, then: Then, ends: bool) -> None:
    day = good_day().tell(STOP, by, words="nobody in")
    assert day.missing() == {"stopped"}
    assert ("stopped" not in then(day).missing()) == ends


def test_not_safe_is_a_stop_and_no_inspection() -> None:
    day = good_day()
    inspected = day.trench.now.inspected
    day.tell(INSPECTED.model_copy(update={"verdict": "not safe"}), "supervisor")
    assert day.missing() == {"stopped"}
    assert day.trench.now.inspected == inspected


def test_a_stop_that_comes_in_after_an_inspection_stands() -> None:
    day = good_day()
    day.trench = told(day.trench, event(STOP, day.now - MINUTE / 2), tables)
    assert day.missing() == {"stopped"}


def test_a_stop_says_who_and_when() -> None:
    found = good_day().tell(STOP, "supervisor", words="not happy, nobody in").entry()
    assert say(found, "stopped") == ['Stopped by Alex 07:40: "not happy, nobody in". Nobody in.']


def test_what_stood_against_entry_outlives_the_closing() -> None:
    day = opened().tell(STOP).tell(Reading(possible_hazard=True, danger=0.6))
    day.tell(Reading(purpose="close")).tell(DRY)
    now = day.trench.now
    assert not day.trench.closed
    assert (len(now.stopped), len(now.possible)) == (1, 1)


# ---------------------------------------------------------------- inspections


@pytest.mark.parametrize(
    "spoilt",
    [
        {"verdict": None},
        {"verdict": "not safe"},
        {"left_over": PARTLY},
        {"hazards": ("crack",)},
        {"undone": ("ladder",)},
        {"possible_hazard": True},
        {"proposed": ("ladder",)},
        {"questions": ("trench",)},
        {"water": "standing"},
        {"face": "running"},
        {"ends": "open"},
        {"done": ("inspection", "units out")},
        {"done": ()},
        {"purpose": "stop"},
    ],
)
def test_an_inspection_counts_only_whole_safe_and_with_nothing_against_it(spoilt: dict[str, object]) -> None:
    day = Day().sized().works().tell(INSPECTED.model_copy(update=spoilt), "supervisor")
    assert day.trench.now.inspected is None
    assert "inspection" in day.missing()
    assert day.tell(INSPECTED, "supervisor", open_text=True).trench.now.inspected is None


# ---------------------------------------------------------------- possible danger


def perhaps(danger: float | None = 0.6, day: Day | None = None, **more: object) -> Day:
    heard = Reading(purpose="unclear", possible_hazard=True, danger=danger)
    return (day or Day().sized().works()).tell(heard, words="she's talking to us a bit", **more)


@pytest.mark.parametrize(
    ("danger", "inspected", "then", "lifts"),
    [
        (0.6, False, says(ALL_SAFE), True),
        (0.79, False, says(ALL_SAFE), True),
        (0.8, False, says(ALL_SAFE), False),
        (None, False, says(ALL_SAFE), False),
        (0.6, True, says(ALL_SAFE), False),
        (0.6, False, says(ALL_SAFE, "office"), False),
        (0.6, False, says(ALL_SAFE.model_copy(update={"left_over": PARTLY})), False),
        (0.95, True, says(ALL_SAFE, "supervisor"), True),
        (0.95, True, says(INSPECTED, "supervisor"), True),
        (0.6, False, says(INSPECTED), False),
        (0.6, False, says(IGNORE), False),
        (0.6, False, sees(), False),
        (0.6, False, says(NO), False),
        (0.6, False, says(LADDER), False),
    ],
)
def test_who_lifts_a_possible_danger(danger: float | None, inspected: bool, then: Then, lifts: bool) -> None:
    day = perhaps(danger, good_day() if inspected else None)
    assert "open hazard" in day.missing()
    assert ("open hazard" not in then(day).missing()) == lifts


def test_danger_turns_it_into_a_hazard_and_only_an_inspection_clears_that() -> None:
    day = perhaps(day=good_day()).tell(DANGER)
    assert (day.trench.now.possible, [each.kind for each in day.trench.now.hazards]) == ((), ["other"])
    assert "open hazard" in day.tell(ALL_SAFE, "supervisor").missing()
    assert day.tell(INSPECTED, "supervisor").missing() == set()


def test_an_all_safe_sent_before_it_came_in_lifts_nothing() -> None:
    day = good_day()
    at = day.now + MINUTE / 2
    day.tell(ALL_SAFE, "supervisor").tell(INSPECTED, "supervisor")
    heard = event(Reading(possible_hazard=True, danger=0.6), at, words="odd noise")
    day.trench = told(day.trench, heard, tables)
    assert day.missing() == {"open hazard"}


def test_its_words_stand_beside_the_next_may_until_an_inspection_after_it() -> None:
    def doubts(day: Day) -> list[str]:
        return [each.say for each in day.entry().cautions if each.id == "entry.doubted"]

    day = perhaps(day=good_day())
    assert say(day.entry(), "open hazard") == [
        'Maybe danger, Sam 07:40: "she\'s talking to us a bit". All stay out until ALL SAFE or inspected.'
    ]
    assert doubts(day.tell(ALL_SAFE, "supervisor")) == [
        'Sam wrote 07:40: "she\'s talking to us a bit", later called safe. Look for yourself.'
    ]
    assert doubts(day.tell(INSPECTED, "supervisor")) == []
    assert len(doubts(perhaps(day=day).tell(INSPECTED, "supervisor"))) == 1
    assert doubts(day.tell(INSPECTED, "supervisor")) == []


# ---------------------------------------------------------------- an allowance that sleeps


@pytest.mark.parametrize(
    ("minutes", "end", "wakes"),
    [
        (14, says(IGNORE), True),
        (14, sees(), True),
        (14, says(LADDER), True),
        (16, says(IGNORE), False),
        (5, says(INSPECTED, "supervisor"), False),  # it stays open
    ],
)
def test_an_allowance_sleeps_while_words_are_open(minutes: int, end: Then, wakes: bool) -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    assert day.entry().allowed_by == "Alex"
    day.tell(UNCLEAR, open_text=True)
    assert day.entry().allowed_by is None
    day.wait(minutes=minutes - 1)
    assert day.entry().allowed_by is None
    assert (end(day).entry().allowed_by == "Alex") == wakes


@pytest.mark.parametrize(
    "worse", [Reading(undone=("ladder",)), hazard("rain"), STOP, Reading(possible_hazard=True)]
)
def test_a_sleeping_allowance_ends_for_good_by_anything_else(worse: Reading) -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True).tell(UNCLEAR, open_text=True).tell(worse)
    day.tell(LADDER).tell(IGNORE).tell(INSPECTED, "supervisor").tell(ALL_SAFE, "supervisor")
    if "water" in day.missing():
        day.tell(DRY)
    assert (day.entry().entry, day.entry().allowed_by) == ("may", None)


def test_nobody_is_let_in_while_words_are_open() -> None:
    day = opened().tell(ALLOW, "supervisor", code_ok=True)
    assert day.tell(IGNORE).entry().entry == "may"
    assert day.entry().allowed_by is None


def test_sentences_hold_up_without_words() -> None:
    """Words that were erased, or a brace in them, break no reply."""
    day = good_day().tell(STOP).tell(UNCLEAR, open_text=True, words="{trench} {0} }")
    said = [each.say for each in entry(day.trench, day.now, tables, SHIFT).missing]
    assert said[0] == 'Stopped by Sam 07:40: "...". Nobody in.'
    assert "{trench} {0} }" in said[1]
