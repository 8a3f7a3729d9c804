"""The office as it is used: headless Chromium before the real command, at two widths, with keys alone.

Needs the distribution's Chromium (`apt-get install chromium`). The accessibility check needs axe-core from
npm, its axe.min.js named by AXE_CORE. The tests that miss what they need are skipped and say so.
"""

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import patience
import photographs
import pytest
from office_visit import PASSWORD
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from served import SECRET

from bot.commands.serve import PEOPLE
from bot.office import users
from bot.storage.turns import Store

PATIENCE_MS = patience.SECONDS * 1000

CHROMIUM = shutil.which("chromium")
AXE = os.environ.get("AXE_CORE", "")
FAKED = ("LD_PRELOAD", "FAKETIME")  # with another clock than the machine's own a browser spins for ever
OFFICE, PHONE = {"width": 1280, "height": 860}, {"width": 390, "height": 844}
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
PAGES = (
    "/office/", "/office/log", "/office/log?kind=stop", "/office/trenches", "/office/reports",
    "/office/set-up",
    "/office/reports/kit", "/office/reports/week", "/office/exchange/1", "/office/trench/Larch%20Street/T1",
    "/office/trench/Larch%20Street/T1/file", "/office/changes", "/office/figures",
    "/office/figures/rules.toml", "/office/figures/kits/light.toml", "/office/figures/words/en.toml",
    "/office/set-up/person", "/office/set-up/site?name=Larch%20Street", "/office/site/Larch%20Street",
    "/office/log?about=hazard", "/office/figures/soils.toml", "/office/trench/Larch%20Street/T3", "/phone/",
)  # fmt: skip

pytestmark = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium"
)


@dataclass
class Served:
    """The running demo."""

    url: str
    password: str

    def text(self, text: str, number: str = "+447700900123") -> int:
        """Send a text as the crew would. Returns its exchange."""
        now = datetime.now(UTC).isoformat()
        message = json.dumps({"id": now, "from": number, "text": text, "sent_at": now}).encode()
        with urllib.request.urlopen(self.url + "/hook/json", data=message) as response:
            return int(json.load(response)["exchange"])


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    db = tmp_path_factory.mktemp("office") / "demo.sqlite"
    command = [sys.executable, "-m", "bot", "serve", "--demo", "--port", "0", "--db", str(db)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout
        told = ""
        while "log verify" not in told:
            line = process.stdout.readline()
            assert line, "the demo did not start"
            told += line
        url, password = re.search(r"http://[\d.:]+", told), re.search(r'password "([^"]+)"', told)
        assert url and password
        demo = Served(url[0], password[1])
        demo.text("T1 depth 1.6 width 0.9 length 6 firm clay dry")
        yield demo
        process.terminate()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    own_clock = {name: value for name, value in os.environ.items() if name not in FAKED}
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS), env=own_clock)
        expect.set_options(timeout=PATIENCE_MS)
        yield opened
        opened.close()


def visitor(browser: Browser, **how: Any) -> BrowserContext:
    """A browser of one's own, which waits for slow pages."""
    context = browser.new_context(**how)
    context.set_default_timeout(PATIENCE_MS)
    return context


@pytest.fixture(scope="module")
def cookies(browser: Browser, served: Served) -> Any:
    """Signed in once: attempts are limited."""
    context = visitor(browser, viewport=OFFICE)
    page = context.new_page()
    page.goto(served.url + "/office/log?text=clay")
    page.keyboard.type("demo")  # the name has the focus
    page.keyboard.press("Tab")
    page.keyboard.type(served.password)
    page.keyboard.press("Enter")
    expect(page).to_have_url(served.url + "/office/log?text=clay")  # where the visitor wanted to go
    kept = context.cookies()
    context.close()
    return kept


@pytest.fixture
def page(browser: Browser, cookies: Any) -> Iterator[Page]:
    context = visitor(browser, viewport=OFFICE)
    context.add_cookies(cookies)
    opened = context.new_page()
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    opened.on("dialog", lambda dialog: faults.append(dialog.message))
    yield opened
    context.close()
    assert faults == []


def test_an_exchange_is_found_and_its_sheet_read_with_keys_alone(page: Page, served: Served) -> None:
    number = served.text("T21 depth 1.4 width 0.8 length 5 stiff clay dry blackbird")
    page.goto(served.url + "/office/log")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("blackb*")
    page.keyboard.press("Enter")
    link = page.locator(f'a[href="/office/exchange/{number}"]')
    expect(link).to_be_visible()
    for _ in range(40):
        page.keyboard.press("Tab")
        if link.evaluate("each => each === document.activeElement"):
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Calculation sheet")).to_be_visible()
    sheet = page.get_by_role("region", name="Calculation sheet")
    assert sheet.get_by_role("row").count() > 10
    expect(sheet).to_contain_text("29 CFR 1926 Subpart P")
    expect(page.locator(".unread").first).to_contain_text("blackbird")


def test_a_trench_is_followed_live_while_messages_arrive(page: Page, served: Served) -> None:
    served.text("T22 depth 1.6 width 0.9 length 6 firm clay dry")
    page.goto(served.url + "/office/trench/Larch%20Street/T22")
    expect(page.locator("#live")).to_contain_text("Up to date")
    page.evaluate("window.sameLoad = true")
    expect(page.locator("#standing")).to_contain_text("No units reported set")
    served.text("T22 all units set, all at 40 bar, dug to 1.6")
    expect(page.locator("#standing")).not_to_contain_text("No units reported set")
    expect(page.locator("#drawn")).to_contain_text("dug 1.6 m")
    served.text("T22 water coming in at the far end")
    expect(page.locator("h1")).to_contain_text("Hazard: everyone out")
    assert page.evaluate("window.sameLoad") is True


def test_today_puts_a_new_hazard_first_and_says_it_aloud_without_a_reload(page: Page, served: Served) -> None:
    served.text("T23 depth 1.2 width 0.6 length 3 stiff clay dry")
    page.goto(served.url + "/office/")
    expect(page.locator("#live")).to_contain_text("Up to date")
    spoken = page.locator("#spoken")
    served.text("T23 ladder in")
    expect(page.locator("#trenches")).to_contain_text("T23")
    expect(spoken).to_be_empty()  # nothing but hazards is said aloud
    served.text("T23 crack opening along the top")
    expect(page.locator(".trench").first).to_contain_text("T23")
    expect(page.locator(".trench").first).to_contain_text("Hazard: everyone out")
    expect(spoken).to_contain_text("T23, Larch Street")
    expect(page).to_have_title(re.compile(r"hazard"))
    assert page.locator("[aria-live], [role=status], [role=alert]").count() == 1


def test_a_page_that_is_not_live_says_so_and_comes_back_by_itself(page: Page, served: Served) -> None:
    page.goto(served.url + "/office/")
    live = page.locator("#live")
    expect(live).to_contain_text("Live. Up to date")
    page.context.set_offline(True)
    expect(live).to_contain_text("NOT LIVE since")
    expect(page).to_have_title(re.compile("^NOT LIVE"))
    assert page.locator("body.stale").count() == 1
    served.text("T29 depth 1.2 width 0.6 length 3 stiff clay dry")
    served.text("T29 smell of gas")
    page.context.set_offline(False)
    expect(live).to_contain_text("Live. Up to date")
    expect(page.locator(".trench").first).to_contain_text("T29")
    assert page.locator("body.stale").count() == 0


def test_a_service_restarted_under_a_page_is_seen_and_the_page_comes_back(
    browser: Browser, tmp_path: Path
) -> None:
    db = tmp_path / "log.sqlite"
    store = Store(db)
    with store.transaction():
        users.add(store.db, "jo", "reader", PASSWORD, datetime.now(UTC))
    store.close()
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    url = f"http://127.0.0.1:{port}"
    context = visitor(browser, viewport=OFFICE)
    page = context.new_page()
    with serving(db, port):
        page.goto(url + "/office/")
        page.get_by_label("Name").fill("jo")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.locator("#live")).to_contain_text("Live. Up to date")
        page.evaluate("window.sameLoad = true")
    expect(page.locator("#live")).to_contain_text("NOT LIVE since")
    with serving(db, port):
        expect(page.locator("#live")).to_contain_text("Live. Up to date")
        assert page.evaluate("window.sameLoad") is True
        page.goto("about:blank")  # so that the service need not wait for the page when it stops
    context.close()


@contextmanager
def serving(db: Path, port: int) -> Iterator[None]:
    """The service as a company runs it, until the block ends."""
    command = [
        sys.executable,
        "-m",
        "bot",
        "serve",
        "--people",
        str(PEOPLE),
        "--port",
        str(port),
        "--db",
        str(db),
    ]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env={**os.environ, **SECRET}
    ) as process:
        assert process.stdout and "listens" in process.stdout.readline()
        yield
        process.terminate()


def test_a_story_is_clicked_through_on_the_phones(page: Page, served: Served) -> None:
    page.goto(served.url + "/phone/")
    page.get_by_role("button", name="Gas", exact=True).click()
    step = page.locator("#next")
    for _ in range(4):
        expect(step).to_contain_text("texts:")
        expect(step).to_be_enabled()
        said = step.inner_text()
        step.click()
        expect(step).not_to_have_text(said)
    expect(step).to_contain_text("The story is told")
    expect(page.get_by_label("Texts on Alex's phone")).to_contain_text("EVERYONE OUT")
    expect(page.get_by_label("Texts on Sam's phone")).to_contain_text("NOBODY IN")


def test_a_picture_is_sent_from_a_phone_and_seen_in_the_office(
    page: Page, served: Served, tmp_path: Path
) -> None:
    file = tmp_path / "gauge.jpg"
    file.write_bytes(photographs.told_too_much())
    page.goto(served.url + "/phone/")
    page.get_by_label("Text as Sam").fill("T1 ladder in")
    page.get_by_label("Picture from Sam:").set_input_files(file)
    page.locator(".phone", has=page.get_by_label("Text as Sam")).get_by_role("button", name="Send").click()
    expect(page.get_by_role("img", name="The picture that Sam sent")).to_be_visible()
    page.goto(served.url + "/office/trench/Larch%20Street/T1")
    photograph = page.get_by_role("img", name=re.compile("^Photograph that Sam sent"))
    expect(photograph).to_be_visible()  # as soon as it is kept: the page is live
    expect(photograph).to_have_js_property("naturalWidth", 640)


def test_a_page_on_paper_holds_the_report_and_no_menus(page: Page, served: Served) -> None:
    served.text("T24 depth 1.6 width 0.9 length 6 firm clay dry")
    served.text("T24 inspected ok", "+447700900124")
    page.goto(served.url + "/office/trench/Larch%20Street/T24")
    page.get_by_role("link", name=re.compile("Inspection of")).click()
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", name="Inspection report: T24, Larch Street")).to_be_visible()
    expect(page.get_by_text("(viii) Made by")).to_be_visible()
    for menu in (".top", ".foot"):
        expect(page.locator(menu)).to_be_hidden()
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_a_figure_is_changed_looked_at_and_saved_with_keys_alone(page: Page, served: Served) -> None:
    served.text("T26 depth 1.6 width 0.9 length 6 firm clay dry")
    page.goto(served.url + "/office/figures/kits/light.toml")
    reach(page, "relief (bar)")
    page.keyboard.press("Control+a")
    page.keyboard.type("48")
    reach(page, "place in it")
    page.keyboard.press("Control+a")
    page.keyboard.type("data sheet 7")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("would be answered otherwise")
    expect(page.get_by_role("link", name="T26")).to_be_visible()
    expect(page.locator(".diff .new").first).to_contain_text("relief_bar = 48.0")
    for size in (PHONE, OFFICE):
        page.set_viewport_size(size)
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert served.text("T27 depth 1.6 width 0.9 length 6 firm clay dry")  # crews are answered meanwhile
    reach(page, "Why is it changed?")
    page.keyboard.type("a weaker valve")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("In force")
    expect(page.get_by_text("a weaker valve")).to_be_visible()
    page.goto(
        served.url + f"/office/exchange/{served.text('T28 depth 1.6 width 0.9 length 6 firm clay dry')}"
    )
    expect(page.get_by_role("region", name="Calculation sheet")).to_contain_text("48")


def reach(page: Page, label: str) -> None:
    """Go on with the Tab key until the field of that label has the focus."""
    field = page.get_by_label(label, exact=True).first
    for _ in range(120):
        page.keyboard.press("Tab")
        if field.evaluate("each => each === document.activeElement"):
            return
    raise AssertionError(f"{label} cannot be reached by keys")


PAPER = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # mm
MARGIN = 11.0  # as in sheet.css


@pytest.mark.parametrize("paper", PAPER)
@pytest.mark.parametrize(
    "told",
    [
        "T31 depth 1.6 width 0.9 length 6 firm clay, no slab, dry, ends battered, spoil 1.2 m back",
        # As much as a sheet ever holds: boards, a service, traffic, plant, a slab, and open ends.
        "T32 depth 2.0 width 0.9 length 8 firm clay, live traffic 1 m from the edge, slab 0.2, "
        "plant 2.5 t 1.2 m off, water main crossing at 3 m 0.6 down",
    ],
)
def test_the_page_to_initial_is_one_page_of_paper(page: Page, served: Served, told: str, paper: str) -> None:
    number = served.text(told)
    wide, tall = ((side - 2 * MARGIN) / 25.4 * 96 for side in PAPER[paper])
    page.set_viewport_size({"width": int(wide), "height": int(tall)})
    page.emulate_media(media="print")
    page.goto(f"{served.url}/office/exchange/{number}/sheet")
    expect(page.get_by_text("Permit to load")).to_be_visible()
    assert page.evaluate("document.querySelector('.front').getBoundingClientRect().height") <= tall
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
    # The front and the working: as many pages as Chromium makes of them, the front on one.
    printed = page.pdf(format=paper)
    page.evaluate("document.querySelector('.working').remove()")
    fronts = page.pdf(format=paper)
    pages = [len(re.findall(rb"/Type /Page\b(?!s)", each)) for each in (printed, fronts)]
    assert pages[1] == 1 < pages[0] <= 8


def test_what_a_text_holds_never_runs_and_pushes_no_page_wide(page: Page, served: Served) -> None:
    nasty = "T25 <img src=x onerror=alert(1)><script>alert(2)</script> \u202edepth" + "W" * 3000
    number = served.text(nasty)
    page.set_viewport_size(PHONE)
    for path in (*PAGES, f"/office/exchange/{number}"):
        page.goto(served.url + path)
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"], path
    assert page.locator(".bubble.theirs img").count() == 0
    expect(page.locator(".bubble.theirs")).to_contain_text("<script>alert(2)</script>")


@pytest.mark.skipif(not AXE, reason="AXE_CORE does not name axe.min.js: npm install axe-core")
@pytest.mark.parametrize("size", [OFFICE, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_is_free_of_findings_of_axe(
    browser: Browser, served: Served, cookies: Any, size: Any, scheme: Any
) -> None:
    # The check runs in the page, which the pages' own policy forbids to anybody else.
    context = visitor(browser, viewport=size, bypass_csp=True, color_scheme=scheme)
    page = context.new_page()
    page.goto(served.url + "/office/login")
    found = {"/office/login": findings(page)}
    context.add_cookies(cookies)
    for path in PAGES:
        page.goto(served.url + path)
        found[path] = findings(page)
    context.close()
    assert {path: each for path, each in found.items() if each} == {}


def findings(page: Page) -> list[str]:
    page.add_script_tag(content=Path(AXE).read_text(encoding="utf-8"))
    result = page.evaluate("axe.run()")
    assert len(result["passes"]) > 5, "the check did not look at the page"
    return [f"{each['id']}: {node['html'][:120]}" for each in result["violations"] for node in each["nodes"]]
