"""What a process of its own makes is handed back; one that fails, is silent or takes too long raises."""

from pathlib import Path

import pytest

from bot.drawing.own_process import NotDone, result_of

TAKES = 60


def made(folder: Path, code: str, given: bytes = b"", within_s: float = TAKES) -> bytes:
    file = folder / "own.py"
    file.write_text("import signal, sys\n" + code)
    return result_of(str(file), given, within_s)


def test_what_it_writes_is_the_result(tmp_path: Path) -> None:
    given = b"\x00much\xff" * 100_000  # more than a pipe holds
    assert made(tmp_path, "sys.stdout.buffer.write(sys.stdin.buffer.read()[::-1])", given) == given[::-1]


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("sys.exit('no such letter')", "no such letter"),
        ("sys.stdout.write('half'); sys.stdout.flush(); raise ValueError('then it broke')", "then it broke"),
        ("pass", "ended with 0"),
        ("sys.stdin.close(); sys.exit(3)", "ended with 3"),
    ],
)
def test_what_fails_or_says_nothing_is_not_done(tmp_path: Path, code: str, said: str) -> None:
    with pytest.raises(NotDone, match=said):
        made(tmp_path, code, b"x" * 200_000)


def test_what_takes_too_long_is_ended(tmp_path: Path) -> None:
    with pytest.raises(NotDone, match="ended with -9"):
        made(tmp_path, "signal.pause()", within_s=0.2)
