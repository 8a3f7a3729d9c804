"""A log that is newer, open to others or damaged: said in one line, and never taken for what it is not."""

import stat
from pathlib import Path

import pytest
from demo_log import demo_log

from bot.__main__ import main
from bot.storage import log
from bot.storage.turns import Store

Out = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return Path(demo_log(tmp_path_factory.mktemp("demo"))).read_bytes()


def test_a_log_of_a_newer_version_is_not_opened(tmp_path: Path, capsys: Out, signed_json: None) -> None:
    file = tmp_path / "log.sqlite"
    store = Store(file)
    store.db.table("_sqlite_migrations").insert(
        {"migration_set": "trenchword", "name": "a_step_of_tomorrow", "applied_at": "2027-01-01"}
    )
    store.close()
    assert main(["serve", "--port", "0", "--db", str(file)]) == 2
    assert "a newer version made this log" in capsys.readouterr().err


def test_an_empty_file_that_others_could_read_is_closed_to_them(tmp_path: Path) -> None:
    file = tmp_path / "log.sqlite"
    file.touch()
    file.chmod(0o644)
    Store(file).close()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_nobodys_words_are_not_erased(tmp_path: Path, capsys: Out) -> None:
    Store(tmp_path / "log.sqlite").close()
    for number in ("", "  "):
        assert main(["erase", "--number", number, "--db", str(tmp_path / "log.sqlite")]) == 2
        assert capsys.readouterr().err == "trenchword: erase: whose number?\n"


def test_erasing_beside_somebody_who_reads_says_what_stays(tmp_path: Path, capsys: Out, whole: bytes) -> None:
    file = tmp_path / "log.sqlite"
    file.write_bytes(whole)
    running = Store(file)
    running.db.execute("PRAGMA wal_autocheckpoint = 0")
    reading = log.open_to_read(file)
    reading.execute("BEGIN")
    reading.execute("SELECT count(*) FROM turns").fetchone()
    assert main(["erase", "--number", "+447700900123", "--db", str(file)]) == 1
    assert f"{file}-wal" in capsys.readouterr().err
    reading.execute("ROLLBACK")
    reading.close()
    assert main(["erase", "--number", "+447700900123", "--db", str(file)]) == 0
    assert Path(f"{file}-wal").stat().st_size == 0  # of the service that has it open
    running.close()


@pytest.mark.parametrize("at", range(0, 40, 3))
def test_a_damaged_log_is_said_to_be_so_in_one_line(
    tmp_path: Path, capsys: Out, at: int, whole: bytes
) -> None:
    file, damaged = tmp_path / "log.sqlite", bytearray(whole)
    for place in range(at * len(damaged) // 40, len(damaged), 4099):
        damaged[place] ^= 0xFF
    file.write_bytes(damaged)
    capsys.readouterr()
    assert main(["log", "verify", "--db", str(file)]) in (1, 2)
    told = capsys.readouterr()
    assert "Traceback" not in told.err + told.out and (told.out + told.err).count("\n") <= 2
