"""Back to a copy of the log, step by step as README tells it, after every way in which a service can end."""

import re
import shlex
import signal
import subprocess
import sys
from pathlib import Path

import patience
import pytest
from served import Served
from sqlite_utils import Database

from bot.__main__ import main
from bot.commands.backup import again_and_again, copies
from bot.storage import log
from bot.storage.alone import Alone
from bot.storage.migrations import steps
from bot.storage.turns import Store

Out = pytest.CaptureFixture[str]
ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
STEPS = re.search(r"```sh\n(sudo systemctl stop trenchword\n.*?)```", README, re.S)
ENDS = {"stopped": signal.SIGTERM, "killed": signal.SIGKILL}


def exchanges(file: Path) -> list[str]:
    """The ids on a log that is whole."""
    assert main(["log", "verify", "--db", str(file)]) == 0
    db = log.open_to_read(file)
    try:
        return [id for (id,) in db.execute("SELECT message_id FROM turns ORDER BY exchange")]
    finally:
        db.close()


def walked(machine: Path, served: Served, how: signal.Signals) -> Served:
    """README's steps, each run as it stands there; the paths are those of a machine in a directory, and who
    starts and stops the service is the test."""
    assert STEPS, "README does not say how to go back to a copy"
    again: Served | None = None
    for line in STEPS[1].splitlines():
        command = line.removeprefix("sudo ").removeprefix("-u trenchword ")
        command = command.replace("/var/", f"{shlex.quote(str(machine))}/var/")
        if command == "systemctl stop trenchword":
            served.end(how)
        elif command == "systemctl start trenchword":
            again = Served(machine / "var/lib/trenchword/log.sqlite")
        else:
            ours = f'trenchword() {{ "{sys.executable}" -m bot "$@"; }}; {command}'
            subprocess.run(["bash", "-c", ours], check=True, cwd=ROOT, timeout=patience.SECONDS)
    assert again, "README does not say to start the service again"
    return again


@pytest.mark.parametrize("how", ENDS.values(), ids=ENDS)
def test_the_steps_of_readme_bring_the_copy_back_and_lose_nothing_that_is_in_it(
    tmp_path: Path, how: signal.Signals
) -> None:
    file, directory = tmp_path / "var/lib/trenchword/log.sqlite", tmp_path / "var/backups/trenchword"
    file.parent.mkdir(parents=True)
    served = Served(file)
    before = [f"T{n}" for n in range(1, 31)]
    first = [served.text(id) for id in before]
    assert b"Sign in" in served.look("/office/sign-in")  # whoever reads must not keep the log from its file
    again_and_again(file, directory, 0, None, lambda _: True)
    for n in range(31, 41):
        served.text(f"T{n}")

    again = walked(tmp_path, served, how)
    assert [again.text(id) for id in before] == first  # each was answered before: the same answer, no new one
    assert again.text("T50")["exchange"] == 31
    assert again.end(signal.SIGKILL) == -signal.SIGKILL
    assert exchanges(file) == [*before, "T50"]
    assert len(exchanges(file.parent / "old" / file.name)) == 40  # what was moved away is whole too


@pytest.mark.parametrize("how", ENDS.values(), ids=ENDS)
def test_a_service_that_ended_is_whole_when_it_starts_again(tmp_path: Path, how: signal.Signals) -> None:
    file = tmp_path / "log.sqlite"
    served = Served(file)
    said = [f"T{n}" for n in range(1, 21)]
    for id in said:
        served.text(id)
    served.look("/office/sign-in")
    served.end(how)
    beside = sorted(each.name for each in tmp_path.iterdir())
    if how is signal.SIGTERM:  # all of it is in the one file that is copied and moved
        assert beside == ["log.sqlite", "log.sqlite.lock"]
    assert exchanges(file) == said
    again = Served(file)
    again.text("T21")
    again.end(how)
    assert exchanges(file) == [*said, "T21"]


@pytest.mark.parametrize("beside", ["-wal", "-shm", "-journal"])
def test_nothing_is_brought_back_beside_the_rest_of_another_log(
    tmp_path: Path, capsys: Out, beside: str
) -> None:
    file, copy = tmp_path / "log.sqlite", tmp_path / "copy.sqlite"
    Store(file).close()
    assert main(["backup", str(copy), "--db", str(file)]) == 0
    for each in tmp_path.glob("log.sqlite*"):
        each.unlink()
    left = tmp_path / f"log.sqlite{beside}"
    left.write_bytes(b"of another log")
    assert main(["restore", str(copy), "--db", str(file)]) == 2
    assert f"{left} belongs to a log that was there" in capsys.readouterr().err
    assert not file.exists() and left.exists()


def test_nothing_is_brought_back_where_a_service_runs(tmp_path: Path, capsys: Out) -> None:
    file, copy = tmp_path / "log.sqlite", tmp_path / "copy.sqlite"
    Store(file).close()
    main(["backup", str(copy), "--db", str(file)])
    with Alone(file):
        file.unlink()
        assert main(["restore", str(copy), "--db", str(file)]) == 2
    assert "another service runs on it" in capsys.readouterr().err


def test_a_second_service_on_the_same_file_does_not_start(
    tmp_path: Path, capsys: Out, signed_json: None
) -> None:
    file = tmp_path / "log.sqlite"
    with Alone(file):
        assert main(["serve", "--port", "0", "--db", str(file)]) == 2
    assert "another service runs on it" in capsys.readouterr().err
    assert not file.exists()


def test_copies_are_made_one_after_another_and_the_newest_stay(tmp_path: Path) -> None:
    file, directory = tmp_path / "log.sqlite", tmp_path / "copies"
    store = Store(file)
    directory.mkdir()
    for n in range(3):
        (directory / f"log-2026010{n + 1}T000000Z.sqlite").write_bytes(b"old")
    (directory / "notes.txt").write_bytes(b"not ours")
    assert again_and_again(file, directory, 0, 2, lambda _: True) == 0
    assert next(each.name for each in copies(directory)) == "log-20260103T000000Z.sqlite"
    assert len(copies(directory)) == 2 and (directory / "notes.txt").exists()
    assert main(["restore", str(directory), "--db", str(tmp_path / "back.sqlite")]) == 0
    store.close()


def test_a_copy_that_fails_is_said_and_made_the_next_time_and_no_older_one_is_let_go(
    tmp_path: Path, capsys: Out
) -> None:
    file, directory = tmp_path / "log.sqlite", tmp_path / "copies"
    directory.mkdir()
    (directory / "log-20260101T000000Z.sqlite").write_bytes(b"old")
    tries = iter((False, True))

    def wait(_: float) -> bool:
        (enough := next(tries)) or Store(file).close()  # there was no log at the first time
        return enough

    assert again_and_again(file, directory, 0, 1, wait) == 0
    said = capsys.readouterr()
    assert "there is no file" in said.err and "0 exchanges" in said.out
    assert [each.name == "log-20260101T000000Z.sqlite" for each in copies(directory)] == [False]


def test_the_command_copies_until_it_is_stopped(tmp_path: Path) -> None:
    file, directory = tmp_path / "log.sqlite", tmp_path / "copies"
    Store(file).close()
    command = [sys.executable, "-m", "bot", "backup", "--every", "60", "--keep", "3", str(directory)]
    copying = subprocess.Popen([*command, "--db", str(file)], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert copying.stdout and "0 exchanges, head" in copying.stdout.readline()
    copying.send_signal(signal.SIGTERM)
    assert copying.wait(timeout=patience.SECONDS) == 0
    copying.stdout.close()
    assert len(copies(directory)) == 1


def test_a_copy_from_before_an_upgrade_is_brought_back_and_brought_up_to_date(tmp_path: Path) -> None:
    file, copy, back = (tmp_path / name for name in ("log.sqlite", "copy.sqlite", "back.sqlite"))
    older = Database(file)
    steps.apply(older, stop_before="refused")
    older.close()
    assert main(["backup", str(copy), "--db", str(file)]) == 0
    assert main(["restore", str(copy), "--db", str(back)]) == 0
    served = Served(back)
    served.text("T1")
    assert served.end(signal.SIGTERM) == 0
    assert exchanges(back) == ["T1"]
