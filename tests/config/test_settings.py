"""Settings: a wrong one is named, a secret is never shown, nobody listens to strangers by accident."""

from pathlib import Path

import pytest
from channel_samples import channel

from bot.__main__ import main
from bot.channels.json import Json
from bot.config.settings import SettingsError, check_exposure, is_mute, read_channels, read_settings

SECRET = "whsec_MDEyMzQ1Njc4OTAxMjM0NTY3ODkwMTIz"


def test_a_flag_outranks_the_environment_and_that_outranks_what_is_usual() -> None:
    settings = read_settings(
        {"port": 9000, "host": None}, {"TRENCHWORD_PORT": "1", "TRENCHWORD_DB": "a.sqlite"}
    )
    assert (settings.port, settings.db, settings.host) == (9000, Path("a.sqlite"), "127.0.0.1")


def test_a_wrong_value_is_named_and_not_shown() -> None:
    with pytest.raises(SettingsError, match="TRENCHWORD_PORT") as error:
        read_settings({}, {"TRENCHWORD_PORT": "hunter2"})
    assert "hunter2" not in str(error.value)


def test_a_misspelt_setting_is_refused_since_a_secret_could_be_left_out_so() -> None:
    with pytest.raises(SettingsError, match=r"TRENCHWORD_JSON_SECRT: .* TRENCHWORD_JSON_SECRETS"):
        read_channels({"TRENCHWORD_JSON_SECRT": SECRET})
    with pytest.raises(SettingsError, match="trenchword_json_secrets: "):
        read_channels({"trenchword_json_secrets": SECRET})


def test_a_wrong_secret_is_named_and_not_shown() -> None:
    with pytest.raises(SettingsError, match="TRENCHWORD_JSON_SECRETS") as error:
        read_channels({"TRENCHWORD_JSON_SECRETS": "hunter2"})
    assert "hunter2" not in str(error.value)


BEYOND = ["0.0.0.0", "192.0.2.7", "::", "example.test"]
LOOPBACK = ["127.0.0.1", "127.8.8.8", "::1", "localhost"]


@pytest.mark.parametrize("host", [*BEYOND, *LOOPBACK])
def test_outside_the_demo_a_secret_is_needed_wherever_it_listens(host: str) -> None:
    settings = read_settings({"host": host}, {})
    for channels in ({}, {"json": Json()}, {"kannel": channel("kannel"), "json": Json()}):
        with pytest.raises(SettingsError, match="TRENCHWORD_JSON_SECRETS"):
            check_exposure(settings, channels)
    check_exposure(settings, read_channels({"TRENCHWORD_JSON_SECRETS": SECRET}))
    check_exposure(settings, read_channels({"TRENCHWORD_KANNEL_SECRETS": "not-a-real-key"}))


@pytest.mark.parametrize("host", LOOPBACK)
def test_the_demo_takes_unsigned_texts_on_the_loopback_address(host: str) -> None:
    check_exposure(read_settings({"host": host}, {}), {"json": Json()}, demo=True)


@pytest.mark.parametrize("host", BEYOND)
def test_the_demo_takes_none_beyond_it(host: str) -> None:
    with pytest.raises(SettingsError, match="TRENCHWORD_JSON_SECRETS"):
        check_exposure(read_settings({"host": host}, {}), {"json": Json()}, demo=True)


def test_no_hook_is_there_that_nobody_set_up() -> None:
    assert read_channels({}) == {}
    assert set(read_channels({"TRENCHWORD_KANNEL_SECRETS": "not-a-real-key"})) == {"kannel"}


def test_a_service_without_a_secret_does_not_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("TRENCHWORD_JSON_SECRETS", raising=False)
    file = tmp_path / "log.sqlite"
    assert main(["serve", "--port", "0", "--db", str(file)]) == 2
    assert "set TRENCHWORD_JSON_SECRETS" in capsys.readouterr().err
    assert not file.exists()


def test_a_secret_may_stand_in_a_file_that_only_its_owner_reads(tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text(SECRET + "\n")
    file.chmod(0o600)
    channel = read_channels({"TRENCHWORD_JSON_SECRETS_FILE": str(file)})["json"]
    assert [s.get_secret_value() for s in channel.secrets] == [SECRET]  # type: ignore[attr-defined]
    file.chmod(0o640)
    with pytest.raises(SettingsError, match="can be read by others"):
        read_channels({"TRENCHWORD_JSON_SECRETS_FILE": str(file)})


def test_links_to_sketches_want_an_address_and_a_long_secret(tmp_path: Path) -> None:
    address = {"TRENCHWORD_PUBLIC_URL": "https://trench.example"}
    assert read_settings({}, {}).links is None
    for alone in (address, {"TRENCHWORD_SKETCH_SECRETS": "x" * 16}):
        with pytest.raises(SettingsError, match="TRENCHWORD_PUBLIC_URL and TRENCHWORD_SKETCH_SECRETS"):
            assert read_settings({}, alone).links
    for wrong in ("trench.example", "javascript://x", "https://", "https://trench.example/?a=1"):
        with pytest.raises(SettingsError, match="TRENCHWORD_PUBLIC_URL"):
            read_settings({}, {"TRENCHWORD_PUBLIC_URL": wrong})
    with pytest.raises(SettingsError, match="TRENCHWORD_SKETCH_SECRETS") as error:
        read_settings({}, {**address, "TRENCHWORD_SKETCH_SECRETS": "hunter2"})
    assert "hunter2" not in str(error.value)
    file = tmp_path / "secret"
    file.touch(mode=0o600)
    file.write_text("a-secret-of-the-tests\n")
    assert read_settings({}, {**address, "TRENCHWORD_SKETCH_SECRETS_FILE": str(file)}).links
    read_channels({**address, "TRENCHWORD_SKETCH_SECRETS_FILE": str(file), "TRENCHWORD_SKETCH_HOURS": "6"})
    file.chmod(0o644)
    with pytest.raises(SettingsError, match="chmod 600"):
        read_settings({}, {"TRENCHWORD_SKETCH_SECRETS_FILE": str(file)})


def test_a_service_that_can_send_nothing_is_known() -> None:
    assert is_mute(read_channels({}))
    assert is_mute(read_channels({"TRENCHWORD_KANNEL_SECRETS": "not-a-real-key"}))
    sends = {"TRENCHWORD_JSON_SECRETS": SECRET, "TRENCHWORD_JSON_SEND_URL": "https://texts.example/out"}
    assert not is_mute(read_channels(sends))
    telegram = {"TRENCHWORD_TELEGRAM_SECRETS": "x", "TRENCHWORD_TELEGRAM_TOKEN": "y"}
    assert not is_mute(read_channels(telegram))


def test_json_sends_nothing_unsigned() -> None:
    with pytest.raises(SettingsError, match=r"TRENCHWORD_JSON_SECRETS: .*a secret is needed"):
        read_channels({"TRENCHWORD_JSON_SEND_URL": "https://texts.example/out"})
