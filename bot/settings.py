"""Settings: flags first, then TRENCHWORD_* of the environment, then what stands here."""

import ipaddress
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, Field, ValidationError

from bot.channel import Channel, found
from knowledge.sourced import Row

PREFIX = "TRENCHWORD_"
ModelT = TypeVar("ModelT", bound=BaseModel)


class SettingsError(ValueError):
    """A setting cannot be used. The text names it and says why, and never shows its value."""


class Settings(Row):
    """What `trenchword serve` needs to know."""

    host: str = "127.0.0.1"
    port: int = Field(default=8080, ge=0, le=65535)  # 0: any free port
    db: Path = Path("trenchword.sqlite")
    people: Path | None = None
    clock: Literal["machine", "messages"] = "machine"
    log_level: Literal["debug", "info", "warning", "error"] = "info"


def read_settings(flags: Mapping[str, Any], environment: Mapping[str, str]) -> Settings:
    """The settings whole. Raises SettingsError."""
    named = {name: PREFIX + name.upper() for name in Settings.model_fields}
    given: dict[str, Any] = {name: environment[key] for name, key in named.items() if key in environment}
    given |= {name: value for name, value in flags.items() if value is not None}
    return _checked(Settings, given, named)


def read_channels(environment: Mapping[str, str]) -> dict[str, Channel]:
    """Every channel that the environment sets up, and `json`, which needs nothing on the loopback address.

    A channel's setting is TRENCHWORD_<CHANNEL>_<FIELD>, or the same with _FILE for a file that holds it.
    Raises SettingsError.
    """
    kinds = found()
    unknown = {key for key in environment if key.startswith(PREFIX)} - _known(kinds)
    if unknown:
        raise SettingsError(f"{min(unknown)}: there is no such setting")
    channels = {}
    for name, kind in kinds.items():
        named = {field: f"{PREFIX}{name.upper()}_{field.upper()}" for field in kind.model_fields}
        given = {field: value for field, key in named.items() if (value := _value(environment, key))}
        if given or name == "json":
            channels[name] = _checked(kind, given, named)
    return channels


def check_exposure(settings: Settings, channels: Mapping[str, Channel]) -> None:
    """Beyond the loopback address every channel must know its callers. Raises SettingsError."""
    if _is_loopback(settings.host):
        return
    for name, channel in channels.items():
        if not getattr(channel, "secrets", ()):
            key = f"{PREFIX}{name.upper()}_SECRETS"
            raise SettingsError(
                f"will not listen on {settings.host}: anybody could text on channel {name!r}; "
                f"set {key}, or listen on 127.0.0.1"
            )


def _known(kinds: Mapping[str, type[Channel]]) -> set[str]:
    known = {PREFIX + name.upper() for name in Settings.model_fields}
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
