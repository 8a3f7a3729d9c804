"""What the office changed, laid over what came: which one counts, what an upgrade does, and the proof."""

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from complete_day import CODE
from talk import Talk
from trench_days import ALLOW, good_day

from bot.__main__ import main
from bot.commands.serve import PEOPLE
from bot.config import revisions, shipped
from bot.config.basis import Basis
from bot.config.in_force import InForce, warn
from bot.config.people import People, PeopleFile, rows_of, written
from bot.config.shipped import PEOPLE as CREW
from bot.erasure import erase_before, erase_person
from bot.message import Site
from bot.office import crew_changes, diff, toml_edit, validation
from bot.office.figure_rows import check_sources, rows
from bot.office.what_if import consequences
from bot.storage.turns import START, Store
from knowledge.sourced import DataError

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LIGHT = "kits/light.toml"
CAME = shipped.shipped()
OURS = CAME[LIGHT].replace("relief_bar = 52.0", "relief_bar = 35.0")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "log.sqlite")
    yield opened
    opened.close()


def put(store: Store, file: str, text: str, shipped: str | None = None, minute: int = 0) -> int:
    with store.transaction():
        came = CAME[file] if shipped is None else shipped
        return revisions.put(store.db, file, text, came, "why", "jo", AT + timedelta(minutes=minute))


def upgraded(monkeypatch: pytest.MonkeyPatch, file: str, text: str) -> None:
    """From now on another text of a file comes with the program."""
    monkeypatch.setattr(shipped, "shipped", lambda: CAME | {file: text})


# ---------------------------------------------------------------- what counts


def test_what_was_changed_lies_over_what_came(store: Store, basis: Basis) -> None:
    assert InForce.load(store.db, None, basis).basis is basis
    put(store, LIGHT, OURS)
    in_force = InForce.load(store.db, None, basis)
    assert in_force.basis.tables.kits["light"].relief_bar == 35.0 and in_force.basis.words is basis.words
    assert in_force.basis.tables.stamp != basis.tables.stamp and in_force.undecided == []
    put(store, LIGHT, CAME[LIGHT])
    assert InForce.load(store.db, None, basis).basis.tables.stamp == basis.tables.stamp


def test_an_upgrade_takes_nobodys_figures_away_and_is_not_passed_over(
    store: Store, basis: Basis, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    put(store, LIGHT, OURS)
    upgraded(monkeypatch, LIGHT, CAME[LIGHT].replace("depth_m = 2.0", "depth_m = 1.9"))
    in_force = InForce.load(store.db, None, basis)
    assert in_force.basis.tables.kits["light"].relief_bar == 35.0
    assert in_force.undecided == [LIGHT]
    warn(in_force)
    assert f"{LIGHT}: changed in the office, and came otherwise since" in caplog.text
    # To keep ours is a change like any other: it is decided then.
    put(store, LIGHT, OURS, shipped.shipped()[LIGHT])
    assert InForce.load(store.db, None, basis).undecided == []


def test_a_file_that_was_put_back_follows_what_comes(
    store: Store, basis: Basis, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(store, LIGHT, OURS)
    put(store, LIGHT, CAME[LIGHT])
    newer = CAME[LIGHT].replace("depth_m = 2.0", "depth_m = 1.9")
    upgraded(monkeypatch, LIGHT, newer)
    in_force = InForce.load(store.db, None, basis)
    assert in_force.texts[LIGHT] == newer and in_force.undecided == []


def test_a_text_that_a_newer_program_cannot_use_stops_the_start_and_says_the_way_out(
    store: Store, basis: Basis, capsys: pytest.CaptureFixture[str], signed_json: None
) -> None:
    put(store, LIGHT, OURS.replace("depth_m", "deepest_m"))
    with pytest.raises(DataError, match=r"light\.toml: depth_m: .*changes shipped"):
        InForce.load(store.db, None, basis)
    file = store.db.execute("PRAGMA database_list").fetchone()[2]
    assert main(["serve", "--port", "0", "--db", file]) == 2
    assert "light.toml: depth_m" in capsys.readouterr().err
    assert main(["changes", "shipped", LIGHT, "--db", file]) == 0
    assert InForce.load(store.db, None, basis).basis.tables.stamp == basis.tables.stamp


def test_the_people_given_to_serve_are_the_beginning_and_no_more(
    store: Store, basis: Basis, tmp_path: Path
) -> None:
    begin = tmp_path / "crew.toml"
    begin.write_text(PEOPLE.read_text())
    assert len(InForce.load(store.db, begin, basis).people) == 4
    put(store, CREW, written(PeopleFile()), begin.read_text())
    in_force = InForce.load(store.db, begin, basis)
    assert len(in_force.people) == 0 and in_force.undecided == []
    begin.write_text(PEOPLE.read_text().replace("Sam", "Max"))
    assert InForce.load(store.db, begin, basis).undecided == [CREW]


def test_a_new_kit_comes_and_goes_as_a_file(store: Store, basis: Basis) -> None:
    put(store, "kits/yard.toml", OURS.replace('name = "light"', 'name = "yard"'), "")
    in_force = InForce.load(store.db, None, basis)
    assert list(in_force.basis.tables.kits) == ["heavy", "light", "yard"]
    put(store, "kits/yard.toml", "", "")
    assert InForce.load(store.db, None, basis).basis.tables.stamp == basis.tables.stamp
    crew = '[[site]]\nname = "Mill Lane"\nkit = "yard"\n'
    with pytest.raises(DataError, match="site Mill Lane: kit: 'yard' is none of"):
        InForce.load(None, None, basis).with_text(CREW, crew)


# ---------------------------------------------------------------- the chain


def test_the_chain_of_changes_is_whole_until_somebody_alters_it(store: Store) -> None:
    put(store, LIGHT, OURS)
    put(store, LIGHT, CAME[LIGHT], minute=1)
    found = revisions.verify(store.db)
    assert (found.turns, found.broken_at) == (3, None)
    for statement in ("DELETE FROM changes", "UPDATE changes SET hash = ''", "UPDATE changes SET text = 'x'"):
        with pytest.raises(sqlite3.IntegrityError):
            store.db.execute(statement)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE changes SET text = replace(text, '35', '53') WHERE change = 2",
        "UPDATE changes SET why = 'because' WHERE change = 2",
        "UPDATE changes SET user = 'al' WHERE change = 2",
        "UPDATE changes SET at = '2026' WHERE change = 2",
        "UPDATE changes SET after = 'x' WHERE change = 2",
        "DELETE FROM changes WHERE change = 2",
    ],
)
def test_a_change_behind_its_back_is_named(
    store: Store, change: str, capsys: pytest.CaptureFixture[str]
) -> None:
    put(store, LIGHT, OURS)
    put(store, LIGHT, CAME[LIGHT])
    file = store.db.execute("PRAGMA database_list").fetchone()[2]
    assert main(["log", "verify", "--db", file]) == 0
    assert f"Whole: 3 changes of files. Head {revisions.verify(store.db).head}" in capsys.readouterr().out
    store.db.execute("DROP TRIGGER changes_hold")
    store.db.execute("DROP TRIGGER changes_stay")
    store.db.execute(change)
    broken = revisions.verify(store.db).broken_at
    assert broken in (2, 3)
    assert main(["log", "verify", "--db", file]) == 1
    assert f"BROKEN at change {broken}" in capsys.readouterr().out
    assert main(["backup", f"{file}.copy", "--db", file]) == 2


def test_each_change_covers_the_log_of_its_time(store: Store) -> None:
    put(store, LIGHT, OURS)
    assert store.db.execute("SELECT DISTINCT after FROM changes").fetchall() == [(START,)]


def test_erasing_takes_people_out_of_old_texts_and_leaves_those_in_force(store: Store, basis: Basis) -> None:
    came, number = PEOPLE.read_text(), "+447700900123"
    without = written(replace_people(came, number))
    put(store, CREW, came + "# more\n", came)
    put(store, CREW, without, came, minute=5)
    put(store, LIGHT, OURS)
    with store.transaction():
        erase_person(store.db, number)
    texts = [row[0] for row in store.db.execute("SELECT text FROM changes ORDER BY change")]
    assert texts == [None, None, without, CAME[LIGHT], OURS]
    assert revisions.verify(store.db).broken_at is None and revisions.verify(store.db).erased == 2
    assert InForce.load(store.db, PEOPLE, basis).people.find(number) is None
    with store.transaction():
        erase_before(store.db, AT + timedelta(days=1))
    assert [row[0] for row in store.db.execute("SELECT text FROM changes ORDER BY change")] == texts


def replace_people(text: str, number: str) -> PeopleFile:
    whole = rows_of(text)
    return whole.model_copy(update={"person": tuple(p for p in whole.person if p.number != number)})


def test_commands_answer_from_what_came_and_with_a_database_from_what_was_changed(
    store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    put(store, LIGHT, OURS)
    file = store.db.execute("PRAGMA database_list").fetchone()[2]

    def said(*words: str) -> str:
        assert main([*words]) == 0
        return capsys.readouterr().out

    ask = ("ask", "--json", "depth 1.6 width 0.9 length 6 firm clay dry no traffic")
    assert json.loads(said(*ask))["pressure_bar"][1] > 50
    assert json.loads(said(*ask, "--db", file))["pressure_bar"][1] == 35.0
    assert "kits/light.toml  jo: why" in said("changes", "list", "--db", file)
    assert said("changes", "show", "2", "--db", file) == OURS
    assert main(["changes", "show", "9", "--db", file]) == 2
    assert main(["changes", "shipped", "soils.toml", "--db", file]) == 2


# ---------------------------------------------------------------- what would change


def test_a_shorter_shift_shows_on_a_trench_that_may_be_entered(basis: Basis) -> None:
    day = good_day()
    assert day.entry().entry == "may"
    before = InForce.load(None, None, basis)
    site = Site("Mill Lane")
    after = before.with_text(CREW, '[[site]]\nname = "Mill Lane"\nshift_end = "08:00"\n')
    found = consequences([(site, day.trench)], day.now, before, after)
    assert [each.name for each in found[0].differences] == ["until"]
    assert consequences([(site, day.trench)], day.now, before, before) == []


@pytest.mark.parametrize(
    ("figure", "old", "new", "text"),
    [
        ("ladder_above", "0.9", "1.2", "T7 ladder in, sticks up 1.1 m"),
        ("ends_slope", "45", "40", "T7 ends battered to 45 degrees"),
    ],
)
def test_what_is_accepted_beside_a_fact_is_the_offices_figure(
    basis: Basis, figure: str, old: str, new: str, text: str
) -> None:
    before = InForce.load(None, came=basis)
    row = f"[figure.{figure}]\nvalue = "
    stricter = before.texts["entry.toml"].replace(f"{row}{old}\n", f"{row}{new}\n")
    assert basis.readers.read(text).reading.whole
    assert not before.with_text("entry.toml", stricter).basis.readers.read(text).reading.whole


def test_no_figure_changed_later_makes_a_leave_longer(basis: Basis) -> None:
    """It ends when its reply said that it would."""
    shorter = CAME["entry.toml"].replace("lasts = { value = 4,", "lasts = { value = 2,")
    talk = Talk(InForce.load(None, came=basis).with_text("entry.toml", shorter).basis, new_code=lambda: CODE)
    talk.day().say("S", "allow T7")
    assert talk.say("S", f"T7 code {CODE}").outcome["allowed_by"] == "Sol"
    talk.say("F", "T7 air test ok", minutes=100)
    for tables in (None, basis):
        if tables:
            talk.service.use(tables, talk.people)
        said = talk.say("S", "may they go in T7?", minutes=20)
        assert said.entry == "may" and said.outcome.get("allowed_by") is None
    talk.close()


def test_no_figure_changed_later_brings_a_refused_leave_to_life(basis: Basis) -> None:
    shorter = CAME["entry.toml"].replace("lasts = { value = 4,", "lasts = { value = 2,")
    talk = Talk(InForce.load(None, came=basis).with_text("entry.toml", shorter).basis, new_code=lambda: CODE)
    talk.day().say("S", "allow T7", minutes=110)
    assert talk.say("S", f"T7 code {CODE}", minutes=14).entry == "no"
    talk.service.use(basis, talk.people)
    said = talk.say("S", "may they go in T7?")
    assert said.entry == "may" and said.outcome.get("allowed_by") is None
    talk.close()


def test_who_let_people_in_and_can_no_longer_is_named(basis: Basis) -> None:
    day = good_day().tell(ALLOW, "supervisor", code_ok=True)
    crew = People.of(rows_of(PEOPLE.read_text().replace("Larch Street", "Mill Lane")))
    before = replace(InForce.load(None, None, basis), people=crew)
    gone = replace(before, people=People([p for p in crew if p.role != "supervisor"], crew.described))
    notes = crew_changes.crew_notes(before, gone, [(Site("Mill Lane"), day.trench)], day.now)
    said = [note.text for note in notes if note.bad]
    assert any("T7 on Mill Lane: people were let in by Alex" in text for text in said)
    assert any("Mill Lane would be without a supervisor" in text for text in said)
    assert crew_changes.crew_notes(before, before, [(Site("Mill Lane"), day.trench)], day.now) == []


def test_another_rulebook_of_a_site_leaves_its_open_trenches_by_the_old_one(basis: Basis) -> None:
    day = good_day()
    before = InForce.load(None, None, basis).with_text(CREW, '[[site]]\nname = "Mill Lane"\n')
    after = before.with_text(CREW, '[[site]]\nname = "Mill Lane"\nrulebook = "us"\n')
    said = [
        n.text for n in crew_changes.crew_notes(before, after, [(Site("Mill Lane"), day.trench)], day.now)
    ]
    assert any(text.startswith("T7 on Mill Lane: begun by rulebook uk and the light kit") for text in said)


# ---------------------------------------------------------------- figures


@pytest.mark.parametrize("name", CAME)
def test_a_form_changes_one_figure_and_nothing_else_in_any_file(name: str) -> None:
    text = CAME[name]
    assert toml_edit.with_values(text, {}) == text
    for row in [] if name.startswith(shipped.WORDS) else rows(name, text)[:3]:
        new = toml_edit.with_values(text, {row.numbers[0].path: 77.5})
        assert len([line for line in diff.lines(text, new) if line.kind == "new"]) == 1


def test_a_changed_figure_needs_its_source_and_no_day_to_come() -> None:
    today = date(2026, 12, 1)
    text, figure = CAME["practice.toml"], ("working_room", "value")
    changed = toml_edit.with_values(text, {figure: 0.03})
    with pytest.raises(DataError, match="working room: a changed figure needs its source"):
        check_sources("practice.toml", text, changed, today)
    for part, value in (("at", "page 7"), ("checked", date(2026, 11, 30)), ("checked", today)):
        check_sources(
            "practice.toml", text, toml_edit.with_values(changed, {("working_room", part): value}), today
        )
    late = toml_edit.with_values(changed, {("working_room", "checked"): date(2026, 12, 2)})
    with pytest.raises(DataError, match="still to come"):
        check_sources("practice.toml", text, late, today)


@pytest.mark.parametrize("name", [name for name in CAME if not name.startswith(shipped.KITS)])
def test_what_came_is_sound(name: str, basis: Basis, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        validation, "_check_answers", lambda *_: None
    )  # the demo chats have tests of their own
    validation.check(name, CAME[name], CAME[name], basis)


def test_a_long_line_is_shown_where_it_changed() -> None:
    before = "x" * 500 + "old" + "y" * 500
    gone, new = diff.lines(before, before.replace("old", "new"))
    assert "old" in gone.text and "new" in new.text and len(gone.text) < 200
    assert diff.lines("a\nb", "a\nb") == []
