"""The office over real HTTP and a real database: who gets in, what is found, that nothing said does harm."""

import asyncio
import csv
import io
import json
import re
import sqlite3
import zlib
from collections.abc import AsyncIterator
from ctypes.util import find_library
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

import patience
import pytest
from office_visit import ALEX, NAME, PASSWORD, SAM, Office, running, token

from bot.__main__ import main
from bot.commands.serve import PEOPLE
from bot.config.basis import Basis
from bot.office import export
from bot.storage import log
from bot.storage.turns import Store
from knowledge.tables.load import DATA

SIZED = "T7 depth 1.6 width 0.9 length 6 firm clay dry"
PAGES = ("/office/", "/office/log", "/office/trenches", "/office/reports", "/office/reports/kit",
         "/office/reports/week", "/office/set-up", "/office/figures")  # fmt: skip
NASTY = {
    "markup": "<b onclick='alert(1)'>T7</b> depth 1.6 </td></table><script>alert(2)</script>",
    "template": "{{ 7*7 }} {% for x in y %} ${7*7} T7 depth 1.6",
    "formula": '=HYPERLINK("http://x.invalid","T7") depth 1.6',
    "direction": "T7 depth \u202e6.1\u202c width 0.9 \u2067x \u200f",
    "control": "T7 depth 1.6\x00\x07\x1b[31m width 0.9",
    "long": "T7 depth 1.6 " + "<i>x" * 2496,
    "attribute": '" autofocus onfocus="alert(3)" x="',
}  # fmt: skip
# What would be at work in a page, and the signs that would mislead its reader.
LIVE = (
    "<b onclick",
    "<script>alert",
    "<i>x",
    'onfocus="alert',
    "$49",
    " 49 ",
)
HIDDEN = set("\x00\x07\x1b\u202e\u2067\u200f")


@pytest.fixture
async def office(tmp_path: Path, basis: Basis) -> AsyncIterator[Office]:
    async with running(tmp_path / "log.sqlite", basis) as served:
        yield served


@pytest.fixture
async def inside(office: Office) -> Office:
    assert await office.sign_in() == 200
    return office


# ---------------------------------------------------------------- who gets in


async def test_nobody_sees_a_page_without_signing_in(office: Office) -> None:
    for path in (*PAGES, "/office/live", "/office/database", "/office/log.csv", "/office/nowhere"):
        async with office.http.get(office.url + path, allow_redirects=False) as response:
            assert response.status == 303 and response.headers["Location"].startswith("/office/login"), path


async def test_the_right_password_opens_and_signing_out_shuts(office: Office) -> None:
    assert await office.sign_in(password="a quiet lane in summer") == 401
    assert await office.sign_in(name="nobody") == 401
    assert await office.sign_in() == 200
    today = await office.page("/office/")
    cookies = {c.key: c.value for c in office.http.cookie_jar}
    assert (await office.post("/office/logout", {"form_token": token(today)}))[0] == 200
    office.http.cookie_jar.update_cookies(cookies)
    async with office.http.get(office.url + "/office/", allow_redirects=False) as response:
        assert response.status == 303  # the session is gone from the database, not only from the browser


async def test_the_cookie_is_out_of_reach_and_the_database_holds_only_its_digest(inside: Office) -> None:
    async with inside.http.get(inside.url + "/office/login?", allow_redirects=False) as response:
        assert response.status == 303
    form = {"name": NAME, "password": PASSWORD}
    inside.http.cookie_jar.clear()
    form["form_token"] = token(await inside.page("/office/login"))
    async with inside.http.post(
        inside.url + "/office/login", data=form, allow_redirects=False, headers={"X-Forwarded-Proto": "https"}
    ) as response:
        cookie = response.cookies["trenchword_office"]
    assert cookie["httponly"] and cookie["secure"] and cookie["samesite"] == "Strict"
    kept = sqlite3.connect(inside.file).execute("SELECT password FROM office_users").fetchone()[0]
    sessions = sqlite3.connect(inside.file).execute("SELECT digest FROM office_sessions").fetchall()
    assert kept.startswith("scrypt$") and PASSWORD not in kept
    assert sessions and cookie.value not in str(sessions)


async def test_attempts_are_limited(office: Office) -> None:
    told = [await office.sign_in(password=f"wrong wrong {n}") for n in range(7)]
    assert told == [401] * 5 + [429] * 2
    assert await office.sign_in() == 429  # not even the right one, until some time has gone by


async def test_a_form_from_elsewhere_is_refused(inside: Office) -> None:
    forms: tuple[dict[str, str], ...] = ({}, {"form_token": "0" * 64}, {"form_token": "é"})
    for path in ("/office/login", "/office/logout", "/office/set-up/verify"):
        for given in forms:
            status, _ = await inside.post(path, {"name": NAME, "password": PASSWORD, **given})
            assert status == 403, (path, given)
    assert (await inside.get("/office/"))[0] == 200  # and nobody was signed out by it


async def test_a_refused_text_stands_on_the_first_page_until_its_sender_was_rung(inside: Office) -> None:
    with sqlite3.connect(inside.file) as db:
        row = ("kannel", "+447700900123", "too many texts", "2099-11-25T08:10:00.000000Z", 3)
        db.execute("INSERT INTO refused VALUES (?, ?, ?, ?, ?)", row)
    async with inside.http.get(inside.url + "/hook/json") as response:
        assert response.status == 405
    _, page = await inside.get("/office/")
    shown = re.sub("<[^>]*>", "", page)
    assert "+447700900123: 3 × by kannel, too many texts" in shown
    # Until it is known to be on the disk it counts in memory too: for a moment twice, never not at all.
    assert re.search("[12] × json: texts are posted", shown)
    form = {"form_token": token(page), "sender": "+447700900123"}
    assert (await inside.post("/office/rung", {"sender": "+447700900123"}))[0] == 403
    status, page = await inside.post("/office/rung", form)
    assert (status, "too many texts" in page, "texts are posted" in page) == (200, False, True)


@pytest.mark.parametrize(
    "headers",
    [
        {"Content-Type": "multipart/form-data"},
        {"Content-Type": "multipart/form-data; boundary=x"},
        {"Content-Type": "application/x-www-form-urlencoded; charset=nonesuch"},
    ],
)
async def test_a_form_that_cannot_be_read_is_refused(office: Office, headers: dict[str, str]) -> None:
    async with office.http.post(office.url + "/office/login", data=b"a=%ff&b", headers=headers) as response:
        assert response.status in (400, 403)


async def test_signing_in_leads_nowhere_else(office: Office) -> None:
    for to in ("https://x.invalid/", "//x.invalid", "/hook/json", "/office\\x.invalid"):
        office.http.cookie_jar.clear()
        given = token(await office.page("/office/login"))
        form = {"name": NAME, "password": PASSWORD, "to": to, "form_token": given}
        async with office.http.post(
            office.url + "/office/login", data=form, allow_redirects=False
        ) as response:
            assert (response.status, response.headers["Location"]) == (303, "/office/")


async def test_a_reader_cannot_take_the_database(tmp_path: Path, basis: Basis) -> None:
    async with running(tmp_path / "log.sqlite", basis, role="reader") as office:
        await office.sign_in()
        assert (await office.get("/office/database"))[0] == 403
        assert "/office/database" not in await office.page("/office/set-up")


async def test_headers_keep_a_page_to_itself(inside: Office) -> None:
    async with inside.http.get(inside.url + "/office/log") as response:
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy and response.headers["X-Content-Type-Options"] == "nosniff"
        assert response.headers["Cache-Control"] == "no-store"


def test_users_are_made_by_command_and_none_is_there_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    db = ["--db", str(tmp_path / "log.sqlite")]

    def user(*words: str, typed: str = "") -> tuple[int, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        code = main(["user", *words, *db])
        out = capsys.readouterr()
        return code, out.out + out.err

    assert user("list") == (0, "")
    assert user("add", "jo", "--role", "reader", typed="short\n")[0] == 2
    assert user("add", "jo", "--role", "reader", typed=PASSWORD + "\n") == (0, "jo may sign in (reader).\n")
    assert "already" in user("add", "jo", "--role", "keeper", typed=PASSWORD + "\n")[1]
    assert user("list") == (0, "jo  reader\n")
    assert user("remove", "jo")[0] == 0 and user("list") == (0, "")
    assert user("remove", "jo")[0] == 2


# ---------------------------------------------------------------- what is found


async def test_an_exchange_is_found_and_shown_whole(inside: Office) -> None:
    number = await inside.text(SIZED + " tonight flibber")
    await inside.text("T8 depth 1.1 width 0.6 length 3 stiff clay dry")
    # Forms of one word ("clays"), capitals, and a beginning where it is asked for.
    for words in ("flibber+FIRM", "flibb*+clays", "flibbers"):
        found = await inside.page(f"/office/log?text={words}")
        assert f"/office/exchange/{number}" in found and f"/office/exchange/{number + 1}" not in found, words
    assert "finds all that begin so" in await inside.page("/office/log?text=flibb")
    page = await inside.page(f"/office/exchange/{number}")
    row = log.exchange(inside.db, number)
    assert row is not None
    assert row["hash"] in page and row["stamp"] in page and "flibber</bdi></span>" in page
    sheet = json.loads(row["outcome"])["sheet"]
    assert len(sheet) > 10 and page.count('class="source"') == len(sheet)
    assert "The answer comes out the same, line by line" in page


async def test_what_would_be_answered_otherwise_today_is_named(inside: Office) -> None:
    number = await inside.text(SIZED)
    # The log is guarded against changes, so the guard is taken away first.
    inside.store.db.execute("DROP TRIGGER turns_hold")
    changed = "outcome = json_set(outcome, '$.spacing_m', 9.9), stamp = 'older'"
    inside.store.db.execute(f"UPDATE turns SET {changed} WHERE exchange = ?", [number])
    page = await inside.page(f"/office/exchange/{number}")
    assert "1 figure differs" in page and "9.9" in page and "stamp older" in page
    checked = await inside.post(
        "/office/set-up/verify", {"form_token": token(await inside.page("/office/set-up"))}
    )
    assert f"broken at exchange {number}" in checked[1]


async def test_filters_and_pages_of_the_log(inside: Office) -> None:
    who = (SAM, ALEX)
    numbers = [await inside.text(f"T{n % 3} depth 1.{n % 10}", sender=who[n % 2]) for n in range(16)]

    async def seen(query: str) -> list[int]:
        page = await inside.page(f"/office/log?{query}")
        return [int(n) for n in dict.fromkeys(_numbers(page))]

    assert await seen("") == numbers[::-1]
    assert await seen("sender=alex") == [n for n in numbers[::-1] if (n - numbers[0]) % 2]
    assert await seen("trench=t1") == [n for n in numbers[::-1] if (n - numbers[0]) % 3 == 1]
    assert await seen("before=" + str(numbers[5])) == numbers[:5][::-1]
    assert await seen("since=2020-01-01&until=2099-12-31") == numbers[::-1]
    assert await seen("until=2020-01-01") == []
    assert await seen("kind=failed") == []
    assert (await inside.get("/office/log?since=yesterday"))[0] == 400
    assert (await inside.get("/office/log?since=0001-01-01&until=9999-12-31"))[0] in (200, 400)


def _numbers(page: str) -> list[str]:
    return [part.partition('"')[0] for part in page.split("/office/exchange/")[1:]]


async def test_today_shows_hazards_first_and_what_is_missing(inside: Office) -> None:
    assert "No trench is open." in await inside.page("/office/")
    await inside.text(SIZED)
    await inside.text("T8 depth 1.1 width 0.6 length 3 stiff clay dry")
    await inside.text("T7 water coming in fast")
    today = await inside.page("/office/")
    assert "2 trenches: 1 in danger, 1 not ready, nobody reported in." in today
    assert today.index("/T7") < today.index("/T8") and "No units reported set" in today


async def test_today_shows_who_is_in_and_where_and_calls_out_who_has_no_leave(
    inside: Office,
) -> None:
    await inside.text(SIZED)
    await inside.text("T7 is outside 22 Larch St")
    await inside.text("T7 2 in")
    today = await inside.page("/office/")
    assert (
        "22 Larch St" in today
        and "<strong>2 in</strong>" in today
        and "1 in danger, 2 people are in T7." in today
    )
    assert "People in, not let in: get them out" in today


async def test_today_shows_what_could_not_be_taken(inside: Office) -> None:
    inside.store.db.execute("PRAGMA query_only = ON")  # a disk that takes nothing
    hook = json.dumps({"id": "1", "from": SAM, "text": SIZED})
    async with inside.http.post(inside.url + "/hook/json", data=hook) as response:
        assert response.status == 503
    inside.store.db.execute("PRAGMA query_only = OFF")
    today = await inside.page("/office/")
    assert "not accepted" in today and SAM in today


async def until(office: Office, words: str) -> str:
    """The first page, once these words stand on it: texts go out, and fail, beside the answers."""
    async with asyncio.timeout(patience.SECONDS):
        while words not in (today := await office.page("/office/")):
            await asyncio.sleep(0.05)
    return today


async def test_trenches_are_ranked_by_what_must_not_be_entered(inside: Office) -> None:
    sized = "depth 1.6 width 0.9 length 6 firm clay dry"
    for ref in ("T1", "T2", "T3", "T4"):
        await inside.text(f"{ref} {sized}")
    await inside.text("T5 depth 3.4 width 0.9 length 6 firm clay standing water")
    await inside.text("T2 dug to 2.1")
    await inside.text("T3 nobody in till i say", ALEX)
    await inside.text("T6 depth 1.2 width 0.6 length 3 stiff clay dry")
    await inside.text("T6 smell of gas")
    await inside.text("T4 ladder in when dave is back")  # no question of ours outlives danger told after it
    today = await until(inside, "2 not told")  # Alex of the gas, and Sam of the stop
    rows = re.findall(r'<li class="trench r-(\w+)".*?/office/trench/Larch%20Street/(\w+)"', today, re.S)
    assert rows[0] == ("hazard", "T6") and rows[-1] == ("no", "T1") and rows[-2] == ("wait", "T4")
    assert {rows[1], rows[2], rows[3]} == {("stop", "T5"), ("stop", "T3"), ("stop", "T2")}
    assert "6 trenches: 1 in danger, 3 stopped or refused, 2 not ready, nobody reported in." in today
    assert "(1 hazard, 2 not told) Today" in today
    for words in ("Shores refused", "Stopped", "Dug past its plan"):
        assert f"{words}: keep everyone out" in today
    named = re.findall(r"<strong>([\w ,]+):</strong>(.*?)</p>", today[: today.index('id="alarms"')], re.S)
    assert {words: set(re.findall(r"/(T\d)\"", refs)) for words, refs in named} == {
        "Get everyone out": {"T6"},
        "Keep everyone out": {"T2", "T3", "T5"},
        "Not ready, keep out": {"T1", "T4"},
    }
    assert "Dug to 2.1 m, planned to 1.6 m" in today and "Water in the trench" in today
    assert "T4 ladder in when dave is back" in today and "Counts for nothing until" in today


async def test_an_alarm_that_reached_nobody_stands_until_somebody_says_who_was_rung(inside: Office) -> None:
    await inside.text("T7 depth 1.6 width 0.9 length 6 firm clay dry")
    await inside.text("T7 smell of gas")
    today = await until(inside, "not delivered: ring")
    assert "Alex</bdi> NOT told" in today
    assert "1 alarm not delivered: ring" in today and today.count(f"tel:{ALEX}") >= 2
    (key,) = re.findall(r'name="alarm" value="([^"]+)"', today)
    form = {"form_token": token(today), "alarm": key}
    assert (await inside.post("/office/acknowledge", form))[0] == 400  # without a name it stays
    status, after = await inside.post("/office/acknowledge", form | {"note": "Alex himself"})
    assert status == 200 and "not delivered: ring" not in after
    assert "Seen to by" in after and "Alex himself" in after and NAME in after
    again = await inside.post("/office/acknowledge", form | {"note": "somebody else"})
    assert "Alex himself" in again[1] and "somebody else" not in again[1]
    assert "Danger: get everyone out" in again[1]  # that somebody knows changes nothing at the trench


async def test_words_read_in_the_office_still_hold_entry(inside: Office) -> None:
    await inside.text("T8 depth 1.6 width 0.9 length 6 firm clay dry")
    await inside.text("T8 the fox came round by the blue thing again")
    today = await inside.page("/office/")
    (what,) = re.findall(r'name="words" value="([^"]+)"', today)
    assert SAM not in what
    _, after = await inside.post("/office/acknowledge", {"form_token": token(today), "words": what})
    assert "Read here by" in after and "Not understood" in after and "T8 SEEN" in after


async def test_the_code_that_lets_people_in_stands_nowhere_but_in_its_text(inside: Office) -> None:
    for text in (
        "T9 depth 1.6 width 0.9 length 6 firm clay dry", "T9 all units set, all at 40 bar", "T9 dug to 1.6",
        "T9 ladder in", "T9 spoil 1.0 m back", "T9 ends battered", "T9 services located",
        "T9 air test oxygen 20.9% lel 0% co 0 ppm h2s 0 ppm",
    ):  # fmt: skip
        await inside.text(text)
    await inside.text("T9 inspected safe", ALEX)
    number = await inside.text("allow T9", ALEX)
    row = next(inside.db.query("SELECT alerts FROM turns WHERE exchange = ?", [number]))
    code = re.search(r"code (\d{4,8})", json.loads(row["alerts"])[0]["text"])
    assert code
    used = await inside.text(f"allow T9 {code[1]}", ALEX)
    pages = ("/office/", f"/office/exchange/{number}", "/office/log.csv", "/office/log.jsonl", "/office/log")
    await until(inside, "1 failed in all")
    shown = {path: await inside.page(path) for path in pages}
    told = f"allow T9 {code[1]}"  # the supervisor's own text holds it, once it is spent
    assert all(re.search(rf"\b{code[1]}\b", page.replace(told, "")) is None for page in shown.values())
    assert "••••" in shown["/office/"] and "••••" in shown[f"/office/exchange/{number}"]
    spent = (await inside.page(f"/office/exchange/{used}")).replace(told, "")
    assert re.search(rf"\b{code[1]}\b", spent) is None


async def test_the_log_is_asked_for_what_people_look_for(inside: Office) -> None:
    numbers = {
        "plan": await inside.text("T1 depth 1.6 width 0.9 length 6 firm clay dry"),
        "hazard": await inside.text("T1 smell of gas"),
        "refused": await inside.text("T2 depth 3.4 width 0.9 length 6 firm clay standing water"),
        "stop": await inside.text("T1 nobody in till i say", ALEX),
        "inspection": await inside.text("T1 inspected safe", ALEX),
    }
    for about in ("hazard", "refused", "stop", "inspection"):
        page = await inside.page(f"/office/log?about={about}")
        assert _numbers(page) == [str(numbers[about])], about
        assert f"about={about}" in page and "1 exchange<" in page
    every = await inside.page("/office/log")
    assert "5 exchanges" in every and re.search(r">hazard <b>1</b>", every) and "EVERYONE OUT</span>" in every
    assert _numbers(await inside.page("/office/log?about=nonsense")) == []
    hits = await inside.page("/office/log?text=smells")  # by its stem
    assert "<mark>" in hits and ">smell</bdi></mark>" in hits
    assert _numbers(await inside.page("/office/log?text=gas&about=refused")) == []


async def test_the_jump_box_leads_to_a_trench_an_exchange_or_the_log(inside: Office) -> None:
    number = await inside.text("T1 depth 1.6 width 0.9 length 6 firm clay dry")
    for to, heading in (("t1", "T1 <span"), (str(number), "Exchange"), ("clay", "1 exchange<")):
        assert heading in await inside.page(f"/office/go?to={to}"), to


async def test_an_exchange_says_what_of_it_waits_and_how_it_was_answered(inside: Office) -> None:
    await inside.text("T1 depth 1.6 width 0.9 length 6 firm clay dry")
    asked = await inside.text("T1 ladder in when dave is back")
    await inside.text("no")
    page = await inside.page(f"/office/exchange/{asked}")
    assert "left over" in page and "asked with YES" in page and "their next text" in page
    odd = await inside.text("T1 the fox came round by the blue thing again")
    assert "yes, until now" in await inside.page(f"/office/exchange/{odd}")
    await inside.text("ignore")
    assert "no longer: ended" in await inside.page(f"/office/exchange/{odd}")


async def test_what_came_with_a_text_leaves_a_mark_that_nobody_can_take_away(inside: Office) -> None:
    hook = {"id": "1", "from": SAM, "text": "T1 depth 1.6 width 0.9 length 6 firm clay dry", "attached": True}
    async with inside.http.post(inside.url + "/hook/json", data=json.dumps(hook)) as response:
        number = (await response.json())["exchange"]
    assert "Something came with this text" in await inside.page(f"/office/exchange/{number}")
    assert log.verify(inside.db).broken_at is None
    with inside.store.transaction():
        inside.store.db.execute("DROP TRIGGER turns_hold")
        inside.store.db.execute("UPDATE turns SET attached = 0")
    assert log.verify(inside.db).broken_at == number


@pytest.mark.skipif(
    not (find_library("pango-1.0") and find_library("pangoft2-1.0")),
    reason="no Pango on this machine: apt-get install libpangoft2-1.0-0",
)
async def test_papers_leave_as_pdf_on_both_papers(inside: Office) -> None:
    await inside.text("T7 depth 1.6 width 0.9 length 6 firm clay dry")
    await inside.text("T7 unit 1 at 40 bar, unit 2 at 20 bar")
    sizes = {"A4": (595, 841), "Letter": (612, 792)}
    for paper, (wide, tall) in sizes.items():
        path = f"/office/trench/Larch%20Street/T7/file.pdf?paper={paper}"
        async with inside.http.get(inside.url + path) as response:
            body = await response.read()
            assert (response.status, response.content_type) == (200, "application/pdf")
        assert body.startswith(b"%PDF")
        # What a stream ends with may look like the end of a line: it says itself where it ends.
        streams = re.findall(rb"stream\r?\n(x.*?)endstream", body, re.S)
        inner = b"".join(zlib.decompressobj().decompress(each) for each in streams)
        assert re.search(rb"MediaBox ?\[0 0 %d[.\d]* %d" % (wide, tall), inner + body)
    assert (await inside.get("/office/reports/week.pdf?paper=A9"))[0] == 400


async def test_an_inspection_report_holds_the_inspectors_words_and_what_came_since(
    inside: Office,
) -> None:
    await inside.text("T7 depth 1.6 width 0.9 length 6 firm clay dry")
    await inside.text("T7 all units set, all at 40 bar")
    await inside.text("T7 inspected safe", ALEX)
    trench = await inside.page("/office/trench/Larch%20Street/T7")
    (link,) = re.findall(r'href="(/office/trench/[^"]+/inspection\?at=[^"]+)"', trench)
    report = await inside.page(link)
    assert "T7 inspected safe" in report and "Read as: safe" in report and "exchange no. 3" in report
    assert "Not satisfied" not in report and "listed under (vii)" in report and "Since then" not in report
    assert re.search(r"unit 1: 40 bar, \w{3} \d\d \w{3} \d{4}, \d\d:\d\d", report)
    await inside.text("T7 part of the side fell in")
    after = await inside.page(link)
    assert "Since then" in after and "no longer counts" in after and "part of the side fell in" in after


async def test_the_kit_list_leaves_out_what_is_reported_set(inside: Office) -> None:
    await inside.text("T7 depth 1.2 width 0.6 length 3 stiff clay dry")

    def rails(page: str) -> int:
        found = re.search(r'class="number">(\d+)</td><td>rail', page)
        return int(found[1]) if found else 0

    assert rails(await inside.page("/office/reports/kit")) == 6
    await inside.text("T7 1 unit set")
    some = await inside.page("/office/reports/kit")
    assert rails(some) == 4 and "1 units of T7" in some
    await inside.text("T7 all units set")
    assert "nothing to load" in await inside.page("/office/reports/kit")


async def test_a_site_has_a_page_of_its_trenches(inside: Office) -> None:
    await inside.text("T7 depth 1.6 width 0.9 length 6 firm clay dry")
    page = await inside.page("/office/site/Larch%20Street")
    assert "/T7" in page and "1.6 m planned" in page and f"tel:{ALEX}" in page
    assert (await inside.get("/office/site/Nowhere"))[0] == 404
    every = await inside.page("/office/trenches")
    assert "firm clay, dry" in every and "0 of 14" in every


async def test_live_pages_are_told_of_a_change(inside: Office) -> None:
    async with inside.http.get(inside.url + "/office/live") as stream:
        assert stream.content_type == "text/event-stream"
        assert await stream.content.readline() == b"retry: 1000\n"
        await inside.text(SIZED)
        async for line in stream.content:  # after beats, on a machine that is busy
            if line == b"event: changed\n":
                return
    raise AssertionError("the stream ended and told of no change")


async def test_the_page_of_a_trench_and_its_papers(inside: Office) -> None:
    await inside.text(SIZED)
    await inside.text("T7 all units set, all at 40 bar, dug to 1.6")
    await inside.text("T7 inspected all ok", sender=ALEX)
    page = await inside.page("/office/trench/Larch%20Street/T7")
    assert 'role="img"' in page and "Unit 1 read 40 bar, in the band." in page and "Dig in stages" in page
    link = page.partition("/inspection?at=")[2].partition('"')[0]
    report = await inside.page(f"/office/trench/Larch%20Street/T7/inspection?at={link}")
    # The eight particulars of CDM 2015 regulation 24(1)(b), as in its twin NI SR 2016/146 reg 23(1)(b) (R1).
    for particular in ("(i)", "(ii)", "(iii)", "(iv)", "(v)", "(vi)", "(vii)", "(viii)"):
        assert particular in report
    assert "Alex" in report and "Demo Town Water" in report
    # The client's own address, and not that of the site, which stands under (ii).
    one, two = (report.index(f'<th scope="row">({number})') for number in ("i", "ii"))
    assert "1 Pump Lane, Demo Town" in report[one:two] and "Larch Street" not in report[one:two]
    # What nobody told is not left out.
    assert "ends <em>not reported</em>" in report and "Way out: <em>not reported</em>" in report
    assert "inspected all ok" in await inside.page("/office/trench/Larch%20Street/T7/file")
    assert "nothing to load" in await inside.page("/office/reports/kit")  # all of it stands in the ground
    assert (await inside.get("/office/trench/Larch%20Street/T99"))[0] == 404


async def test_a_changed_figure_shows_what_it_would_change_and_saves_nothing(inside: Office) -> None:
    await inside.text(SIZED)
    path = "/office/figures/kits/light.toml"
    page = await inside.page(path)
    text = (DATA / "kits" / "light.toml").read_text(encoding="utf-8")
    today = f"checked = {datetime.now(UTC):%Y-%m-%d}"
    lower = re.sub(r"(?m)^relief_bar = .*$", "relief_bar = 35.0", re.sub(r"(?m)^checked = .*$", today, text))
    assert lower != text

    async def tried(changed: str) -> str:
        form = {"form_token": token(page), "text": changed, "base": "0"}
        return (await inside.post(path, form))[1]

    assert "Nothing would change in kits/light.toml" in await tried(text)
    otherwise = await tried(lower)
    assert "1 open trench would be answered otherwise" in otherwise and "pressure (bar)" in otherwise
    assert "light.toml: relief_bar" in await tried(text.replace("relief_bar", "relief_ber"))
    assert "not valid TOML" in await tried("= <script>")
    assert (DATA / "kits" / "light.toml").read_text(encoding="utf-8") == text
    for nowhere in ("../outcome.py", "%2e%2e/outcome.py", "kits", "kits/light.toml/"):
        assert (await inside.get(f"/office/figures/{nowhere}"))[0] == 404


# ---------------------------------------------------------------- nothing said can do harm


async def test_what_was_said_is_harmless_on_every_page(inside: Office) -> None:
    await inside.text(SIZED)
    texts = (*NASTY.values(), *(f"T7 crack {text}"[:10_000] for text in NASTY.values()))
    said = [await inside.text(text) for text in texts]
    trench = "/office/trench/Larch%20Street/T7"
    for path in (*PAGES, trench, f"{trench}/file", *(f"/office/exchange/{number}" for number in said)):
        page = await inside.page(path)
        assert [live for live in LIVE if live in page] == [], path
        assert not HIDDEN & set(page), path


async def test_signs_that_cannot_be_seen_are_shown_by_their_code(inside: Office) -> None:
    number = await inside.text(NASTY["direction"])
    assert 'depth <span class="hidden-sign">U+202E</span>6.1' in await inside.page(
        f"/office/exchange/{number}"
    )


async def test_a_search_takes_any_sign(inside: Office) -> None:
    await inside.text(SIZED)
    signs = (
        '"',
        "' OR 1=1 --",
        "a* NEAR(b)",
        "-",
        "^x",
        "text:a",
        "%",
        "\x00",
        "1\x002",
        "x" * 5000,
        "é\u202e",
    )
    for query in signs:
        async with inside.http.get(inside.url + "/office/log", params={"text": query}) as response:
            assert response.status == 200, query


async def test_lists_to_take_away(inside: Office) -> None:
    for text in ("=1+1", "+2", "-3", "@x", "\t=4", 'plain, "quoted"\nline', "＝5", " =6"):
        await inside.text(text)
    rows = list(csv.DictReader(io.StringIO((await inside.page("/office/log.csv")).removeprefix("\ufeff"))))
    assert len(rows) == 8
    cells = [cell for row in rows for cell in row.values()]
    assert not [cell for cell in cells if cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "＝"))]
    assert rows[2]["text"] == 'plain, "quoted"\nline'
    lines = [json.loads(line) for line in (await inside.page("/office/log.jsonl")).splitlines()]
    assert [line["text"] for line in lines][-1] == "=1+1" and lines[0]["reading"]["purpose"]
    few = (await inside.page("/office/log.jsonl?text=quoted")).splitlines()
    assert len(few) == 1


@pytest.mark.parametrize("unseen", ["\0", "\ufeff", "\u200b", "\u2028", "\u2060\u00ad", "\x1b", " \u200e "])
@pytest.mark.parametrize("formula", ["=1+1", "+1", "-1", "@x", "＝1"])
def test_no_sign_that_cannot_be_seen_hides_a_formula(unseen: str, formula: str) -> None:
    assert export.harmless(f"{unseen}{formula}").startswith("'")


async def test_a_site_may_have_a_slash_in_its_name(tmp_path: Path, basis: Basis) -> None:
    name, people = "Mill/Lane", tmp_path / "people.toml"
    people.write_text(PEOPLE.read_text(encoding="utf-8").replace("Larch Street", name), encoding="utf-8")
    async with running(tmp_path / "log.sqlite", basis, crew=people) as office:
        await office.sign_in()
        await office.text("T7 depth 1.6 width 0.9 length 6 firm clay dry")
        today = await office.page("/office/")
        for link in set(re.findall(r'href="(/office/(?:site|trench)/[^"#?]*)"', today)):
            await office.page(link)
        assert "T7" in await office.page(f"/office/site/{quote(name, safe='')}")
        assert "T7" in await office.page(f"/office/trench/{quote(name, safe='')}/T7")


async def test_the_database_to_take_away_is_whole_and_holds_no_secret(inside: Office, tmp_path: Path) -> None:
    await inside.text(SIZED)
    async with inside.http.get(inside.url + "/office/database") as response:
        raw = await response.read()
    assert b"scrypt$" not in raw
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(raw)
    assert main(["log", "verify", "--db", str(copy)]) == 0
    store = Store(copy)
    assert store.db.execute("SELECT count(*) FROM turns").fetchone()[0] == 1
    store.close()
