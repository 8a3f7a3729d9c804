"""Files kept by forms, over real HTTP and a real database: looked at, saved, in force at once, taken back."""

import html
import re
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from office_visit import ALEX, SAM, Office, running, token

from bot.commands.serve import PEOPLE
from bot.config import revisions, shipped
from bot.config.basis import Basis
from bot.config.in_force import InForce
from bot.storage import log
from bot.storage.turns import Store

SIZED = "T7 depth 1.6 width 0.9 length 6 firm clay dry"
LIGHT = "kits/light.toml"
PAT = {
    "row": "",
    "base": "0",
    "number": "+447700900177",
    "name": "Pat",
    "role": "fitter",
    "site": "Larch Street",
}
TODAY = f"{datetime.now(UTC):%Y-%m-%d}"
NASTY = '<script>alert(1)</script> " onfocus="alert(2) {{ 7*7 }} \u202e'


@pytest.fixture
async def office(tmp_path: Path, basis: Basis) -> AsyncIterator[Office]:
    async with running(tmp_path / "log.sqlite", basis) as served:
        assert await served.sign_in() == 200
        yield served


async def looked(office: Office, path: str, form: dict[str, str]) -> tuple[int, str]:
    """Fill in a form: what would change."""
    given = {"base": "0", **form, "form_token": token(await office.page("/office/"))}
    return await office.post(path, given)


async def saved(office: Office, look: str, why: str = "as the data sheet says") -> tuple[int, str]:
    """Save what a look shows, as its own form would."""
    return await office.post("/office/changes/save", {**fields(look), "why": why})


def fields(look: str) -> dict[str, str]:
    hidden = re.findall(
        r'<input type="hidden" name="(\w+)" value="([^"]*)"', look.partition('class="save"')[2]
    )
    text = re.search(r'<textarea name="text" hidden>\n(.*?)</textarea>', look, re.S)
    assert text
    return {**dict(hidden), "text": html.unescape(text[1])}


def lower(text: str) -> str:
    """The light kit with a relief valve set lower, checked today."""
    return re.sub(r"(?m)^relief_bar = .*$", "relief_bar = 35.0", dated(text))


def dated(text: str) -> str:
    """A file whose every figure was checked today, whatever day that is."""
    return re.sub(r"\bchecked = \d{4}-\d\d-\d\d", f"checked = {TODAY}", text)


def outcome(office: Office, exchange: int) -> str:
    row = log.exchange(office.db, exchange)
    assert row is not None
    return str(row["outcome"])


# ---------------------------------------------------------------- people and sites


async def test_a_new_person_may_text_as_soon_as_they_are_saved(
    office: Office, tmp_path: Path, basis: Basis
) -> None:
    number = await office.text(SIZED, sender=PAT["number"])
    assert "not on the crew list" in outcome(office, number)
    status, look = await looked(office, "/office/set-up/person", PAT)
    assert status == 200 and "Pat (+447700900177), fitter on Larch Street, may text: ask, report" in look
    assert (await saved(office, look))[0] == 200
    number = await office.text(SIZED, sender=PAT["number"])
    assert '"kind":"sized"' in outcome(office, number)
    assert "+447700900177" in await office.page("/office/set-up")
    # After a restart too, whatever the file that began it says.
    again = InForce.load(office.db, PEOPLE, basis)
    assert again.people.find(PAT["number"]) is not None and "+447700900177" not in PEOPLE.read_text()


async def test_who_loses_what_is_shown_before_it_is_saved(office: Office) -> None:
    await office.text(SIZED)
    out = {"row": ALEX, "out": "1", **{key: PAT[key] for key in ("number", "name", "role", "site")}}
    _, look = await looked(office, "/office/set-up/person", out)
    assert f"Alex ({ALEX}) can no longer text." in look
    assert "Larch Street would be without a supervisor" in look and "Open: T7." in look
    fitter = {**PAT, "row": ALEX, "number": ALEX, "name": "Alex"}
    _, look = await looked(office, "/office/set-up/person", fitter)
    assert "Alex may no longer inspect, let people in." in look
    assert await office.get("/office/changes") and "Nothing was changed" in await office.page(
        "/office/changes"
    )
    _, look = await looked(office, "/office/set-up/person", out)
    await saved(office, look)
    assert "not on the crew list" in outcome(office, await office.text("morning all", sender=ALEX))


async def test_errors_stand_beside_their_fields(office: Office) -> None:
    wrong = {
        "number": ("0770 900 123", "A phone number in full"),
        "name": ("", "A name of 1 to 80 signs"),
        "role": ("king", "One of the roles"),
        "site": ("x" * 81, "The name of a site"),
    }
    for name, (value, hint) in wrong.items():
        status, page = await looked(office, "/office/set-up/person", {**PAT, name: value})
        assert status == 422 and f'id="wrong-{name}"' in page and hint in page, name
        assert page.count('aria-invalid="true"') == 1
    status, page = await looked(office, "/office/set-up/person", {**PAT, "number": SAM})
    assert status == 422 and "Somebody else has this number already" in page
    terms = {"row": "", "name": "Mill Lane", "rulebook": "us", "shift_start": "07:00", "shift_end": "16:00"}
    for name, value in (
        ("zone", "Nowhere/Town"),
        ("shift_end", "25:00"),
        ("kit", "none such"),
        ("name", "\u202ex"),
    ):
        status, page = await looked(
            office, "/office/set-up/site", {**terms, "zone": "America/New_York", name: value}
        )
        assert status == 422 and f'id="wrong-{name}"' in page, name
    assert revisions.head(office.db) == 0


async def test_a_site_is_added_changed_and_taken_out(office: Office) -> None:
    terms = {"row": "", "name": "Mill Lane", "rulebook": "us", "kit": "heavy", "shift_start": "06:00"}
    terms |= {"shift_end": "16:00", "zone": "America/New_York", "client": "Demo Water & Sons"}
    _, look = await looked(office, "/office/set-up/site", terms)
    assert "Site Mill Lane is new: rulebook us, 06:00 to 16:00, America/New_York, the heavy kit." in look
    await saved(office, look)
    assert "Demo Water &amp; Sons" in await office.page("/office/set-up/site?name=Mill%20Lane")
    base = str(revisions.head(office.db))
    moved = {**terms, "row": "Mill Lane", "kit": "", "base": base}
    _, look = await looked(office, "/office/set-up/site", moved)
    assert "Mill Lane: kit was heavy, is now not said." in look
    _, look = await looked(office, "/office/set-up/site", {**moved, "out": "1"})
    await saved(office, look)
    assert "Mill Lane" not in await office.page("/office/set-up")


# ---------------------------------------------------------------- figures and kits


async def test_a_saved_figure_answers_from_the_next_message_on_and_can_be_taken_back(
    office: Office, tmp_path: Path
) -> None:
    first = await office.text(SIZED)
    stamp = stamp_of(office, first)
    page = await office.page(f"/office/figures/{LIGHT}")
    form = {"rows": "1", "text": as_it_came(LIGHT), "figure.relief_bar": "35,0"}
    assert 'name="figure.relief_bar"' in page and 'value="52.0"' in page
    if dated(form["text"]) != form["text"]:  # else it was checked this very day
        status, page = await looked(office, f"/office/figures/{LIGHT}", form)
        assert status == 422 and "a changed figure needs its source" in page
    form |= {"figure.at": "data sheet 7", "figure.checked": TODAY}
    _, look = await looked(office, f"/office/figures/{LIGHT}", form)
    assert "1 open trench would be answered otherwise" in look and "pressure (bar)" in look
    assert (
        stamp_of(office, await office.text(SIZED.replace("T7", "T8"))) == stamp
    )  # nothing is saved by a look
    status, change = await saved(office, look, "a weaker valve")
    assert (
        status == 200
        and "a weaker valve" in change
        and "In force" in change
        and "relief_bar = 35.0" in change
    )
    second = await office.text(SIZED.replace("T7", "T9"))
    assert outcome(office, second) != outcome(office, first) and stamp_of(office, second) != stamp
    again = await office.page(f"/office/exchange/{first}")
    assert "differ" in again  # today's figures are the saved ones
    # The comments of the file stayed, and the file that came is untouched.
    in_force = revisions.latest(office.db)[LIGHT].text
    assert in_force and "# INVENTED" in in_force and shipped.shipped()[LIGHT] == as_it_came(LIGHT)
    # The way back is a change like any other.
    status, look = await looked(office, "/office/changes/1/restore", {})
    assert status == 200 and "data sheet 7" in look
    await saved(office, look, "back again")
    third = await office.text(SIZED.replace("T7", "T10"))
    assert stamp_of(office, third) == stamp and revisions.head(office.db) == 3


def as_it_came(name: str) -> str:
    return shipped.shipped()[name]


def stamp_of(office: Office, exchange: int) -> str:
    row = log.exchange(office.db, exchange)
    assert row is not None
    return str(row["stamp"])


async def test_a_new_kit_is_a_new_file_that_a_site_can_name_and_that_can_go_again(office: Office) -> None:
    page = await office.page("/office/new-kit?name=yard-2&like=light")
    text = html.unescape(page.partition('<textarea name="text" hidden>\n')[2].partition("</textarea>")[0])
    assert 'name = "yard-2"' in text
    path = "/office/figures/kits/yard-2.toml"
    _, look = await looked(office, path, {"text": lower(text)})
    await saved(office, look, "the yard's own")
    base = {"base": str(revisions.head(office.db))}
    _, look = await looked(
        office, "/office/set-up/site", {"row": "Larch Street", "name": "Larch Street", **TERMS}
    )
    await saved(office, look)
    assert '"kit":"yard-2"' in outcome(office, await office.text(SIZED))
    status, page = await looked(office, path, {**base, "out": "1"})
    assert status == 422 and "cannot be taken away" in page
    for name in ("../light", "A", "light", "", "x" * 31, "a b", "é"):
        assert (await office.get(f"/office/new-kit?name={name}&like=light"))[0] == 400, name
    assert (await looked(office, "/office/figures/kits/../../x.toml", {"text": text}))[0] in (404, 405)


TERMS = {"kit": "yard-2", "rulebook": "uk", "shift_start": "00:00", "shift_end": "23:59", "zone": "UTC"}


async def test_what_would_break_an_answer_is_refused_with_file_key_and_reason(office: Office) -> None:
    def without(name: str, line: str) -> tuple[str, str]:
        assert line in as_it_came(name)
        return name, dated(as_it_came(name).replace(line, "", 1))

    def other(name: str, old: str, new: str) -> tuple[str, str]:
        assert old in as_it_came(name)
        return name, dated(as_it_came(name).replace(old, new, 1))

    tries = {
        "light.toml: relief_bar": without(LIGHT, "relief_bar = 52.0\n"),
        "light.toml: (?s:.*)not valid TOML": other(LIGHT, "= 52.0", "="),
        "practice.toml: working_room.value: not a number": (
            "practice.toml",
            dated(as_it_came("practice.toml").replace("0.02", "nan", 1)),
        ),
        "no source &#39;hearsay&#39;": other("practice.toml", 'source = "practice"', 'source = "hearsay"'),
        "rules.toml: refusal.deeper-than-kit: needed": other(
            "rules.toml", "[refusal.deeper-than-kit]", "[refusal.deep]"
        ),
        "rules.toml: refusal.deeper-than-kit.say: nothing fills the blank &#39;x&#39;": other(
            "rules.toml", "{depth} is deeper", "{x} is deeper"
        ),
        "words/en.toml: say.failed: needed": other("words/en.toml", "\nfailed = ", "\nfailing = "),
        "en.toml: reading.say.deny: needed": other("words/en.toml", "\ndeny = [", "\ndenied = ["),
    }
    for reason, (name, text) in tries.items():
        status, page = await looked(office, f"/office/figures/{name}", {"text": text})
        assert status == 422 and re.search(reason, page), (reason, page[-3000:])
    assert revisions.head(office.db) == 0


async def test_what_came_anew_under_a_saved_file_is_shown_until_a_keeper_decides(
    tmp_path: Path, basis: Basis
) -> None:
    ours, file = lower(as_it_came(LIGHT)), tmp_path / "log.sqlite"
    older = Store(file)
    with older.transaction():
        revisions.put(
            older.db, LIGHT, ours, "the kit as an older program brought it", "ours", "jo", datetime.now(UTC)
        )
    older.close()
    async with running(file, basis) as office:
        await office.sign_in()
        for path in ("/office/", "/office/log", f"/office/figures/{LIGHT}"):
            assert "Ours applies until a keeper decides" in await office.page(path), path
        assert "35.0" in outcome(office, await office.text(SIZED))
        _, look = await looked(office, "/office/changes/decide", {"file": LIGHT, "came": "1"})
        assert "relief_bar = 52.0" in look and "1 open trench would be answered otherwise" in look
        _, look = await looked(office, "/office/changes/decide", {"file": LIGHT, "ours": "1"})
        await saved(office, look, "ours is the data sheet's")
        assert "until a keeper decides" not in await office.page("/office/")
        assert (await looked(office, "/office/changes/decide", {"file": "soils.toml", "ours": "1"}))[0] == 404


async def test_a_row_without_its_place_in_the_source_is_given_one(office: Office) -> None:
    form = {
        "rows": "1",
        "text": as_it_came("kits/heavy.toml"),
        "figure.at": "data sheet 9",
        "figure.depth_m": "6.0",
    }
    status, look = await looked(office, "/office/figures/kits/heavy.toml", form)
    assert status == 200 and "at = &#34;data sheet 9&#34;" in look, look[-2000:]
    for key, value in (("figure.depth_m", "deep"), ("figure.depth_m", "inf"), ("figure.checked", "today"),
                       ("figure.source", "")):  # fmt: skip
        status, page = await looked(office, "/office/figures/kits/heavy.toml", {**form, key: value})
        assert status == 422 and f'id="wrong-{key}"' in page, (key, value)


# ---------------------------------------------------------------- words


async def test_a_word_that_was_not_understood_is_added_after_a_look_at_the_texts_of_late(
    office: Office,
) -> None:
    number = await office.text("T7 depth 1.6 width 0.9 length 6 firm gubbinclay dry")
    page = await office.page("/office/figures/words/en.toml")
    assert "phrase=gubbinclay" in page
    form = {"phrase": " Gubbinclay ", "meaning": "reading/ground/kinds/clay"}
    assert (await looked(office, "/office/words/en.toml", {**form, "meaning": "reading/none"}))[0] == 422
    _, look = await looked(office, "/office/words/en.toml", form)
    assert "1 of the latest 1 different texts would be read otherwise" in look
    assert f"/office/exchange/{number}" in look and "kind clay" in look
    await saved(office, look, "as they say it here")
    after = await office.text("T7 depth 1.6 width 0.9 length 6 firm gubbinclay dry!")
    assert '"kind":"sized"' in outcome(office, after)
    base = {"base": str(revisions.head(office.db))}
    assert "It is read so already" in (await looked(office, "/office/words/en.toml", {**form, **base}))[1]


# ---------------------------------------------------------------- who may, and when two do


async def test_a_reader_sees_and_cannot_save(tmp_path: Path, basis: Basis) -> None:
    async with running(tmp_path / "log.sqlite", basis, role="reader") as office:
        await office.sign_in()
        text = lower(as_it_came(LIGHT))
        save = {"file": LIGHT, "text": text, "seen": "0", "why": "x"}
        for path, form in (
            ("/office/changes/save", save),
            (f"/office/figures/{LIGHT}", {"text": text}),
            ("/office/set-up/person", PAT),
            ("/office/words/en.toml", {"phrase": "x", "meaning": "reading/small"}),
            ("/office/changes/decide", {"file": LIGHT}),
            ("/office/changes/1/restore", {}),
        ):
            assert (await looked(office, path, form))[0] == 403, path
        assert (await office.get("/office/set-up/person"))[0] == 403
        for path in ("/office/set-up", f"/office/figures/{LIGHT}", "/office/figures/words/en.toml"):
            assert "What would change?" not in await office.page(path)
        assert revisions.head(office.db) == 0


async def test_nothing_is_saved_without_the_token_or_a_reason(office: Office) -> None:
    _, look = await looked(office, f"/office/figures/{LIGHT}", {"text": lower(as_it_came(LIGHT))})
    assert (await saved(office, look, why="  "))[0] == 400
    forged = {**fields(look), "why": "x", "form_token": "0" * 64}
    assert (await office.post("/office/changes/save", forged))[0] == 403
    for odd in ({"base": "-1"}, {"seen": "x"}, {"file": "kits/../../x.toml"}, {"file": "none.toml"}):
        assert (await office.post("/office/changes/save", {**fields(look), "why": "x", **odd}))[0] in (
            400,
            404,
        )
    assert revisions.head(office.db) == 0


async def test_of_two_who_change_the_same_file_the_second_is_shown_both(office: Office) -> None:
    _, mine = await looked(office, f"/office/figures/{LIGHT}", {"text": lower(as_it_came(LIGHT))})
    theirs = lower(as_it_came(LIGHT)).replace("35.0", "40.0")
    _, look = await looked(office, f"/office/figures/{LIGHT}", {"text": theirs})
    assert (await saved(office, look, "theirs"))[0] == 200
    status, page = await saved(office, mine, "mine")
    assert status == 409 and "was changed since you opened it" in page and "theirs" in page
    assert "relief_bar = 40.0" in page and "relief_bar = 35.0" in page
    # A form that was opened before it is refused as well.
    status, _ = await looked(
        office, f"/office/figures/{LIGHT}", {"text": lower(as_it_came(LIGHT)), "base": "0"}
    )
    assert status == 409 and revisions.head(office.db) == 2


async def test_a_save_of_another_file_meanwhile_asks_for_another_look(office: Office) -> None:
    _, mine = await looked(office, f"/office/figures/{LIGHT}", {"text": lower(as_it_came(LIGHT))})
    _, look = await looked(office, "/office/set-up/person", PAT)
    await saved(office, look)
    status, again = await saved(office, mine)
    assert status == 409 and "Another file was saved since you looked" in again
    assert (await saved(office, again))[0] == 200


async def test_what_a_form_holds_is_harmless_on_every_page(office: Office) -> None:
    name = NASTY.replace("\u202e", "")[:80]
    _, look = await looked(office, "/office/set-up/person", {**PAT, "name": name})
    status, change = await saved(office, look, NASTY)
    assert status == 200
    text = as_it_came("practice.toml").replace("# Facts", f"# {NASTY}\n# Facts", 1)
    status, note = await looked(office, "/office/figures/practice.toml", {"text": text})
    assert status == 200
    in_force = [
        await office.page(path)
        for path in ("/office/set-up", "/office/changes", "/office/figures/people.toml")
    ]
    form = await office.page("/office/set-up/person?name=%2B447700900177")
    for page in (look, change, note, form, *in_force):
        assert "<script>alert" not in page and 'onfocus="alert' not in page and " 49 " not in page
        assert "\u202e" not in page.partition('class="save"')[0]


# ---------------------------------------------------------------- a kit's own form

KIT_FIELDS = {
    # what stands in the form, what is entered, what it must come to in the file
    "figure.ram_bar": ("240", "ram_bar = 240.0"),
    "figure.relief_at": ("ram", 'relief_at = "ram"'),
    "figure.table.number": ("TD-L 7 (invented)", 'number = "TD-L 7 (invented)"'),
    "figure.table.issue": ("2", 'issue = "2"'),
    "figure.table.issued": ("2026-11-20", "issued = 2026-11-20"),
    "figure.table.limits": ("no water\r\nno pits\r\n", '["no water", "no pits"]'),
    "figure.table.approved_by.name": ("an invented engineer", 'name = "an invented engineer"'),
    "figure.table.approved_by.on": ("2026-11-19", "on = 2026-11-19"),
    "figure.table.row.1.spacing_m": ("1.4", "spacing_m = 1.4"),
}
SOURCED = {"figure.at": "data sheet 7", "figure.checked": TODAY} | {
    f"figure.table.{part}": said for part, said in (("at", "sheet 7"), ("checked", TODAY))
}


async def test_the_suppliers_table_and_the_ram_are_changed_in_the_form_and_govern(office: Office) -> None:
    page = await office.page(f"/office/figures/{LIGHT}")
    assert all(f'name="{field}"' in page for field in KIT_FIELDS)
    form = {"rows": "1", "text": as_it_came(LIGHT)} | SOURCED
    form |= {field: entered for field, (entered, _) in KIT_FIELDS.items()}
    status, look = await looked(office, f"/office/figures/{LIGHT}", form)
    assert status == 200, look
    status, _ = await saved(office, look, "issue 2 of the sheet")
    text = revisions.latest(office.db)[LIGHT].text
    assert status == 200 and text is not None
    assert [wanted for _, wanted in KIT_FIELDS.values() if wanted not in text] == []
    assert "# INVENTED" in text, "its comments stay"
    shown = await office.page(f"/office/figures/{LIGHT}")
    assert "<option selected>ram</option>" in shown and "TD-L 7 (invented)" in shown


@pytest.mark.parametrize(
    ("field", "entered", "why"),
    [
        ("figure.table.issued", "last week", "A day, as 2026-11-25."),
        ("figure.relief_at", "hose", "One of: pump, ram."),
        ("figure.table.basis", "characteristic", "One of: working."),
        ("figure.table.number", "  ", "It cannot be empty."),
        ("figure.table.limits", "\r\n", "It cannot be empty."),
        ("figure.ram_bar", "much", "A number, as 1.25."),
        # What no single field can see, the loader does: by file, key and reason.
        ("figure.ram_bar", "20", "relief_bar exceeds ram_bar"),
        ("figure.table.row.1.spacing_m", "9", "spacing_m is wider than in a row for an easier trench"),
        ("figure.table.row.1.levels", "0", "table.row.1.levels"),
        ("figure.table.row.0.soil", "B", "given twice"),
    ],
)
async def test_what_cannot_be_a_kit_is_refused_with_the_reason_and_what_was_entered_stays(
    office: Office, field: str, entered: str, why: str
) -> None:
    form = {"rows": "1", "text": as_it_came(LIGHT), field: entered} | SOURCED
    status, page = await looked(office, f"/office/figures/{LIGHT}", form)
    assert status == 422 and why in html.unescape(page)
    assert revisions.head(office.db) == 0
    if entered.strip() and "One of" not in why:
        assert f'value="{entered}"' in page or f"<option selected>{entered}</option>" in page


async def test_a_changed_word_of_the_table_needs_its_source_too(office: Office) -> None:
    form = {"rows": "1", "text": as_it_came(LIGHT), "figure.table.issue": "3"}
    if dated(form["text"]) == form["text"]:
        pytest.skip("the file was checked this very day")
    status, page = await looked(office, f"/office/figures/{LIGHT}", form)
    assert status == 422 and "table: a changed figure needs its source" in page
