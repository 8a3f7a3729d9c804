"""The office as it is used: headless Chromium before the real command, at two widths, with keys alone.

Needs the distribution's Chromium (`apt-get install chromium`). The accessibility check needs axe-core from
npm, its axe.min.js named by AXE_CORE. The tests that miss what they need are skipped and say so.
"""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import patience
import photographs
import pytest
from office_visit import PASSWORD
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from served import SECRET, signed

from bot.commands.serve import PEOPLE
from bot.office import users
from bot.storage.turns import Store

PATIENCE_MS = patience.SECONDS * 1000

CHROMIUM = shutil.which("chromium")
AXE = os.environ.get("AXE_CORE", "")
SHOTS = os.environ.get("SHOTS", "")
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

    def _request(self, message: bytes) -> urllib.request.Request:
        return urllib.request.Request(self.url + "/hook/json", message)

    def text(self, text: str, number: str = "+447700900123") -> int:
        """Send a text as the crew would. Returns its exchange."""
        now = datetime.now(UTC).isoformat()
        message = json.dumps({"id": now, "from": number, "text": text, "sent_at": now}).encode()
        with urllib.request.urlopen(self._request(message)) as response:
            return int(json.load(response)["exchange"])


@dataclass
class ServedSigned(Served):
    """The same as a company runs it: texts are signed."""

    def _request(self, message: bytes) -> urllib.request.Request:
        return urllib.request.Request(self.url + "/hook/json", message, signed(message))


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
    expect(page.get_by_label("Name")).to_be_focused()
    page.keyboard.type("demo")
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
    # What the browser says of being off line is the test's own doing.
    assert [said for said in faults if "ERR_INTERNET_DISCONNECTED" not in said] == []


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
    expect(page.locator("h1")).to_contain_text("Danger: get everyone out")
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
    expect(page.locator(".trench").first).to_contain_text("Danger: get everyone out")
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


@dataclass
class Company:
    """The service as a company runs it, with a page of Today before it. No channel of it can send."""

    db: Path
    port: int
    process: subprocess.Popen[str]
    page: Page

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self.process = started(self.db, self.port)

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait()
        assert self.process.stdout
        self.process.stdout.close()


def started(db: Path, port: int) -> subprocess.Popen[str]:
    """`trenchword serve`, once it listens."""
    command = [sys.executable, "-m", "bot", "serve", "--people", str(PEOPLE)]
    process = subprocess.Popen(
        [*command, "--port", str(port), "--db", str(db)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, **SECRET},
    )
    assert process.stdout and "listens" in process.stdout.readline()
    return process


@pytest.fixture
def company(browser: Browser, tmp_path: Path) -> Iterator[Company]:
    db = tmp_path / "log.sqlite"
    store = Store(db)
    with store.transaction():
        users.add(store.db, "jo", "reader", PASSWORD, datetime.now(UTC))
    store.close()
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    context = visitor(browser, viewport=OFFICE)
    made = Company(db, port, started(db, port), context.new_page())
    yield made
    made.page.goto("about:blank")  # so that the service need not wait for the page when it stops
    context.close()
    made.stop()


TODAY_ALOUD = """
- link "Skip to content"
- banner:
  - link "Trenchword"
  - navigation "Pages":
    - link "Today"
    - link "Log"
    - link "Trenches"
    - link "Reports"
    - link "Set-up"
    - link "Figures"
    - link "Changes"
  - search "Go to":
    - textbox "Go to a trench or an exchange"
    - button "Go"
  - text: jo
  - button "Sign out"
- main:
  - paragraph: /Live. Up to date at .*/
  - paragraph:
    - 'link "1 alarm not delivered: ring"'
  - paragraph:
    - text: /No text goes out from here.*/
    - link "How to mend it"
  - alert: /Hazard. T3, Larch Street.* crack reported.*/
  - 'heading "3 trenches: 1 in danger, 1 stopped or refused, 1 not ready, nobody reported in." [level=1]'
  - paragraph:
    - strong: "Get everyone out:"
    - link "T3"
  - paragraph:
    - strong: "Keep everyone out:"
    - link "T2"
  - paragraph:
    - strong: "Not ready, keep out:"
    - link "T1"
  - region "Alarms":
    - 'heading "Not told of danger: ring them" [level=2]'
    - list:
      - listitem:
        - paragraph:
          - strong: "Alex NOT told of T3:"
          - text: ring
          - link "+447700900124"
        - paragraph: /T3.* EVERYONE OUT.*/
        - text: Who was rung
        - textbox "Who was rung"
        - 'button "Rung: they know now"'
  - region "Larch Street":
    - heading "Larch Street 3 on record" [level=2]:
      - link "Larch Street"
    - list:
      - listitem:
        - text: "Danger: get everyone out"
        - heading "T3" [level=3]:
          - link "T3"
        - paragraph:
          - strong: /crack reported .*/
        - paragraph: /and \\d+ more facts missing/
        - paragraph:
          - text: "Alex NOT told: ring"
          - link "+447700900124"
        - text: /Depth 0.6 m dug, 1.4 m planned Units 2 reported set of 10 Gauges no.* Ring Alex, supervisor/
        - link "+447700900124"
        - text: Sam
        - link "+447700900123"
      - listitem:
        - text: "Shores refused: keep everyone out"
        - heading "T2" [level=3]
      - listitem:
        - text: "No entry: facts missing"
        - heading "T1" [level=3]
  - region "Texts not delivered"
  - region "Words not understood"
- contentinfo: /The tool never permits entry.*/
"""


def test_today_read_aloud_worked_by_keys_and_seen_through_faults(company: Company) -> None:
    page = company.page
    page.goto(company.url + "/office/")
    expect(
        page.get_by_label("Name")
    ).to_be_focused()  # without a click; a key struck before that goes nowhere
    page.keyboard.type("jo")
    page.keyboard.press("Tab")
    expect(page.get_by_label("Password")).to_be_focused()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    live = page.locator("#live")
    expect(live).to_contain_text("Live. Up to date")
    crew = ServedSigned(company.url, "")
    for text in (
        "T1 depth 1.2 width 0.9 length 4 firm clay dry",
        "T2 depth 3.4 width 0.9 length 6 soft clay standing water",
        "T3 depth 1.4 width 0.8 length 5 stiff clay dry",
        "T3 2 units set, dug to 0.6",
        "T3 crack opening along the top",
    ):
        crew.text(text)
    alarms = page.get_by_role("region", name="Alarms")
    expect(alarms).to_contain_text("NOT told of T3")
    expect(page.locator("body")).to_match_aria_snapshot(TODAY_ALOUD)

    reach(page, "Who was rung")
    page.keyboard.type("Alex")
    page.keyboard.press("Enter")
    expect(alarms).to_contain_text("Seen to by jo")
    expect(page.locator("#strip")).not_to_contain_text("not delivered")

    page.evaluate("window.sameLoad = true")
    company.process.send_signal(signal.SIGSTOP)  # it is there, and says nothing
    expect(live).to_contain_text("NOT LIVE since")
    company.process.send_signal(signal.SIGCONT)
    expect(live).to_contain_text("Live. Up to date")
    company.stop()
    expect(live).to_contain_text("NOT LIVE since")
    company.start()
    expect(live).to_contain_text("Live. Up to date")
    assert page.evaluate("window.sameLoad") is True


def test_a_page_looks_again_often_enough_to_be_seen_stale_within_three_seconds() -> None:
    """What no clock of a busy machine can show: the figures of the page's own script."""
    script = (Path(users.__file__).parent / "static" / "office.js").read_text(encoding="utf-8")
    silent, retry = (int(re.findall(rf"{name} = (\d+);", script)[0]) for name in ("SILENT_MS", "RETRY_MS"))
    assert "}, RETRY_MS / 2);" in script
    assert silent + retry / 2 <= 3000


KEYS = ("/office/", "/office/log", "/office/reports", "/phone/")
FOCUSABLE = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]"
TO_REACH = f"""() => {{
  const all = [...document.querySelectorAll("{FOCUSABLE}")].filter(
    (each) => each.tabIndex >= 0 && !each.disabled && each.checkVisibility());
  all.forEach((each, n) => each.dataset.key = n);
  if (all.some((each) => each.tabIndex > 0)) throw new Error("an order of its own");
  return all.map((each) => each.type === "radio" ? each.name : each.outerHTML.slice(0, 90));
}}"""
HERE = """() => {
  const at = document.activeElement, look = getComputedStyle(at);
  return [at.type === "radio" ? at.name : at.outerHTML.slice(0, 90), at.dataset.key ?? "",
          look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2];
}"""


@pytest.mark.parametrize("path", KEYS)
def test_keys_alone_reach_all_that_can_be_done_in_order_and_are_seen(
    page: Page, served: Served, path: str
) -> None:
    page.goto(served.url + path)
    if path == "/office/":
        expect(page.locator("#live")).to_contain_text("Live. Up to date")
    wanted = page.evaluate(TO_REACH)
    came = []
    for _ in wanted:
        page.keyboard.press("Tab")
        said, key, ringed = page.evaluate(HERE)
        assert ringed, f"no ring around {said}"
        came.append(int(key or -1))
    assert came == sorted(came) and len(set(came)) == len(wanted), (came, wanted)


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
    photograph.scroll_into_view_if_needed()  # loaded once it is looked at
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
def test_every_page_at_every_width_by_day_and_night(browser: Browser, served: Served, cookies: Any) -> None:
    """Free of findings of axe, no wider than its window. SHOTS names a folder for pictures to look at."""
    # The check runs in the page, which the pages' own policy forbids to anybody else.
    context = visitor(browser, viewport=OFFICE, bypass_csp=True)
    page = context.new_page()
    found: dict[str, list[str]] = {}
    for path in ("/office/login", *PAGES):
        page.goto(served.url + path)
        if path == "/office/login":
            context.add_cookies(cookies)
        page.evaluate(Path(AXE).read_text(encoding="utf-8"))
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 860})
            if page.evaluate("document.documentElement.scrollWidth") > width:
                found.setdefault(path, []).append(f"wider than {width}")
            for scheme, rules in SCHEMES.items():
                page.emulate_media(color_scheme=scheme)
                bad = page.evaluate(LOOK, [rules, (width, scheme) in LOOKED_AT])
                found.setdefault(path, []).extend(f"{width} {scheme} {each}" for each in bad)
                if SHOTS:
                    name = re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-")
                    page.screenshot(path=f"{SHOTS}/{name}-{width}-{scheme}.png", full_page=True)
    context.close()
    assert {path: each for path, each in found.items() if each} == {}


WIDTHS = (1280, 768, 390)
SCHEMES: dict[Any, list[str]] = {"light": [], "dark": ["color-contrast"]}  # of axe's rules; none: all of them
LOOKED_AT = {(390, "light"), (1280, "dark")}  # by axe, which takes long; widths are held at all
LOOK = """async ([rules, look]) => {
  if (!look) return [];
  const said = await axe.run(rules.length ? {runOnly: rules} : {resultTypes: ["violations"]});
  if (said.passes.length < (rules.length ? 1 : 6)) throw new Error("the check did not look at the page");
  const told = (each) => each.nodes.map((node) => each.id + ": " + node.html.slice(0, 120));
  return said.violations.flatMap(told);
}"""
