"""The demo's two phones: every story is told through the running service, over its hook and its outbox."""

import json
import re
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import patience
import photographs
import pytest

from bot.commands.serve import PEOPLE
from bot.config.people import People
from bot.demo.phones import phones_of
from bot.storage import log, pictures

SAM, ALEX = "+447700900123", "+447700900124"


@dataclass
class Demo:
    """A running service."""

    url: str

    def get(self, path: str) -> Any:
        with urllib.request.urlopen(self.url + path) as response:
            return json.load(response)

    def send(self, number: str, text: str, origin: str | None = None, **more: str) -> int:
        """Text as one of the phones. Returns the HTTP status."""
        request = urllib.request.Request(
            self.url + "/phone/send",
            data=json.dumps({"from": number, "text": text, **more}).encode(),
            headers={"Origin": origin or self.url},
        )
        try:
            with urllib.request.urlopen(request) as response:
                return int(response.status)
        except urllib.error.HTTPError as error:
            return error.code

    def picture(self, file: bytes, origin: str | None = None) -> Any:
        """Hand a picture over as the page does. What is answered, or the HTTP status."""
        request = urllib.request.Request(
            self.url + "/phone/picture", data=file, headers={"Origin": origin or self.url}
        )
        try:
            with urllib.request.urlopen(request) as response:
                return json.load(response)["picture"]
        except urllib.error.HTTPError as error:
            return error.code

    def on(self, number: str, since: int = 0) -> list[dict[str, Any]]:
        """What stands on a phone and is not its owner's own."""
        news = self.get(f"/phone/news?after={since}")
        return [each for each in news if each["phone"] == number and not each["own"]]

    def arrives(self, number: str, words: str, since: int = 0) -> str:
        """The text of the outbox that has these words, once it is there."""
        until = time.monotonic() + patience.SECONDS
        while time.monotonic() < until:
            for each in self.on(number, since):
                if each["alert"] and words in each["text"]:
                    return str(each["text"])
            time.sleep(0.05)
        raise AssertionError(f"{words!r} never came")


def serving(folder: Path, *more: str) -> Iterator[Demo]:
    command = [sys.executable, "-m", "bot", "serve", "--port", "0", "--db", str(folder / "log.sqlite"), *more]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout
        line = process.stdout.readline()
        found = re.search(r"http://[\d.:]+\d", line)
        assert found, line
        yield Demo(found[0])
        process.terminate()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    yield from serving(tmp_path_factory.mktemp("phones"), "--demo")


def last_of(demo: Demo) -> int:
    return max((each["n"] for each in demo.get("/phone/news?after=0")), default=0)


@pytest.mark.parametrize("at", range(3))
def test_every_story_goes_as_its_words_say(demo: Demo, at: int) -> None:
    crew = demo.get("/phone/crew")
    story, ref, since, code = crew["stories"][at], demo.get("/phone/ref")["ref"], last_of(demo), ""
    numbers = {each["role"]: each["number"] for each in crew["people"]}
    for step in story["step"]:
        if "{code}" in step["say"]:
            found = re.search(r"code (\d{4,8})", demo.arrives(ALEX, f"{ref} code", since))
            assert found
            code = found[1]
        text = step["say"].replace("{ref}", ref).replace("{code}", code)
        assert demo.send(numbers[step["who"]], text) == 200
    # The replies alone: what the service sends of itself, of this trench or another, comes when it is due.
    sam, alex = (
        [each["text"] for each in demo.on(number, since) if not each["alert"]] for number in (SAM, ALEX)
    )
    if story["title"] == "A good day":
        # That a leave was in force shows where it ends: both phones are called.
        assert "EVERYONE OUT" in sam[-1] and "EVERYONE OUT" in demo.arrives(ALEX, "EVERYONE OUT", since)
        link = next(re.search(r"/sketch/\S+", text) for text in sam if "/sketch/" in text)
        assert link
        with urllib.request.urlopen(f"{demo.url}{link[0]}.png") as picture:
            assert picture.read(8) == b"\x89PNG\r\n\x1a\n"
    elif story["title"] == "Gas":
        assert "gas" in demo.arrives(ALEX, ref, since).lower()
        assert "EVERYONE OUT" in sam[1] and "NOBODY IN" in sam[2] and "NOBODY IN" in alex[-1]
    else:
        assert "YES or NO" in sam[1] and "STOPPED" in "".join(alex)
        assert "STOP" in demo.arrives(SAM, "STOPPED", since) and "STOP" in sam[-1]


def test_no_other_page_may_send_and_nobody_else_may_be_sent_for(demo: Demo) -> None:
    assert demo.send(SAM, "T1 smell of gas", origin="https://elsewhere.example") == 403
    assert demo.send("+447700900126", "T1 smell of gas") == 403  # on the list, and on neither phone
    with pytest.raises(urllib.error.HTTPError, match="404"):
        demo.get("/phone/no-such-file")
    request = urllib.request.Request(demo.url + "/phone/inbox/guessed", data=b'{"to": "+1", "text": "x"}')
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(request)


def test_a_picture_goes_with_a_text_and_is_kept(tmp_path: Path) -> None:
    for demo in serving(tmp_path, "--demo"):
        name = demo.picture(photographs.told_too_much())
        assert demo.send(SAM, "T1 ladder in", picture=name) == 200
        own = demo.get("/phone/news?after=0")[0]
        with urllib.request.urlopen(demo.url + own["picture"]) as shown:
            assert shown.read() == photographs.told_too_much()
            assert shown.headers["Content-Type"] == "image/jpeg"
        db = log.open_to_read(tmp_path / "log.sqlite")
        (exchange,) = db.execute("SELECT max(exchange) FROM turns WHERE text = 'T1 ladder in'").fetchone()
        until = time.monotonic() + patience.SECONDS
        while not (kept := pictures.of_exchange(db, exchange)) or kept[0].waits:
            assert time.monotonic() < until
            time.sleep(0.05)
        db.close()
        assert [(each.why, each.wide, each.high) for each in kept] == [("", 640, 480)]
        assert demo.send(SAM, "", picture=demo.picture(b"anything")) == 200
        assert demo.send(SAM, "T1 ladder in", picture="guessed") == 400
        assert demo.picture(b"x" * (12 * 1024 * 1024 + 1)) == 413
        assert demo.picture(b"x", origin="https://elsewhere.example") == 403


def test_the_phones_are_in_the_demo_alone(tmp_path: Path, signed_json: None) -> None:
    for plain in serving(tmp_path):
        with pytest.raises(urllib.error.HTTPError, match="404"):
            plain.get("/phone/")


def test_a_site_without_a_supervisor_has_no_phones() -> None:
    people = People.load(PEOPLE)
    assert phones_of(people) is not None
    assert phones_of(People(each for each in people if each.role != "supervisor")) is None
