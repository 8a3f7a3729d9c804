"""A report counts only where its whole text is accounted for; what else is said closes, or is asked about.

Each text is told within a complete day: see `support/complete_day.py`.
"""

from collections.abc import Iterator

import pytest
from complete_day import ASK, DAY, Day, Probe, probes, put, wrong

from bot.config.basis import Basis

COUNT_AFTER_A_YES, COUNT_AT_ONCE = 0.95, 0.70  # of honest reports
SHOWN = probes("shown")
NEAR = probes("near")  # one word away from a report that counts
ABSORBED = probes("absorbed")  # made of words that each may stand beside a report, or in a question


@pytest.fixture
def day(basis: Basis) -> Iterator[Day]:
    """Everything is on record, and told by Fay and Sol alone."""
    yield from _day(basis, "")


@pytest.fixture
def no_ladder(basis: Basis) -> Iterator[Day]:
    """Everything is on record but the ladder."""
    yield from _day(basis, "ladder")


def _day(basis: Basis, without: str) -> Iterator[Day]:
    talk = Day(basis)
    for fact, who, text in DAY:
        if fact != without:
            talk.meant(who, text)
    yield talk
    talk.close()


def entry(day: Day) -> str | None:
    return day.say("S", ASK).entry


@pytest.mark.parametrize(
    "probe",
    [
        one
        for one in SHOWN + NEAR + ABSORBED
        if one.kind in ("nonreport", "hazard", "after") and not one.harmless
    ],
    ids=lambda probe: probe.text,
)
def test_what_is_no_whole_report_leaves_no_entry(basis: Basis, probe: Probe) -> None:
    told, reply, _ = put(probe, basis)
    assert not wrong(probe, told), reply


@pytest.mark.parametrize("probe", [one for one in NEAR if one.kind == "honest"], ids=lambda probe: probe.text)
def test_a_report_near_one_that_is_none_counts(basis: Basis, probe: Probe) -> None:
    told, reply, _ = put(probe, basis)
    assert not wrong(probe, told), reply


def test_honest_reports_count_after_one_yes_at_most(basis: Basis) -> None:
    honest = [one for one in SHOWN if one.kind == "honest"]
    went = [(one.text, *put(one, basis)) for one in honest]
    count = [asked for _, told, _, asked in went if told == "may"]
    assert len(count) >= COUNT_AFTER_A_YES * len(honest), [one[:3] for one in went if one[1] != "may"]
    assert count.count(False) >= COUNT_AT_ONCE * len(honest)


@pytest.mark.parametrize(
    "probe", [one for one in SHOWN + NEAR if one.kind == "ask"], ids=lambda probe: probe.text
)
def test_a_question_is_answered(basis: Basis, probe: Probe) -> None:
    told, reply, _ = put(probe, basis)
    assert told == "may", reply


PROPOSED = "T7 ladder in by dave"


def test_a_yes_counts_as_the_whole_text(no_ladder: Day) -> None:
    assert "YES" in no_ladder.say("F", PROPOSED).reply
    assert entry(no_ladder) == "no"
    no_ladder.say("F", "yes")
    no_ladder.say("S", "T7 inspected ok")
    assert entry(no_ladder) == "may"


@pytest.mark.parametrize(
    ("who", "answer", "minutes"),
    [("F", "no", 2), ("F", "yes", 16), ("R", "yes", 2), ("S", "yes", 2), ("F", "yes \U0001f44d?", 2)],
)
def test_no_other_answer_counts(no_ladder: Day, who: str, answer: str, minutes: float) -> None:
    no_ladder.say("F", PROPOSED)
    no_ladder.say(who, answer, minutes)
    no_ladder.say("S", "T7 inspected ok")
    assert entry(no_ladder) == "no"


@pytest.mark.parametrize(
    ("who", "text"),
    [
        ("R", "T7 crack in the face"),
        ("R", "T7 ladder taken out"),
        ("S", "T7 stop work"),
        ("R", "T7 dug to 1.9"),
    ],
)
def test_a_yes_is_void_after_a_hazard_an_undoing_a_stop_or_another_figure(
    no_ladder: Day, who: str, text: str
) -> None:
    no_ladder.say("F", PROPOSED)
    no_ladder.say(who, text)
    said = no_ladder.say("F", "yes")
    assert said.outcome["kind"] == "unclear", said.reply
    shown = no_ladder.say("S", ASK).outcome["missing"]
    assert "ladder" in [one["fact"] for one in shown]


def test_of_two_open_questions_one_yes_answers_neither(no_ladder: Day) -> None:
    no_ladder.say("F", "T8 depth 1.1 width 0.7 length 4 firm clay dry")
    no_ladder.say("F", PROPOSED)
    no_ladder.say("F", "T8 ladder in by dave")
    said = no_ladder.say("F", "yes")
    assert said.reply.startswith("YES to which?") and "T7" in said.reply and "T8" in said.reply
    no_ladder.say("F", "yes T7")
    assert "ladder" not in [one["fact"] for one in no_ladder.say("S", ASK).outcome["missing"]]


def test_a_plans_own_depth_told_alone_is_asked_about(basis: Basis) -> None:
    """ "1.6 deep" may be how deep it is dug; no other depth is offered."""
    days = _day(basis, "gap below")
    day = next(days)
    assert "YES" not in day.say("F", "1.8 deep in T7 now boss, taped it").reply.partition("Or text")[0]
    assert "YES" in day.say("F", "1.6 deep in T7 now boss, taped it").reply
    assert "gap below" in [one["fact"] for one in day.say("S", ASK).outcome["missing"]]
    day.say("F", "yes")
    assert "gap below" not in [one["fact"] for one in day.say("S", ASK).outcome["missing"]]
    next(days, None)


def test_a_text_of_one_who_spoke_of_no_trench_bears_on_the_open_one(day: Day) -> None:
    day.say("R", "ladder we use as bridge now")
    assert [one["fact"] for one in day.say("S", ASK).outcome["missing"]] == ["open text"]


@pytest.mark.parametrize("text", ["who is on tea duty", "whos got jump leads"])
def test_chat_without_a_word_of_a_trench_closes_nothing(day: Day, text: str) -> None:
    day.say("F", text)
    assert entry(day) == "may"


@pytest.mark.parametrize(("who", "text"), [("F", "T7 starting to strip out"), ("S", "strip T7")])
def test_nobody_is_let_in_while_units_come_out(day: Day, who: str, text: str) -> None:
    day.say(who, text)
    assert "stopped" in [one["fact"] for one in day.say("S", ASK).outcome["missing"]]


@pytest.mark.parametrize(
    "text", ["T7 is at 1.9 now, engineer wanted more bedding", "note T7 ladder borrowed", "T7 is at 2 now"]
)
def test_words_of_ones_own_hide_nothing_that_is_told_of_the_trench(day: Day, text: str) -> None:
    day.say("F", text)
    assert entry(day) == "no"


OPEN = "T7 wotsit for dougal"


def test_an_open_text_closes_until_its_sender_says_ignore(day: Day) -> None:
    day.say("F", OPEN)
    assert [one["fact"] for one in day.say("S", ASK).outcome["missing"]] == ["open text"]
    day.say("R", "ignore T7")
    assert entry(day) == "no"
    day.say("F", "ignore")
    assert entry(day) == "may"


def test_seen_covers_only_what_was_listed(day: Day) -> None:
    day.say("F", OPEN)
    assert OPEN in day.say("S", "seen T7").reply
    day.say("R", "T7 wotsit again from col")
    assert "wotsit" in day.say("S", "seen T7").reply
    assert entry(day) == "no"
    day.say("S", "seen T7")
    assert entry(day) == "may"


def test_seen_of_a_fitter_clears_nothing(day: Day) -> None:
    day.say("F", OPEN)
    day.say("F", "seen T7")
    assert entry(day) == "no"


@pytest.mark.parametrize("text", ["seen T7", "ignore", "yes", "all safe T7", "T7 ladder in"])
def test_a_stop_of_the_supervisor_is_lifted_only_by_a_new_inspection(day: Day, text: str) -> None:
    day.say("S", "T7 stop work")
    day.say("S", text)
    assert [one["fact"] for one in day.say("S", ASK).outcome["missing"]] == ["stopped"]
    day.say("S", "T7 inspected")  # without a verdict
    assert entry(day) == "no"
    day.say("S", "T7 inspected ok")
    assert entry(day) == "may"


MAYBE = "T7 bank looks tired"


def test_all_safe_of_the_sender_after_an_inspection_is_not_enough(day: Day) -> None:
    assert "ALL SAFE" in day.say("F", MAYBE).reply
    day.say("F", "all safe T7")
    assert entry(day) == "no"
    day.say("S", "T7 inspected ok")
    last = day.say("S", ASK)
    assert last.entry == "may" and MAYBE in last.reply


def test_all_safe_of_the_sender_before_the_inspection_lifts_it(basis: Basis) -> None:
    talk = Day(basis)
    for fact, who, text in DAY:
        if fact == "inspection":
            talk.say("F", MAYBE)
            talk.say("F", "all safe T7")
            missing = [one["fact"] for one in talk.say("S", ASK).outcome["missing"]]
            assert missing == ["inspection"]
        talk.meant(who, text)
    last = talk.say("S", ASK)
    talk.close()
    assert last.entry == "may"


@pytest.mark.parametrize("text", ["cheers mate", "morning all"])
def test_chat_closes_nothing(day: Day, text: str) -> None:
    day.say("F", text)
    assert entry(day) == "may"


@pytest.mark.parametrize(
    "text", ["T7 ladder in \U0001f44e", "T7 \U0001f6ab ladder in", "T7 ladder in \U0001f937"]
)
def test_an_emoji_is_left_over(no_ladder: Day, text: str) -> None:
    no_ladder.say("F", text)
    no_ladder.say("S", "T7 inspected ok")
    assert entry(no_ladder) == "no"
