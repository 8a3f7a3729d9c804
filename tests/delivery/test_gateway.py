"""The service and a real SMS gateway, Kannel, on loopback: nothing that the service took is lost.

Kannel 1.4.5 is also the outside check of how texts fall into parts: what its simulated network hands to
the phone is counted here.
"""

import os
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
from channel_samples import channel
from gateway import MISSING, Gateway, Phones, free_port, listens, post, until

from bot.channels import segments
from bot.message import Reply

pytestmark = pytest.mark.skipif(bool(MISSING), reason=MISSING)

KEY = "not-a-real-key"
CREW = ("447700900123", "447700900124", "447700900125")
PERSON = '[[person]]\nnumber = "+{number}"\nname = "{number}"\nrole = "fitter"\nsite = "Larch Street"\n'
PEOPLE = '[[site]]\nname = "Larch Street"\n' + "".join(PERSON.format(number=number) for number in CREW)
TO = "+447700900123"
# Three phones, since one alone is held to what a thumb can do.
BURST = [f"depth 1.6 width 0.{n} soil firm clay" for n in range(50, 80)]


class Served:
    """`trenchword serve` as a process of its own."""

    def __init__(self, folder: Path, port: int, settings: dict[str, str]) -> None:
        self.folder, self.port = folder, port
        (folder / "people.toml").write_text(PEOPLE)
        self._settings = {f"TRENCHWORD_KANNEL_{name.upper()}": value for name, value in settings.items()}
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it listens."""
        command = [sys.executable, "-m", "bot", "serve", "--port", str(self.port)]
        command += ["--db", "log.sqlite", "--people", "people.toml"]
        root = str(Path(__file__).parents[2])
        with (self.folder / "service.out").open("ab") as out:
            self._process = subprocess.Popen(
                command, cwd=self.folder, env={**os.environ, **self._settings, "PYTHONPATH": root},
                stdout=out, stderr=out,
            )  # fmt: skip
        process = self._process
        until(lambda: listens(self.port) or process.poll() is not None, "service")
        assert process.poll() is None, (self.folder / "service.out").read_text()

    def kill(self) -> None:
        """End it without warning."""
        if self._process:
            self._process.kill()
            self._process.wait()
            self._process = None

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """What stands in its database."""
        with sqlite3.connect(self.folder / "log.sqlite") as db:
            return db.execute(query).fetchall()

    def delivered(self, texts: int) -> None:
        """Wait until the phone's receipts for so many texts are on record."""
        query = "SELECT count(*) FROM outbox WHERE state = 'delivered'"
        until(lambda: self.rows(query) == [(texts,)], f"{texts} texts delivered")


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def gateway(tmp_path: Path, port: int) -> Iterator[Gateway]:
    hook = f"http://127.0.0.1:{port}/hook/kannel?key={KEY}"
    gateway = Gateway(tmp_path / "gateway", hook, "not-a-real-password")
    gateway.start()
    yield gateway
    gateway.stop()


@pytest.fixture
def service(tmp_path: Path, port: int, gateway: Gateway) -> Iterator[Served]:
    settings = {
        "secrets": KEY,
        "send_url": gateway.sendsms,
        "hook_url": f"http://127.0.0.1:{port}/hook/kannel",
        "sender": "70011",
        "username": "trenchword",
        "password": "not-a-real-password",
    }
    service = Served(tmp_path, port, settings)
    service.start()
    yield service
    service.kill()


@pytest.mark.parametrize(
    "text",
    [
        "a" * 160,
        "a" * 161,
        "€" * 81,
        "a" * 152 + "€" + "a" * 152,  # the euro may not be torn
        "Set 3 units + 1 & ring_ÉÅ@ [x]",
        "ж" * 70,
        "ж" * 71,
        "ж" * 135,
    ],
)
def test_texts_fall_into_the_parts_that_we_count(gateway: Gateway, text: str) -> None:
    phones = gateway.phones()
    kannel = channel("kannel", send_url=gateway.sendsms, hook_url="")
    request = kannel.request(Reply(to=TO, text=text), "1-1", datetime.now(UTC))
    assert request is not None
    status, body = post(request.url, request.body, dict(request.headers))
    assert kannel.sent(status, {}, body).ok
    count = segments.count(text)
    until(lambda: len(phones.got()) == count.parts, f"{count.parts} parts")
    assert tuple(sms.text(count.coding) for sms in phones.got()) == segments.split(text)


def test_a_wrong_password_is_an_error_for_good(gateway: Gateway) -> None:
    kannel = channel("kannel", send_url=gateway.sendsms, password="wrong")
    request = kannel.request(Reply(to=TO, text="Out."), "1-1", datetime.now(UTC))
    assert request is not None
    assert kannel.sent(*_with_headers(post(request.url, request.body, dict(request.headers)))).permanent


def _with_headers(answer: tuple[int, bytes]) -> tuple[int, dict[str, str], bytes]:
    return answer[0], {}, answer[1]


def _words(phones: Phones) -> str:
    return "".join(sms.text() for sms in phones.got())


def test_a_text_comes_back_answered(gateway: Gateway, service: Served) -> None:
    phones = gateway.phones()
    phones.send("depth 1.6 width 0.9 soil firm clay")
    until(lambda: bool(service.rows("SELECT reply FROM turns")), "an exchange")
    ((sender, text, reply),) = service.rows("SELECT sender, text, reply FROM turns")
    assert (sender, text) == (TO, "depth 1.6 width 0.9 soil firm clay")
    until(lambda: _words(phones) == reply, "the whole reply on the phone")
    assert len(phones.got()) == segments.count(reply).parts
    service.delivered(1)


def test_a_hook_that_is_down_is_ridden_out(gateway: Gateway, service: Served) -> None:
    service.kill()
    phones = gateway.phones()
    phones.send("depth 1.6 width 0.9 soil firm clay")
    service.start()
    service.delivered(1)
    assert _words(phones) == service.rows("SELECT reply FROM turns")[0][0]


def test_a_gateway_that_dies_in_a_burst_is_ridden_out(gateway: Gateway, service: Served) -> None:
    """kill -9 of the gateway's HTTP side, twice. What it had not yet handed over it may lose; a reply to
    what the service answered must reach the phone all the same."""
    phones = _burst(gateway)
    turns = "SELECT count(*) FROM turns"
    for so_many in (5, 12):
        until(lambda so_many=so_many: service.rows(turns)[0][0] >= so_many, f"{so_many} exchanges")
        gateway.kill("smsbox")
        gateway.restart("smsbox")
    _settled(service)
    _all_answered(service, phones)


def test_a_service_that_dies_in_a_burst_loses_nothing(gateway: Gateway, service: Served) -> None:
    """kill -9 of the service, three times: the gateway asks again, with the same ids."""
    phones = _burst(gateway)
    turns = "SELECT count(*) FROM turns"
    for so_many in (3, 8, 15):
        until(lambda so_many=so_many: service.rows(turns)[0][0] >= so_many, f"{so_many} exchanges")
        service.kill()
        service.start()
    until(lambda: service.rows(turns) == [(30,)], "all 30 exchanges")
    _settled(service)
    assert {text for (text,) in service.rows("SELECT text FROM turns")} == set(BURST)
    _all_answered(service, phones)


def _burst(gateway: Gateway) -> Phones:
    phones = gateway.phones()
    for text, number in zip(BURST, cycle(CREW), strict=False):
        phones.send(text, number)
    return phones


def _settled(service: Served) -> None:
    query = "SELECT count(*) FROM outbox WHERE state IN ('waiting', 'going')"
    until(lambda: service.rows(query) == [(0,)], "an empty outbox")


def _all_answered(service: Served, phones: Phones) -> None:
    """Each reply is on the phone, part for part, at least as often as it was given."""
    given = Counter(
        part for (reply,) in service.rows("SELECT reply FROM turns") for part in segments.split(reply)
    )
    until(lambda: not given - Counter(sms.text() for sms in phones.got()), "every reply on the phone")
    assert service.rows("SELECT count(*) FROM outbox WHERE state = 'failed'") == [(0,)]


def test_a_text_that_the_network_delivers_twice_is_answered_once(gateway: Gateway, service: Served) -> None:
    """Kannel gives each a new id (measured)."""
    phones = gateway.phones()
    phones.send("depth 1.6 width 0.9 soil firm clay")
    phones.send("depth 1.6 width 0.9 soil firm clay")
    until(lambda: bool(service.rows("SELECT reply FROM turns")), "an exchange")
    phones.send("status")
    until(lambda: len(service.rows("SELECT 1 FROM turns")) > 1, "the next exchange")
    _settled(service)
    assert service.rows("SELECT text FROM turns WHERE text <> 'status'") == [
        ("depth 1.6 width 0.9 soil firm clay",)
    ]
    _all_answered(service, phones)


def test_a_part_alone_is_not_read(gateway: Gateway, service: Served) -> None:
    """The second part never comes: what the first says ("depth 1" of "depth 1.6") must not be read."""
    phones = gateway.phones()
    phones.send_part("depth 1", 1)
    until(lambda: bool(service.rows("SELECT 1 FROM turns")), "an exchange")
    ((reading, reply),) = service.rows("SELECT reading, reply FROM turns")
    assert "depth_m" not in reading
    assert "part 1 of 2" in reply
    until(lambda: _words(phones) == reply, "the reply on the phone")


def test_parts_that_come_late_are_joined(gateway: Gateway, service: Served) -> None:
    """The gateway waits 2 s for a part here; the second comes after it has given up on the first."""
    phones = gateway.phones()
    phones.send_part("depth 1", 1)
    texts = "SELECT text FROM turns ORDER BY exchange"
    until(lambda: bool(service.rows(texts)), "the first part alone")
    phones.send_part(".6 width 0.9", 2)
    until(lambda: ("depth 1.6 width 0.9",) in service.rows(texts), "the text whole")


def test_a_stranger_is_told_nothing_of_use(gateway: Gateway, service: Served) -> None:
    gateway.phones().send("depth 1.6 width 0.9 soil firm clay", "447700900999")
    until(lambda: bool(service.rows("SELECT 1 FROM turns")), "an exchange")
    ((outcome,),) = service.rows("SELECT outcome FROM turns")
    assert '"sized"' not in outcome
