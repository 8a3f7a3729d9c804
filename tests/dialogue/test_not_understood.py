"""What is answered to a text that is not understood: how to say it, and nobody in till then."""

from collections.abc import Iterator

import pytest
from complete_day import DAY, Day
from talk import Talk

from bot.config.basis import Basis

WHOLE = len(DAY)


@pytest.fixture
def day(basis: Basis) -> Iterator[Day]:
    day = Day(basis)
    yield day
    day.close()


def told(day: Day, many: int) -> Day:
    for _, who, text in DAY[:many]:
        day.say(who, text)
    return day


@pytest.mark.parametrize(
    ("many", "who", "text", "taught"),
    [
        (
            1,
            "F",
            "T7 all what the scanner found has paint on now",
            "T7 services located (",
        ),
        (
            2,
            "F",
            "T7 hydraulics is all in an pumped, every clock on forty odd",
            "T7 all units set, all at __ bar (",
        ),
        (3, "F", "T7 final level done!! 1600mm by the dipstick both ends n middle", "T7 dug to __ m ("),
        (4, "R", "T7 rungs footed an lashed for the lads climbing", "T7 ladder in ("),
        (
            9,
            "S",
            "T7 had a proper look over the dig meself, passing her as safe",
            "T7 inspected, safe / not safe (",
        ),
    ],
)
def test_it_says_how_that_is_reported_which_the_text_seems_to_speak_of(
    day: Day, many: int, who: str, text: str, taught: str
) -> None:
    said = told(day, many).say(who, text)
    assert "EVERYONE OUT, text DANGER" in said.reply
    assert f"once done text: {taught}" in said.reply
    assert "open text" in [each["fact"] for each in day.say("S", "can they go in T7?").outcome["missing"]]


def test_a_fitter_is_not_taught_to_inspect(day: Day) -> None:
    said = told(day, 9).say("F", "T7 had a proper look over the dig meself, passing her as safe")
    assert "text: T7 inspected" not in said.reply


def test_what_is_on_record_already_is_not_taught(day: Day) -> None:
    said = told(day, 6).say("F", "T7 rungs footed an lashed for the lads climbing")
    assert "ladder in" not in said.reply


@pytest.mark.parametrize(
    "text",
    ["T7: is it ok if Rae goes down now or what's the story?", "so are we sound to head into T7?"],
)
def test_a_supervisor_who_asks_does_not_stop_the_trench(day: Day, text: str) -> None:
    said = told(day, WHOLE).say("S", text)
    assert "STOPPED" not in said.reply
    assert said.entry != "may"
    assert day.say("S", "can they go in T7?").entry != "may"


@pytest.mark.parametrize("text", ["T7 permissions gone on that one", "T7 thats not going ahead like this"])
def test_a_supervisor_who_does_not_ask_stops_it(day: Day, text: str) -> None:
    assert "T7 STOPPED: everyone out" in told(day, WHOLE).say("S", text).reply


def test_where_the_readers_hear_two_facts_neither_is_offered(day: Day) -> None:
    said = told(day, 3).say("F", "Pod dolnym rzedem ziemia wyjeta, w T7 jest 160 cm tak jak w planie")
    assert "TAK" not in said.reply
    assert "wykopane do __ m" in said.reply


@pytest.mark.parametrize(
    "text",
    ["No standing water in the bottom, clay's dry as a biscuit", "not a drop of water, the clay is dry"],
)
def test_a_report_with_a_ground_in_it_begins_no_trench(day: Day, text: str) -> None:
    said = told(day, 7).say("F", text)
    assert "T8" not in said.reply
    assert "T7" in said.reply


def test_the_depth_dug_with_a_ground_in_it_is_asked_with_yes(day: Day) -> None:
    said = told(day, 3).say("F", "last of the clay under the bottom shores is out, depth 1.6 m")
    assert "dug to 1.6 m, done now? Text YES or NO" in said.reply


@pytest.mark.parametrize(("who", "text"), [("F", "ignore"), ("S", "T7 seen"), ("S", "seen T7")])
def test_what_may_be_danger_is_neither_ignored_nor_seen(day: Day, who: str, text: str) -> None:
    told(day, WHOLE).say("F", "T7 wibble wobble the thing")
    assert "T7: NOBODY IN. Maybe danger, Fay" in day.say(who, text).reply


def test_a_fall_heard_beside_words_left_over_is_no_fresh_reading_of_all(day: Day) -> None:
    for fact, who, text in DAY:
        day.say(who, text.replace("40 bar", "42 bar") if fact == "units" else text)
    assert "EVERYONE OUT" in day.say("F", "T7 all units set, lowest 36 bar").reply
    day.say("S", "T7 inspected ok")
    missing = [each["fact"] for each in day.say("S", "can they go in T7?").outcome["missing"]]
    assert "pressure" in missing


@pytest.mark.parametrize(
    "text", ["why T7", "por que T7", "dlaczego T7", "T7 porquê", "de ce T7", "T7 why 40 bar?"]
)
def test_a_plain_why_is_answered_and_holds_nothing(day: Day, text: str) -> None:
    assert told(day, WHOLE).say("F", text).outcome["kind"] == "told"
    assert day.say("S", "can they go in T7?").entry == "may"


def test_a_depth_above_the_lowest_strut_is_none_of_the_bottom(day: Day) -> None:
    for fact, who, text in DAY:
        day.say(who, "T7 dug to 0.75" if fact == "gap below" else text)
    said = day.say("S", "can they go in T7?")
    assert "gap below" in [each["fact"] for each in said.outcome["missing"]]


@pytest.mark.parametrize(
    "text", ["no.", "NO", "no mate", "no me quedo tranquilo con esa pared", "that wall wants another look"]
)
def test_a_supervisor_s_no_or_doubt_is_no_chat(day: Day, text: str) -> None:
    told(day, WHOLE).say("S", text)
    assert day.say("S", "can they go in T7?").entry == "no"


def test_buried_services_are_nobody_buried(day: Day) -> None:
    said = told(day, 1).say("F", "T7 every buried service found and painted")
    assert not said.outcome.get("hazards")


def test_help_shows_how_services_are_reported(day: Day) -> None:
    assert "T7 services located;" in told(day, 1).say("F", "help").reply
    assert "services" not in told(day, 2).say("F", "help").reply


@pytest.mark.parametrize("language", ["en", "es", "pt", "pl", "ro"])
def test_a_time_to_come_is_one_whatever_language_its_sender_wrote_before(basis: Basis, language: str) -> None:
    assert basis.readers.read("T7 ladder in at 1500", language=language).reading.said_at == "15:00"


@pytest.mark.parametrize(
    ("fact", "who", "first", "then"),
    [
        ("inspection", "S", "T7 inspected ok", "T7 inspected, faces in"),
        ("ladder", "F", "T7 ladder in", "T7 ladder in by dave's digger"),
        ("ends", "F", "T7 ends battered", "T7 ends battered like glass"),
        ("water", "F", "T7 no water", "T7 dry so dave says"),
        ("spoil", "F", "T7 spoil back 1.5m", "T7 spoil back 1.5m says dave"),
        ("gap below", "F", "T7 dug to 1.6", "T7 dug to 1.6 says dave"),
    ],
)
def test_words_about_a_fact_hold_it_back_though_it_comes_in_after_them(
    basis: Basis, fact: str, who: str, first: str, then: str
) -> None:
    """Each text is what it is by when it was sent, whatever the network does."""
    talk = Talk(basis)
    for told, teller, text in DAY:
        if told not in (fact, "inspection"):
            talk.say(teller, text)
    early = talk.message(who, first)
    talk.say(who, then)
    talk.give(early.model_copy(update={"received_at": talk.clock.at}))
    if fact != "inspection":
        talk.say("S", "T7 inspected ok")
    assert "open text" in [one["fact"] for one in talk.say("S", "can they go in T7?").outcome["missing"]]


@pytest.mark.parametrize(
    ("fact", "first", "then"),
    [
        ("water", "T7 no water", "T7 dry so dave says"),
        ("gap below", "T7 dug to 1.6", "T7 dug to 1.6 says dave"),
    ],
)
def test_words_held_back_so_end_where_their_sender_says_it_anew(
    basis: Basis, fact: str, first: str, then: str
) -> None:
    talk = Talk(basis)
    for told, teller, text in DAY:
        if told not in (fact, "inspection"):
            talk.say(teller, text)
    early = talk.message("F", first)
    talk.say("F", then)
    talk.give(early.model_copy(update={"received_at": talk.clock.at}))
    assert "NOT recorded" in talk.say("F", "YES").reply  # something came in since it was asked
    talk.say("F", first)
    talk.say("S", "T7 inspected ok")
    assert talk.entry() == "may"


@pytest.mark.parametrize("language", ["en", "es", "pt", "pl", "ro"])
@pytest.mark.parametrize("text", ["T7 ladder reported in", "T7 ladder said in", "T7 bump test o2 20.9 lel 0"])
def test_a_word_that_changes_a_report_does_so_whatever_was_written_before(
    basis: Basis, language: str, text: str
) -> None:
    assert not basis.readers.read(text, language=language).reading.whole


def test_a_sizing_that_comes_in_late_takes_nothing_back_that_was_sent_after_it(basis: Basis) -> None:
    talk = Talk(basis).day()
    early = talk.message("F", "T7 depth 1.6 width 0.9 length 6 firm clay, spoil 1.5 m back")
    talk.say("F", "T7 spoil 0.3 m from the edge")
    talk.give(early.model_copy(update={"received_at": talk.clock.at}))
    talk.say("S", "T7 inspected ok")
    assert "spoil" in [one["fact"] for one in talk.say("S", "can they go in T7?").outcome["missing"]]


def test_danger_told_beside_what_is_known_leaves_no_words_open(basis: Basis) -> None:
    """Who inspects after it has answered for all of the text."""
    talk = Talk(basis).day()
    talk.say("F", "T7 ladder in by dave but there's a crack in the face")
    talk.say("S", "T7 inspected ok")
    assert "open text" not in [one["fact"] for one in talk.say("S", "can they go in T7?").outcome["missing"]]
