"""What a shell does with the program: its output cut off, its words completed. In real processes."""

import os
import subprocess
import sys

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
