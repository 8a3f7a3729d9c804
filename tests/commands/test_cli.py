"""The command line: what it prints, and that an error is one clear line and exit code 2."""

import io
import json
import sqlite3
from pathlib import Path

import pytest
from demo_log import demo_log

from bot.__main__ import main

Out = pytest.CaptureFixture[str]
SIZED = (
    "kind", "units", "levels", "spacing_m", "strut", "pressure_bar", "stages_m", "boards", "holds_to",
    "pressure_kpa", "pressure_by", "soil_type", "rulebook", "kit", "cautions", "sheet",
)  # fmt: skip


def test_read_prints_one_reading_on_one_line(capsys: Out) -> None:
    assert main(["read", "--json", "depth 1.6 width 0.9 soil firm clay"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert json.loads(line)["soil"] == {"kind": "clay", "state": "firm"}


def test_read_takes_lines_in_order(capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = '{"text": "T1 depth 1.1"}\n\n{"text": "T2 depth 1.2", "label": "x"}\n'
    file = tmp_path / "lines"
    file.write_text(lines)
    assert main(["read", "--json", "--lines", str(file)]) == 0
    from_file = capsys.readouterr().out
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    assert main(["read", "--json", "--lines", "-"]) == 0
    assert [json.loads(line)["trench"] for line in from_file.splitlines()] == ["T1", "T2"]
    assert capsys.readouterr().out == from_file


def test_ask_carries_every_field_of_a_sized_answer(capsys: Out) -> None:
    assert main(["ask", "--json", "depth 1.6 width 0.9 length 6 soil firm clay dry"]) == 0
    outcome = json.loads(capsys.readouterr().out)
    assert outcome["kind"] == "sized" and set(SIZED) <= set(outcome)
    assert isinstance(outcome["units"], int) and outcome["rulebook"] == "uk"


def test_ask_takes_the_rulebook(capsys: Out) -> None:
    assert main(["ask", "--json", "--rulebook", "us", "depth 4 ft width 3 ft length 20 ft type B dry"]) == 0
    assert json.loads(capsys.readouterr().out)["rulebook"] == "us"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> str:
    return demo_log(tmp_path_factory.mktemp("demo"))


def test_the_log_is_listed_shown_and_verified(capsys: Out, demo: str) -> None:
    assert main(["log", "list", "--db", demo, "--json", "--most", "3"]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert len(rows) == 3 and rows[0]["exchange"] > rows[1]["exchange"]
    assert main(["log", "list", "--db", demo, "--json", "--kind", "sized", "--most", "1"]) == 0
    sized = json.loads(capsys.readouterr().out)
    assert main(["log", "show", "--db", demo, str(sized["exchange"])]) == 0
    assert str(sized["outcome"]["sheet"][0]["symbol"]) in capsys.readouterr().out.partition("sheet:")[2]
    assert main(["log", "verify", "--db", demo]) == 0
    assert capsys.readouterr().out.startswith("Whole: ")


def test_a_changed_log_is_found_out(capsys: Out, demo: str, tmp_path: Path) -> None:
    file = tmp_path / "changed.sqlite"
    file.write_bytes(Path(demo).read_bytes())
    db = sqlite3.connect(file)
    db.executescript("DROP TRIGGER turns_hold; UPDATE turns SET text = 'depth 1' WHERE exchange = 2")
    db.close()
    assert main(["log", "verify", "--db", str(file)]) == 1
    assert "BROKEN at exchange 2" in capsys.readouterr().out


def test_play_tells_what_differs_and_rewrites_only_the_bot(capsys: Out, tmp_path: Path) -> None:
    file = tmp_path / "story.chat"
    file.write_text("Sam (fitter): t4 1.5 deep 0.8 wide firm clay\nBot: wrong\nCheck: levels = 9\n")
    assert main(["play", str(file)]) == 1
    assert "the answer is not the one in the file" in capsys.readouterr().out
    assert main(["play", "--rewrite", str(file)]) == 1
    assert "levels is" in capsys.readouterr().out
    text = file.read_text()
    assert "Bot: wrong" not in text and text.endswith("Check: levels = 9\n")


def test_chat_answers_each_line(capsys: Out, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("depth 1.6 width 0.9\nfirm clay\n"))
    assert main(["chat", "--as", "Sam"]) == 0
    assert "T1" in capsys.readouterr().out


@pytest.mark.parametrize(
    "argv",
    [
        ["read"],
        ["read", "--lines", "/nowhere/at/all"],
        ["log", "list", "--db", "/nowhere/at/all"],
        ["play", "/nowhere/at/all"],
        ["chat", "--as", "Nobody"],
        ["chat", "--people", "/nowhere/at/all"],
        ["ask", "--kit", "no such kit", "depth 1.6 width 0.9 soil firm clay"],
        ["serve", "--host", "0.0.0.0"],
        ["serve", "--people", "/nowhere/at/all"],
        ["measure", "/nowhere/at/all"],
    ],
)
def test_an_error_is_one_clear_line(
    capsys: Out, argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(argv) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith("trenchword: ") and captured.err.count("\n") == 1


def test_a_line_that_holds_no_text_is_named(capsys: Out, tmp_path: Path) -> None:
    file = tmp_path / "lines"
    file.write_text('{"text": "T1 depth 1.1"}\n{"words": 1}\n')
    assert main(["read", "--lines", str(file)]) == 2
    assert "line 2" in capsys.readouterr().err
