"""The files in bot/deploy are used as they are; Kannel's is used in tests/delivery/test_gateway.py."""

import configparser
import json
import re
import shlex
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path

import proxy
import pytest
from places import ROOT

from bot.commands import parser
from bot.config.people import People

DEPLOY = ROOT / "bot" / "deploy"
UNIT = DEPLOY / "trenchword.service"


def test_the_people_file_loads() -> None:
    people = People.load(DEPLOY / "people.toml")
    assert people.find("+447700900123") is not None


def test_the_unit_starts_a_command_that_is_there() -> None:
    unit = configparser.ConfigParser(interpolation=None)
    unit.read(UNIT, encoding="utf-8")
    program, *argv = shlex.split(unit["Service"]["ExecStart"])
    args = parser(argv).parse_args(argv)
    assert Path(program).name == "trenchword" and args.db.parent == Path("/var/lib/trenchword")


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd-analyze is not here")
def test_systemd_takes_the_unit(tmp_path: Path) -> None:
    text = UNIT.read_text(encoding="utf-8")
    here = re.sub(r"(?<=^ExecStart=)\S+", "/bin/true", text, flags=re.MULTILINE)
    assert here != text
    unit = tmp_path / "trenchword.service"
    unit.write_text(here)
    told = subprocess.run(["systemd-analyze", "verify", unit], capture_output=True, encoding="utf-8")
    ours = [line for line in told.stderr.splitlines() if "trenchword" in line]
    assert (ours, told.returncode) == ([], 0)


def test_the_container_starts_a_command_that_is_there() -> None:
    text = (DEPLOY / "Containerfile").read_text(encoding="utf-8")
    (python,) = re.findall(r"^FROM python:([0-9.]+)", text, re.MULTILINE)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert _numbers(python) >= _numbers(project["requires-python"])
    program, *argv = [
        word
        for key in ("ENTRYPOINT", "CMD")
        for word in json.loads(re.findall(rf"^{key} (.*)$", text, re.M)[0])
    ]
    assert program in project["scripts"]
    assert parser(argv).parse_args(argv).host == "0.0.0.0"


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(number) for number in re.findall(r"[0-9]+", version))


@pytest.fixture(scope="module")
def nginx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[proxy.Proxy]:
    if proxy.MISSING:
        pytest.skip(proxy.MISSING)
    with proxy.running(tmp_path_factory.mktemp("nginx")) as started:
        yield started


@pytest.mark.parametrize(
    "path", ["/office/", "/office/log?text=exc*", "/sketch/abc", "/hook/whatsapp", "/trenches.json"]
)
def test_the_proxy_passes_on_what_is_for_the_world(nginx: proxy.Proxy, path: str) -> None:
    status, body = nginx.get(path)
    came = json.loads(body)
    assert (status, came["path"], came["host"]) == (200, path, proxy.NAME)
    # What a caller says of itself is not believed.
    assert (came["x-forwarded-proto"], came["x-forwarded-for"]) == ("https", "127.0.0.1")


@pytest.mark.parametrize("path", ["/", "/metrics", "/health", "/openapi.json", "/hook/json", "/hook/kannel"])
def test_the_proxy_shows_nothing_else(nginx: proxy.Proxy, path: str) -> None:
    assert nginx.get(path)[0] == 404


def test_the_proxy_holds_back_who_guesses_passwords(nginx: proxy.Proxy) -> None:
    # One at once and ten that wait their turn; the next are refused.
    calls = [nginx.ask("/office/login") for _ in range(60)]
    assert proxy.answer(calls.pop())[0] == 503
    for call in calls:
        call.close()
