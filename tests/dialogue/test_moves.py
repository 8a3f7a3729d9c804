"""The job as it moves, by text: what counts, what ends, who is told. Nothing opens by a guess."""

from collections.abc import Iterator
from datetime import date

import pytest
from complete_day import ASK, CODE, Day, Said

from bot.config.basis import Basis

SMALL = "depth 1.1 width 0.7 length 4 firm clay dry"
DAY = (
    "F T7 depth 1.6 width 0.9 length 6 firm clay",
    "F T7 services located",
    "F T7 all units set all at 40 bar",
    "F T7 dug to 1.6",
    "F T7 ladder in",
    "F T7 spoil back 1.5m",
    "F T7 ends battered",
    "F T7 no water",
    "F T7 air test ok",
    "S T7 inspected ok",
)


def texts(day: Day, *lines: str) -> Said:
    """Text them, and give back what came of the last."""
    for line in lines:
        said = day.say(*line.split(" ", 1))
    return said


def missing(day: Day, ref: str = "T7") -> list[str]:
    said = day.say("S", ASK.replace("T7", ref))
    return [one["fact"] for one in said.outcome["missing"]]


def to(said: Said, who: str) -> str:
    return "\n".join(text for name, text in said.alerts if name == who)


@pytest.fixture
def day(basis: Basis) -> Iterator[Day]:
    talk = Day(basis)
    texts(talk, *DAY)
    assert missing(talk) == []
    yield talk
    talk.close()


@pytest.fixture
def let_in(day: Day) -> Day:
    """With a leave in force."""
    assert texts(day, "S allow T7", f"S T7 code {CODE}").outcome["allowed_by"] == "Sol"
    return day


def let(day: Day, ref: str = "T7") -> bool:
    return day.say("S", ASK.replace("T7", ref)).outcome.get("allowed_by") is not None


# --- said times and authors


def test_an_inspection_said_for_a_time_before_a_hazard_clears_nothing(day: Day) -> None:
    texts(day, "R T7 crack in the face", "S T7 inspected ok at 0822")
    assert {"open hazard", "inspection"} <= {*missing(day)}
    texts(day, "S T7 inspected ok")
    assert missing(day) == []


def test_an_inspection_said_for_a_time_after_the_hazard_counts_from_then(day: Day) -> None:
    texts(day, "R T7 crack in the face")
    said = day.say("S", "T7 inspected ok at 0825", minutes=10)
    assert "08:25" in said.reply and missing(day) == []


@pytest.mark.parametrize(
    "text",
    [
        "T7 inspected ok at 1500",
        "T7 inspected ok by Rae",
        "T7 inspection due",
        "T7 next inspection ok",
        "T7 last inspected ok",
        "all trenches inspected ok",
    ],
)
def test_what_is_to_come_or_anothers_is_no_inspection(day: Day, text: str) -> None:
    texts(day, "F T7 ladder out", "F T7 ladder in", "S T7 stop work")
    texts(day, f"S {text}")
    assert missing(day) != []


def test_a_good_fact_said_for_an_earlier_time_undoes_nothing_told_since(day: Day) -> None:
    texts(day, "F T7 ladder out", "F T7 ladder in at 0810")
    assert missing(day) == ["ladder"]


def test_a_worse_figure_said_for_an_earlier_time_counts_now(day: Day) -> None:
    texts(day, "F T7 dug to 1.9 at 0815")
    assert {"plan changed", "gap below"} & {*missing(day)}


def test_a_leave_never_comes_to_life_by_what_is_said_for_an_earlier_time(day: Day) -> None:
    texts(day, "S allow T7", "F T7 ladder out", f"S T7 code {CODE}")
    assert not let(day)
    day.say("F", "T7 ladder in at 0826", minutes=5)
    assert not let(day)


@pytest.mark.parametrize("again", ["morning all", "no water", "dry as a bone"])
def test_what_names_no_trench_answers_not_which_one_it_is(day: Day, again: str) -> None:
    texts(day, f"R T4 {SMALL}", "F T7 water seeping in")
    assert "Which trench?" in day.say("F", "no water", minutes=1300).reply
    texts(day, f"F {again}")
    assert day.trench("T7").now.details.water == "seeping"
    texts(day, "F T7 no water")
    assert day.trench("T7").now.details.water == "dry"


def test_what_lies_beside_another_trench_is_no_ground_of_the_one_last_spoken_of(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "F T4 ladder in")
    said = texts(day, "F tipped the backfill stone beside T7, right up against the edge handy for later")
    assert "T7: not understood" in said.reply and "open text" in missing(day)
    assert "open text" not in missing(day, "T4")


# --- the wrong hole


def test_the_last_text_and_only_it_counts_on_the_other_trench(day: Day) -> None:
    texts(day, f"F T3 {SMALL}", f"F T4 {SMALL}", "F T3 spoil back 1.5m", "F T3 ladder in")
    said = texts(day, "F that was T4 not T3")
    assert "ladder" in missing(day, "T3") and "spoil" not in missing(day, "T3")
    assert "ladder" not in missing(day, "T4") and "spoil" in missing(day, "T4")
    assert "T4, not T3" in to(said, "S").replace("was ", "") or "T4, not T3" in to(said, "S")


def test_a_leave_that_rests_on_the_text_ends_and_everyone_concerned_is_told(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "F T7 ladder out", "R T7 ladder in", "S allow T7", f"S T7 code {CODE}")
    texts(day, "F T7 2 in")
    assert let(day)
    said = texts(day, "R that was T4 not T7")
    assert not let(day) and missing(day) == ["ladder"]
    assert (
        "EVERYONE OUT" in to(said, "S") and "2 were in" in to(said, "S") and "EVERYONE OUT" in to(said, "F")
    )


def test_a_leave_ends_though_somebody_else_told_the_same(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "R T7 ladder in", "S allow T7", f"S T7 code {CODE}")
    assert let(day)
    said = texts(day, "R that was T4 not T7")
    assert not let(day) and missing(day) == []
    assert "takes a new ALLOW T7" in to(said, "S") and "Problem: ." not in to(said, "S")


def test_people_in_another_hole_than_told_are_called_out_there(let_in: Day) -> None:
    texts(let_in, f"F T4 {SMALL}", "R T7 2 in")
    said = texts(let_in, "R that was T4 not T7")
    assert "T4: EVERYONE OUT" in said.reply and "nobody let them in" in to(said, "S")
    assert (let_in.trench("T7").now.heads, let_in.trench("T4").now.heads) == (0, 2)


def test_danger_told_of_the_wrong_hole_stays_where_it_was_told(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "F T7 crack in the face", "F that was T4 not T7")
    assert "open hazard" in missing(day) and "open hazard" in missing(day, "T4")


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("T7 unit 1 at 12 bar", "open hazard"),
        ("T7 all units out", "units"),
        ("T7 oxygen 18%", "open hazard"),
        ("T7 3 units taken out", "units"),
        ("T7 unit 3 changed", "units"),
    ],
)
def test_a_fallen_gauge_and_units_out_stay_where_they_were_told(day: Day, text: str, fact: str) -> None:
    texts(day, f"F T4 {SMALL}", f"F {text}", "F that was T4 not T7")
    assert fact in missing(day)


@pytest.mark.parametrize(
    "between", ["T7 closed", "T7 yes", "T7 all safe", "T7 sketch", "T7 status", "T7 code 111111", "T4 why"]
)
def test_a_text_that_told_nothing_is_the_last_all_the_same(day: Day, between: str) -> None:
    texts(day, f"F T4 {SMALL}", "F T4 crack in the face", "S T7 inspected ok", f"S {between}")
    texts(day, "S that was T4 not T7")
    assert "open hazard" in missing(day, "T4")
    assert "inspection" not in missing(day)


@pytest.mark.parametrize(
    "text", ["T7 something weird with blorp", "T7 depth 2.2 width 0.9 length 6 firm clay", "T7 soft clay"]
)
def test_what_moves_and_cannot_be_taken_there_is_held_there(let_in: Day, text: str) -> None:
    texts(let_in, *(line.replace("T7", "T4") for line in DAY), "S allow T4", f"S T4 code {CODE}")
    assert let(let_in, "T4")
    texts(let_in, f"F {text}", "F that was T4 not T7")
    assert not let(let_in, "T4") and missing(let_in, "T4")


def test_danger_told_of_the_wrong_hole_is_danger_for_all_who_are_told_of_the_right_one(day: Day) -> None:
    texts(day, f"R T4 {SMALL}", "F T7 crack in the face")
    moved = texts(day, "F that was T4 not T7")
    assert moved.reply.startswith("T4: EVERYONE OUT now.") and "Taken off T7" in moved.reply
    for who in "RS":
        assert "T4: EVERYONE OUT" in to(moved, who) and "Crack" in to(moved, who)


def test_what_was_done_to_the_wrong_trench_is_not_done_to_the_right_one_without_its_checks(day: Day) -> None:
    texts(day, f"R T4 {SMALL}", "S close T4", f"R T4 {SMALL}")
    said = texts(day, "S that was T7 not T4")
    assert said.reply.startswith("Taken off T4. Text it again for T7") and "T7 closed" not in said.reply
    assert missing(day) == ["open text"] and day.trench("T7").now.closed is None


def test_with_no_text_of_the_sender_both_are_held(day: Day) -> None:
    texts(day, f"F T4 {SMALL}")
    texts(day, "R that was T4 not T7")
    assert "open text" in missing(day) and "open text" in missing(day, "T4")


def test_a_text_without_a_name_after_one_that_names_several_is_asked_about(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "R T7 services located")
    day.say("R", "that was T4 not T7", minutes=61)
    assert "Which trench?" in texts(day, "R cat scanned, clear").reply


def test_a_text_is_taken_back_once(day: Day) -> None:
    texts(day, f"F T4 {SMALL}", "F T7 ladder in", "F that was T4 not T7")
    assert missing(day) == []
    texts(day, "F that was T4 not T7")
    assert missing(day) == ["open text"]


def test_two_records_are_joined_only_by_the_supervisor_and_inspected_anew(day: Day) -> None:
    texts(day, f"F T8 {SMALL}")
    for text in ("F T8 is T7", "S T8 is T7", "F MERGE T8 T7"):
        texts(day, text)
        assert missing(day) == [] and missing(day, "T8") != []
    texts(day, "S MERGE T8 T7")
    assert "inspection" in missing(day) and day.trench("T8").closed


def test_two_crews_with_one_name_are_asked_before_anything_counts(day: Day) -> None:
    said = texts(day, "R T7 depth 1.2 width 0.6 length 3 stiff clay dry")
    assert said.reply == "T7 is Fay's, open since 08:02. Same hole: YES. Else text T8."
    assert missing(day) == []
    texts(day, "F T7 ladder out")
    assert "YES" in texts(day, "R T7 ladder in").reply and missing(day) == ["ladder"]
    texts(day, "R T7 crack in the face")
    assert "open hazard" in missing(day)


def test_after_yes_both_work_at_one_trench(day: Day) -> None:
    texts(day, "R T7 depth 1.9 width 0.9 length 6 firm clay", "R T7 ladder in", "R yes")
    assert missing(day) != [] and day.trench("T7").now.details.depth_m == 1.9
    assert "noted" in texts(day, "R T7 ladder in").reply


# --- runs


def test_the_next_run_has_the_figures_and_none_of_the_facts(let_in: Day) -> None:
    said = texts(let_in, "F T7 moved on 6 m")
    assert "run 2, 6 m to 12 m" in said.reply and "RUN 1 BACKFILLED" in said.reply
    assert "EVERYONE OUT" in to(said, "S") and not let(let_in)
    wanted = {"units", "pressure", "gap below", "water", "inspection", "services", "ladder", "ends", "spoil"}
    assert wanted <= {*missing(let_in)}
    assert "sizing" not in missing(let_in) and "plan changed" not in missing(let_in)
    assert let_in.trench("T7").now.details.width_m == 0.9


def test_a_hazard_goes_with_the_dig(day: Day) -> None:
    texts(day, "R T7 crack in the face", "F T7 moved on 6 m")
    assert "open hazard" in missing(day)


def test_a_trench_closes_once_every_run_is_filled(day: Day) -> None:
    texts(day, "F T7 moved on 6 m")
    assert texts(day, "F close T7").outcome["kind"] == "unclear"
    texts(day, "F T7 run 1 backfilled")
    assert texts(day, "F close T7").outcome["kind"] == "told"


def test_a_distance_dug_at_a_time_is_no_depth(day: Day) -> None:
    before = day.trench("T7").now.details.depth_m
    texts(day, "F T7 opening 3 m at a time")
    after = day.trench("T7").now
    assert (after.details.depth_m, after.run_by_m) == (before, 3.0)


# --- units


def test_a_unit_carried_off_ends_the_leave_and_has_arrived_where_it_went(let_in: Day) -> None:
    texts(let_in, f"F T4 {SMALL}")
    said = texts(let_in, "F 1 unit out of T7 into T4")
    assert "EVERYONE OUT" in said.reply and "EVERYONE OUT" in to(said, "S")
    assert {"units", "inspection"} <= {*missing(let_in)} and "units" in missing(let_in, "T4")
    ground = texts(let_in, "F what is in the ground").reply
    assert "T4 1 units beside it" in ground and "T7 13 units set since 08:06" in ground


def test_a_strut_changed_is_set_read_and_inspected_anew(day: Day) -> None:
    texts(day, "F T7 strut 1 changed for a long one")
    assert {"units", "pressure", "inspection"} <= {*missing(day)}


def test_a_damaged_unit_is_out_until_a_named_person_clears_it(day: Day) -> None:
    texts(day, "F T7 2 tagged out, bent", "F T7 all units set all at 40 bar", "S T7 inspected ok")
    assert missing(day) == ["units"]
    texts(day, "F T7 2 cleared")
    assert missing(day) == ["units"]
    texts(day, "S T7 2 cleared", "S T7 inspected ok")
    assert missing(day) == []


def test_a_unit_that_replaced_a_damaged_one_is_set_read_and_inspected_anew(day: Day) -> None:
    """ "all units set" was told while the damaged ones stood."""
    texts(day, "F T7 2 tagged out, bent", "F T7 all units set all at 40 bar", "F T7 2 tagged replaced")
    texts(day, "S T7 inspected ok")
    assert {*missing(day)} == {"units", "pressure"}
    texts(day, "F T7 all units set all at 40 bar", "S T7 inspected ok")
    assert missing(day) == []


def test_units_replaced_where_none_was_tagged_are_set_anew(day: Day) -> None:
    """Told of the wrong trench, or of units that nobody tagged: what stands there now nobody has told."""
    texts(day, "F T7 2 tagged replaced", "S T7 inspected ok")
    assert {*missing(day)} == {"units", "pressure"}


def test_units_set_after_they_replaced_damaged_ones_are_told_once(day: Day) -> None:
    texts(day, "F T7 2 tagged out, bent", "F T7 2 tagged replaced", "F T7 all units set all at 40 bar")
    texts(day, "S T7 inspected ok")
    assert missing(day) == []


def test_what_is_on_the_van_is_no_length(day: Day) -> None:
    said = texts(day, "F T7 8 units on van")
    assert "units hold" in said.reply and "more for all 6 m" in said.reply
    assert missing(day) == [] and day.trench("T7").now.details.length_m == 6.0


# --- heads


def test_people_in_are_a_number_that_alarms_tell(let_in: Day) -> None:
    said = texts(let_in, "F T7 2 in")
    assert "people in: 2" in to(said, "S")
    alarm = texts(let_in, "R T7 crack in the face")
    assert alarm.reply.startswith("T7: EVERYONE OUT now. T7: 2 were in. Text ALL OUT and how many.")
    assert "2 were in" in to(alarm, "S")
    short = texts(let_in, "F T7 all out 1")
    assert "WHO IS MISSING" in short.reply and "WHO IS MISSING" in to(short, "S")
    texts(let_in, "F T7 all out 2", "F T7 1 out")
    assert let_in.trench("T7").now.heads == 0


def test_going_in_without_leave_is_an_alarm_of_its_own(day: Day) -> None:
    said = texts(day, "F T7 2 in")
    assert "EVERYONE OUT" in said.reply and "nobody let them in" in to(said, "S")
    assert texts(day, "F close T7").outcome["kind"] == "unclear"


def test_who_is_left_in_without_leave_is_called_out_again(day: Day) -> None:
    said = texts(day, "F T7 2 in", "F T7 1 out")
    assert "EVERYONE OUT. 1 still in" in said.reply and "1 still in" in to(said, "S")


def test_alarms_say_where_the_trench_is_and_the_sketch_which_run_it_shows(day: Day) -> None:
    said = texts(day, "F T7 is outside 22 Larch St", "F T7 moved on 6 m", "F T7 sketch")
    assert "Run 2, 6 m to 12 m" in said.reply
    for alarm in ("S stop T7", "R T7 crack in the face", "F 1 unit out of T7 into T4"):
        said = texts(day, alarm)
        assert any("T7 (22 Larch St)" in text for _, text in said.alerts), alarm


def test_words_of_a_trench_that_is_not_on_record_are_answered(day: Day) -> None:
    assert texts(day, "S seen T88").outcome["kind"] == "unclear"


def test_an_inspection_without_a_verdict_is_asked_for_and_not_noted(day: Day) -> None:
    said = texts(day, "F T7 ladder out", "S T7 inspected")
    assert said.reply.startswith("T7: inspected, and?") and "noted: inspection" not in said.reply


def test_heads_are_no_other_way_of_saying_what_was_not_understood(day: Day) -> None:
    texts(day, "F T7 wotsit for dougal", "F T7 1 out")
    assert missing(day) == ["open text"]


# --- taking out and closing


def test_units_come_out_from_the_bottom_up_and_not_before_they_are_asked_for(day: Day) -> None:
    said = texts(day, "F STRIP T7")
    assert "STRIP T7" in to(said, "S")
    assert "has not texted STRIP" in texts(day, "F T7 level 1 out").reply
    texts(day, "F T7 all units set all at 40 bar", "S STRIP T7")
    wrong = texts(day, "F T7 level 1 out")
    assert wrong.reply.startswith("STOP: level 2 comes out first")
    assert "level 2 comes out first" in to(wrong, "S")


def test_closing_needs_units_out_and_backfill(day: Day) -> None:
    texts(day, "S STRIP T7", "F T7 all units out")
    assert "BACKFILLED" in texts(day, "F close T7").reply
    texts(day, "F T7 ready to backfill")
    assert day.trench("T7").now.details.soil and "BACKFILLED" in texts(day, "F close T7").reply
    texts(day, "F T7 backfilled")
    assert texts(day, "F close T7").outcome["kind"] == "told"
    texts(day, "F T7 backfilled")
    assert day.trench("T7").closed


# --- place, hours, handover, notes


def test_where_it_is_is_said_in_every_alarm(day: Day) -> None:
    texts(day, "F T7 is outside 22 Larch St")
    said = texts(day, "F T7 man buried")
    assert "T7 (22 Larch St)" in said.reply and "T7 (22 Larch St)" in to(said, "S")
    assert "T7 (22 Larch St)" in texts(day, "F HANDOVER").reply


def test_left_open_it_is_inspected_before_anybody_is_in_again(let_in: Day) -> None:
    said = texts(let_in, "F T7 left open till Mon, fenced, lit")
    assert "Fay checks fence and lights" in said.reply and not let(let_in)
    assert missing(let_in) == ["inspection"]
    texts(let_in, "F T7 fence and lights ok")
    assert missing(let_in) == ["inspection"]
    assert "EVERYONE OUT" in texts(let_in, "F T7 kids been in it").reply
    texts(let_in, "S T7 inspected ok")
    assert missing(let_in) == [] and let_in.trench("T7").now.parked is None


def test_a_trench_handed_over_counts_once_it_is_taken(day: Day) -> None:
    said = texts(day, "F T7 to Rae till 7")
    assert "TAKE" in to(said, "R")
    handed = day.trench("T7").now.handed
    assert handed is not None and handed.taken is None
    both = texts(day, "S T7 crack in the face")
    assert to(both, "F") and to(both, "R")
    taken = texts(day, "R TAKE T7")
    assert "Rae has it now" in to(taken, "F")


def test_a_name_that_nobody_has_hands_over_nothing(day: Day) -> None:
    texts(day, "F T7 to Mo till 7")
    assert missing(day) == ["open text"] and day.trench("T7").now.handed is None


@pytest.mark.parametrize(("text", "heard"), [("on my way", "on the way"), ("seen T7", "has read the alarm")])
def test_who_raised_an_alarm_hears_who_comes(day: Day, text: str, heard: str) -> None:
    texts(day, "F T7 crack in the face")
    said = texts(day, f"S {text}")
    assert f"Sol {heard}" in to(said, "F").replace("is on", "on") and "open hazard" in missing(day)


def test_a_note_changes_nothing_but_danger_in_it_is_heard(day: Day) -> None:
    said = texts(day, "F note T7 permit to dig 0417 to 1600")
    assert "16:00" in said.reply and missing(day) == []
    texts(day, "F note T7 crack in the face near the lamp post")
    assert "open hazard" in missing(day)


def test_two_inspected_in_one_text_are_judged_each_by_itself(day: Day) -> None:
    texts(day, f"F T5 {SMALL}", "R T7 crack in the face")
    said = texts(day, "S inspected T5 and T7, both ok")
    assert missing(day) == [] and "inspection" not in missing(day, "T5") and "units" in missing(day, "T5")
    assert "T5 noted" in said.reply and "T7 noted" in said.reply


def test_two_inspected_by_a_fitter_are_none(day: Day) -> None:
    texts(day, f"F T5 {SMALL}", "R T7 crack in the face", "F inspected T5 and T7, both ok")
    assert "open hazard" in missing(day) and "inspection" in missing(day, "T5")


def test_due_tells_what_by_when(day: Day) -> None:
    assert "T7 gauges by 11:06" in texts(day, "F due").reply


# --- dates


@pytest.fixture
def dated(basis: Basis) -> Iterator[Day]:
    """A day long after the supervisor's appointment and the kit's examination ran out."""
    talk = Day(basis, appointed_until=date(2026, 12, 31), kit_examined_until=date(2026, 12, 31))
    texts(talk, *DAY)
    yield talk
    talk.close()


def test_an_inspection_after_the_appointment_ran_out_does_not_count(dated: Day) -> None:
    said = texts(dated, "S T7 inspected ok")
    assert "has run out" in said.reply and missing(dated) == ["inspection"]
    assert texts(dated, "S allow T7").outcome["kind"] == "unclear"
    texts(dated, "S T7 stop work")
    assert "stopped" in missing(dated)


def test_a_kit_past_its_examination_is_a_caution_that_says_so(dated: Day) -> None:
    assert "31/12/2026" in texts(dated, "F can we go in T7?").reply


def test_on_the_last_day_both_still_hold(basis: Basis) -> None:
    talk = Day(basis, appointed_until=date(2027, 1, 4), kit_examined_until=date(2027, 1, 4))
    texts(talk, *DAY)
    assert missing(talk) == [] and "examination" not in texts(talk, "F can we go in T7?").reply
    talk.close()


# --- a number that is not on the list


def test_a_strangers_danger_is_answered_with_the_emergency_line_and_passed_on(day: Day) -> None:
    said = texts(day, "X man buried T11")
    assert "999" in said.reply and said.outcome["kind"] == "noted"
    assert "UNKNOWN NUMBER +447700900199" in to(said, "S") and "man buried T11" in to(said, "S")
    assert missing(day) == []  # T11 is none of the open ones


def test_who_asks_to_join_is_a_fitter_once_the_supervisor_says_yes_until_the_shift_ends(day: Day) -> None:
    said = texts(day, "X join Larch Street Dave")
    assert "Dave" in to(said, "S") and texts(day, "X T7 ladder out").outcome["kind"] == "noted"
    assert "ladder" not in missing(day)  # a stranger still: it is held, not taken
    texts(day, "F yes Dave", "S seen T7", "S seen T7")
    assert missing(day) == []
    assert "till 18:00" in texts(day, "S yes Dave").reply
    texts(day, "X T7 ladder out")
    assert missing(day) == ["ladder"]
    texts(day, "X T7 ladder in", "S T7 inspected ok")
    day.say("F", "status", minutes=60 * 10)
    day.say("X", "T7 ladder out")
    assert {"open text", "open hazard"} & {*missing(day)}


def test_a_no_lets_nobody_join(day: Day) -> None:
    texts(day, "X join Larch Street Dave", "S no Dave")
    assert texts(day, "X T9 depth 1.1 width 0.7 soil firm clay").outcome["kind"] == "unclear"
