"""Every reference that the service can give is read; a name that is not read is asked about."""

from collections.abc import Iterator

import pytest
from talk import Talk

from bot.config.basis import Basis
from bot.language.tokens import references
from bot.storage.records import LAST_NUMBER, Records
from knowledge.record.trench import Trench

ALL = "depth 1.6 width 0.9 length 6 firm clay dry"


@pytest.fixture
def talk(basis: Basis) -> Iterator[Talk]:
    made = Talk(basis)
    yield made
    made.close()


def events(talk: Talk, ref: str) -> int:
    row = talk.store.db.execute(
        "SELECT json_array_length(events) FROM trenches WHERE ref = ?", (ref,)
    ).fetchone()
    return row[0] if row else 0


@pytest.mark.parametrize("number", [1, 99, 100, 999, 1000, 9999, 10_000, LAST_NUMBER])
def test_what_the_service_names_it_reads(basis: Basis, number: int) -> None:
    for text in (
        f"T{number} ladder in",
        f"t-{number} all units set, all at 40 bar",
        f"T{number} side slipped",
    ):
        assert basis.readers.read(text).reading.trench == f"T{number}", text
        assert references(text) == [f"T{number}"]


@pytest.mark.parametrize(
    "text", ["T007 ladder in", "T٧ ladder in", "t-07 ladder in", "trench 007 side slipped"]
)
def test_one_trench_has_one_name(basis: Basis, text: str) -> None:
    assert basis.readers.read(text).reading.trench == "T7"


def test_a_report_of_t1000_is_not_noted_on_the_trench_last_spoken_of(talk: Talk) -> None:
    talk.say("F", f"T1000 {ALL}")
    talk.say("F", f"T7 {ALL}")
    before = events(talk, "T7")
    said = talk.say("F", "T1000 all units set, all at 40 bar")
    assert said.outcome["trench"] == "T1000"
    assert (events(talk, "T7"), events(talk, "T1000")) == (before, 2)


@pytest.mark.parametrize(
    "name", ["T123456", "T1234567", "trench 100", "trench 1600", "trench no 1234", "T3 and T1234567"]
)
@pytest.mark.parametrize("said", ["ladder in", "all units set, all at 40 bar", "may we go in?", ALL])
def test_a_name_that_is_no_name_here_is_asked_about_and_changes_nothing_for_the_better(
    talk: Talk, name: str, said: str
) -> None:
    talk.day()
    answer = talk.say("F", f"{name} {said}")
    assert answer.outcome.get("entry") != "may"
    # "trench 1600 depth ..." may be a depth: that is asked about too
    assert answer.outcome["kind"] != "noted" and (
        "hich trench" in answer.reply or "How deep?" in answer.reply
    )
    assert talk.entry() == "no" or said == "may we go in?"


@pytest.mark.parametrize("name", ["T123456", "trench 1600"])
def test_danger_at_a_name_that_is_no_name_here_closes_every_trench_it_may_be(talk: Talk, name: str) -> None:
    talk.day()
    talk.say("R", f"T8 {ALL}")
    talk.say("R", f"{name} side slipped")
    assert "hazard" in talk.say("S", "status").reply.lower() or talk.entry("T8") == "no"
    assert talk.entry("T8") == "no"


def test_danger_at_two_trenches_closes_both(talk: Talk) -> None:
    talk.day()
    talk.say("F", f"T8 {ALL}")
    talk.say("F", f"T9 {ALL}")  # the last spoken of
    talk.say("F", "T7 and T8 sides slipped")
    assert talk.entry() == "no"
    assert "T7" in (said := talk.say("S", "status").reply) and "T8" in said


def test_a_new_trench_gets_a_name_that_is_read_even_when_somebody_named_the_last(
    talk: Talk, basis: Basis
) -> None:
    records = Records(talk.store.db, basis.tables)

    def put(ref: str) -> None:
        with talk.store.transaction():
            records.put(Trench(ref, "bar", "uk", "light"), 1)

    put("T998")
    put("T999")
    assert records.next_ref("bar") == "T1000"
    put(f"T{LAST_NUMBER}")
    assert records.next_ref("bar") == "T1"
    for number in range(1, 4):
        put(f"T{number}")
    assert records.next_ref("bar") == "T4"
