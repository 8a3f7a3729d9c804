"""Changing a TOML text in one place: its comments and everything else stay as they were."""

import copy
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

import tomlkit

from knowledge.sourced import DataError

KeyPath = tuple[str, ...]


def with_values(text: str, values: Mapping[KeyPath, Any]) -> str:
    """The text with other values at these paths. Raises KeyError where there is no table for one."""
    wanted, whole = tomllib.loads(text), tomlkit.parse(text)
    for path, value in values.items():
        for each in (wanted, whole):
            _at(each, path[:-1])[path[-1]] = copy.copy(value)
    return _written(whole, wanted)


def with_phrase(text: str, path: KeyPath, phrase: str) -> str:
    """The text with one more phrase at the end of the list at `path`. Raises KeyError where there is none."""
    wanted, whole = tomllib.loads(text), tomlkit.parse(text)
    for each in (wanted, whole):
        _at(each, path).append(phrase)
    return _written(whole, wanted)


def _written(whole: tomlkit.TOMLDocument, wanted: dict[str, Any]) -> str:
    # tomlkit 0.15 loses the blank between a date and the brace after it.
    text = re.sub(r"(\d{4}-\d\d-\d\d)}", r"\1 }", tomlkit.dumps(whole))
    if tomllib.loads(text) != wanted:  # it loses more than that in files whose tables are mixed up
        raise DataError("this file is too unusual to be changed by a form; change its text")
    return text


def _at(whole: Any, path: Iterable[str]) -> Any:
    for key in path:
        whole = whole[int(key)] if isinstance(whole, list) else whole[key]
    return whole
