"""What a shell does with the program: its output cut off, its words completed. In real processes."""

import os
import pty
import re
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from demo_log import demo_log

from bot.__main__ import CUT_OFF, main

TRENCHWORD = [sys.executable, "-m", "bot"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> str:
    return demo_log(tmp_path_factory.mktemp("demo"))


def cut_off(argv: list[str], unbuffered: str = "") -> tuple[int, str]:
    """The exit code and the errors of a command whose reader has gone before it writes."""
    command = subprocess.Popen(
        [*TRENCHWORD, *argv], stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8",
        env=os.environ | {"PYTHONUNBUFFERED": unbuffered},
    )  # fmt: skip
    assert command.stdout and command.stderr
    command.stdout.close()
    errors = command.stderr.read()
    command.stderr.close()
    return command.wait(), errors


@pytest.mark.parametrize(
    "argv",
    [
        ["ask", "depth 1.6 width 0.9 soil firm clay"],
        ["ask", "--json", "depth 1.6 width 0.9 soil firm clay"],
        ["read", "depth 1.6"],
        ["serve", "--help"],
        ["completion", "bash"],
    ],
)
def test_a_command_whose_reader_has_gone_ends_quietly(argv: list[str]) -> None:
    assert cut_off(argv) == (CUT_OFF, "")


def test_so_does_one_that_writes_at_once() -> None:
    assert cut_off(["ask", "depth 1.6 width 0.9 soil firm clay"], unbuffered="1") == (CUT_OFF, "")


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_so_does_a_long_list(demo: str, flags: list[str]) -> None:
    assert cut_off(["log", "list", "--db", demo, *flags]) == (CUT_OFF, "")


def test_the_first_line_of_a_list_is_all_that_head_asks_for(demo: str) -> None:
    script = 'set -o pipefail; "$@" | head -1'
    listed = [*TRENCHWORD, "log", "list", "--db", demo, "--json", "--most", "500"]
    done = subprocess.run(["bash", "-c", script, "-", *listed], capture_output=True, encoding="utf-8")
    assert done.stdout.startswith("{") and done.stdout.count("\n") == 1
    assert done.stderr == "" and done.returncode in (0, CUT_OFF)  # 0 where all went into the pipe before


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["trenchword", "as"], "ask"),
        (["trenchword", "ask", "--rule"], "--rulebook"),
        (["trenchword", "ask", "--rulebook", "u"], "uk us"),
        (["trenchword", "log", "ver"], "verify"),
        (["trenchword", "backup", "pyproj"], "pyproject.toml"),
    ],
)
def test_bash_completes(words: list[str], offered: str, script: str) -> None:
    shell = (
        f'{script}\nCOMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _shtab_trenchword; echo "${{COMPREPLY[@]}}"'
    )
    done = subprocess.run(["bash", "-c", shell, "-", *words], capture_output=True, encoding="utf-8")
    assert (done.stdout.strip(), done.stderr) == (offered, "")


@pytest.fixture
def script(capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["completion", "bash"]) == 0
    return capsys.readouterr().out


def in_a_terminal(argv: list[str], **environment: str) -> str:
    """What a person sees in a window of eighty columns."""
    main_, other = pty.openpty()
    termios.tcsetwinsize(other, (24, 80))
    clean = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS", "FORCE_COLOR")}
    command = subprocess.Popen(
        [*TRENCHWORD, *argv], stdout=other, stderr=other, env=clean | {"TERM": "xterm-256color"} | environment
    )
    os.close(other)
    seen = b""
    while True:
        try:
            more = os.read(main_, 65536)
        except OSError:  # the other end is closed
            break
        if not more:
            break
        seen += more
    os.close(main_)
    assert command.wait() == 0, seen
    return seen.decode()


STOPPED = "depth 3.4 width 0.9 soft clay standing water"


def test_danger_is_red_where_the_terminal_takes_colours_and_nowhere_else() -> None:
    assert "\x1b[1;31m" in in_a_terminal(["ask", STOPPED])
    for forbids in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        assert "31m" not in in_a_terminal(["ask", STOPPED], **forbids)
    piped = subprocess.run([*TRENCHWORD, "ask", STOPPED], capture_output=True, encoding="utf-8")
    assert "\x1b" not in piped.stdout and "STOP" in piped.stdout


def test_lists_keep_to_the_window(demo: str) -> None:
    shown = in_a_terminal(["log", "list", "--db", demo, "--most", "30"], NO_COLOR="1")
    assert max(len(line) for line in re.sub(r"\x1b\[[0-9;]*m", "", shown).splitlines()) <= 80


def test_long_work_says_how_much_is_left_to_a_person_alone(demo: str, tmp_path: Path) -> None:
    seen = in_a_terminal(["log", "verify", "--db", demo])
    assert "Checking the chain" in seen and "left:" in seen and "Whole: " in seen
    seen = in_a_terminal(["backup", "--db", demo, str(tmp_path / "copy.sqlite")])
    assert "Copying" in seen and "Checking the copy" in seen
    piped = subprocess.run(
        [*TRENCHWORD, "log", "verify", "--db", demo], capture_output=True, encoding="utf-8", check=True
    )
    assert piped.stderr == ""


def test_nothing_that_somebody_wrote_is_obeyed_by_the_terminal(tmp_path: Path) -> None:
    nasty = "T1 \x1b[2J\x1b]0;title\x07 depth \u202e6.1 [red]width[/red] 0.9"
    file = tmp_path / "log.sqlite"
    subprocess.run(
        [*TRENCHWORD, "chat", "--db", str(file)],
        input=nasty,
        encoding="utf-8",
        check=True,
        stdout=subprocess.DEVNULL,
    )
    for argv in (["log", "list"], ["log", "show", "1"]):
        shown = in_a_terminal([*argv, "--db", str(file)], NO_COLOR="1")
        assert "\x1b[2J" not in shown and "\x07" not in shown and "\u202e" not in shown
        assert "<U+202E>" in shown and "[red]" in shown
