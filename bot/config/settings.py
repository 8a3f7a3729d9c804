"""Settings: flags first, then TRENCHWORD_* of the environment, then what stands here."""

import ipaddress
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, Field, SecretStr, ValidationError, field_validator
from rapidfuzz import process

from bot.channels.base import Channel, Secrets, all_channels
from bot.drawing.links import Links
from knowledge.sourced import DataRow

PREFIX = "TRENCHWORD_"
LEAST_SECRET = 16  # characters
ModelT = TypeVar("ModelT", bound=BaseModel)


class SettingsError(ValueError):
    """A setting cannot be used. The text names it and says why, and never shows its value."""


class Settings(DataRow):
    """What `trenchword serve` needs to know."""

    host: str = "127.0.0.1"
    port: int = Field(default=8080, ge=0, le=65535)  # 0: any free port
    db: Path = Path("trenchword.sqlite")
    people: Path | None = None
    clock: Literal["machine", "messages"] = "machine"
    log_level: Literal["debug", "info", "warning", "error"] = "info"
    public_url: str = Field(default="", pattern=r"^(https?://[^\s/?#]+(/[^\s?#]*)?)?$")  # as phones reach us
    sketch_secrets: Secrets = ()  # what links to sketches are signed with
    sketch_hours: float = Field(default=12, gt=0, le=720)
    keep_pictures: bool = False  # that came with a text, fetched from the provider and made anew

    @field_validator("sketch_secrets")
    @classmethod
    def _are_long(cls, secrets: tuple[SecretStr, ...]) -> tuple[SecretStr, ...]:
        if any(len(secret.get_secret_value()) < LEAST_SECRET for secret in secrets):
            raise ValueError(f"a secret has {LEAST_SECRET} characters or more")
        return secrets

    @property
    def links(self) -> Links | None:
        """Links to sketches, where address and secret are set. Raises SettingsError for one alone."""
        if bool(self.public_url) != bool(self.sketch_secrets):
            raise SettingsError(f"{PREFIX}PUBLIC_URL and {PREFIX}SKETCH_SECRETS are set together")
        if not self.public_url:
            return None
        secrets = [secret.get_secret_value() for secret in self.sketch_secrets]
        return Links(self.public_url, secrets, self.sketch_hours)


def read_settings(flags: Mapping[str, Any], environment: Mapping[str, str]) -> Settings:
    """The settings whole. Raises SettingsError."""
    named = {name: PREFIX + name.upper() for name in Settings.model_fields}
    given: dict[str, Any] = {name: text for name, key in named.items() if (text := _value(environment, key))}
    given |= {name: value for name, value in flags.items() if value is not None}
    return _checked(Settings, given, named)


def read_channels(environment: Mapping[str, str]) -> dict[str, Channel]:
    """Every channel that the environment sets up.

    A channel's setting is TRENCHWORD_<CHANNEL>_<FIELD>, or the same with _FILE for a file that holds it.
    Raises SettingsError.
    """
    kinds = all_channels()
    known = _known(kinds)
    unknown = {key for key in environment if key.upper().startswith(PREFIX)} - known
    if unknown:
        near, *_ = process.extractOne(min(unknown), known)
        raise SettingsError(f"{min(unknown)}: there is no such setting; the nearest is {near}")
    channels = {}
    for name, kind in kinds.items():
        named = {field: f"{PREFIX}{name.upper()}_{field.upper()}" for field in kind.model_fields}
        given = {field: value for field, key in named.items() if (value := _value(environment, key))}
        if given:
            channels[name] = _checked(kind, given, named)
    return channels


def check_exposure(settings: Settings, channels: Mapping[str, Channel], demo: bool = False) -> None:
    """Every channel must know its callers, wherever the service listens: what stands before it on its own
    machine may pass on anybody's texts. The demo's crew is invented, so that there, on the loopback address,
    JSON may go without. Raises SettingsError."""
    if demo and _is_loopback(settings.host):
        channels = {name: channel for name, channel in channels.items() if name != "json"}
    elif not channels:
        raise SettingsError(
            f"no channel is set up: set {PREFIX}JSON_SECRETS, or a gateway's settings; --demo goes without"
        )
    for name, channel in channels.items():
        if not getattr(channel, "secrets", ()):
            raise SettingsError(f"anybody could text on channel {name!r}: set {PREFIX}{name.upper()}_SECRETS")


MUTE = (
    "No channel can send by itself: hazard alerts, codes and reminders reach nobody. "
    f"Set up a gateway, or {PREFIX}JSON_SEND_URL."
)


def is_mute(channels: Mapping[str, Channel]) -> bool:
    """True where texts can be answered, but none can be sent."""
    return not any(channel.send_url for channel in channels.values())


def _known(kinds: Mapping[str, type[Channel]]) -> set[str]:
    known = {PREFIX + name.upper() for name in Settings.model_fields} | {f"{PREFIX}SKETCH_SECRETS_FILE"}
    for name, kind in kinds.items():
        for field in kind.model_fields:
            known |= {
                f"{PREFIX}{name.upper()}_{field.upper()}",
                f"{PREFIX}{name.upper()}_{field.upper()}_FILE",
            }
    return known


def _value(environment: Mapping[str, str], key: str) -> str:
    if key in environment or f"{key}_FILE" not in environment:
        return environment.get(key, "")
    file = Path(environment[f"{key}_FILE"])
    try:
        mode = file.stat().st_mode
        if mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise SettingsError(f"{key}_FILE: {file} can be read by others; chmod 600 it")
        return file.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise SettingsError(f"{key}_FILE: {file}: {error.strerror}") from error


def _checked(model: type[ModelT], given: Mapping[str, Any], named: Mapping[str, str]) -> ModelT:
    try:
        return model(**given)
    except ValidationError as error:
        first = error.errors(include_input=False, include_url=False)[0]
        field = str(first["loc"][0]) if first["loc"] else ""
        raise SettingsError(f"{named.get(field, field)}: {first['msg']}") from None


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
