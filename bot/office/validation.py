"""What the loaders cannot see in a changed file: that the code still finds what it asks for by name, can fill
every sentence, and answers every text of the demo chats."""

import math
import tomllib
from collections.abc import Iterator, Mapping
from string import Formatter
from typing import Any

from bot.config import shipped
from bot.config.basis import Basis
from bot.demo.chat_file import read_story
from bot.demo.play import FIRST_DAY, crew, play_on
from bot.demo.seed import CHATS
from bot.language.catalog import of_the_core
from bot.office.toml_edit import KeyPath
from bot.storage.turns import Store
from knowledge.sourced import DataError

FREE = ("rule", "source")  # sections in which nothing is asked for by name
SPOKEN = ("say", "ask", "detail")


def check(name: str, text: str, came: str, basis: Basis) -> None:
    """Raise DataError, with file, key and reason, where answers would fail with this text of a file.

    `came` is the file as it came, "" for a new kit; `basis` is the one read with the text.
    """
    now, then = tomllib.loads(text), tomllib.loads(came)
    for path, value in _leaves((), now):
        if isinstance(value, float) and not math.isfinite(value):
            raise DataError(f"{name}: {'.'.join(path)}: not a number")
    if name.startswith(shipped.WORDS):
        _check_language(name, now, then, basis)
    elif not name.startswith(shipped.KITS):
        _check_named(name, now, then)
        _check_sentences(name, now, then)
    _check_answers(name, basis)


def _check_language(name: str, now: dict[str, Any], then: dict[str, Any], basis: Basis) -> None:
    english = basis.catalogs["en"]
    for section in SPOKEN:
        said, known = now.get(section, {}), then.get(section, {}) if name == "words/en.toml" else {}
        if gone := known.keys() - said.keys():
            raise DataError(f"{name}: {section}.{min(gone)}: needed, and not there")
        for key, sentence in said.items():
            original = known.get(key) or getattr(english, section).get(key, "")
            _check_blanks(f"{name}: {section}.{key}", sentence, blanks(name, key, original))
    core = of_the_core(basis.tables)
    for key, sentence in now.get("rules", {}).items():
        _check_blanks(f"{name}: rules.{key}", sentence, blanks(name, key, core.get(key, sentence)))


def _check_named(name: str, now: dict[str, Any], then: dict[str, Any]) -> None:
    for section, named in then.items():
        if isinstance(named, dict) and section not in FREE:
            for key in named:
                if key not in now.get(section, {}):
                    raise DataError(f"{name}: {section}.{key}: needed, and not there")


def _check_sentences(name: str, now: dict[str, Any], then: dict[str, Any]) -> None:
    """What a sentence leaves for the code to fill must be what the code knows there."""
    known = {path: _left_open(name, path, sentence, then) for path, sentence in _sentences(then)}
    for path, sentence in _sentences(now):
        there = [open_ for each, open_ in known.items() if each[0] == path[0]]
        may = known.get(path, set().union(*there))
        numbers = _at(now, path).get("numbers", {}).keys()
        _check_blanks(f"{name}: {'.'.join(path)}", sentence, may | set(numbers))


def _sentences(whole: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    for path, value in _leaves((), whole):
        if isinstance(value, str) and {"say", "instead"} & set(path[-2:]):
            yield path, value


def _left_open(name: str, path: KeyPath, sentence: str, whole: dict[str, Any]) -> set[str]:
    return blanks(name, ".".join(path), sentence) - set(_at(whole, path).get("numbers", {}))


def _at(whole: Any, path: KeyPath) -> dict[str, Any]:
    """The table whose sentence stands at `path`."""
    depth = max(at for at, key in enumerate(path) if key in ("say", "instead"))
    for key in path[:depth]:
        whole = whole[int(key)] if isinstance(whole, list) else whole[key]
    return dict(whole) if isinstance(whole, dict) else {}


def blanks(name: str, key: str, sentence: object) -> set[str]:
    """The blanks of a sentence. Raises DataError where its braces are no plain blanks."""
    try:
        found = [(field, how, form) for _, field, form, how in Formatter().parse(str(sentence))]
    except ValueError as error:
        raise DataError(f"{name}: {key}: {error}") from error
    for field, how, form in found:
        if field is not None and (not field.isidentifier() or how or form):
            raise DataError(f"{name}: {key}: {{{field}}} is no plain blank")
    return {field for field, *_ in found if field is not None}


def _check_blanks(where: str, sentence: object, known: set[str]) -> None:
    name, _, key = where.partition(": ")
    if strange := blanks(name, key, sentence) - known:
        fillable = ", ".join(sorted(known)) or "none"
        raise DataError(f"{where}: nothing fills the blank {min(strange)!r}; there are: {fillable}")


def _check_answers(name: str, basis: Basis) -> None:
    for file in sorted(CHATS.glob("*.chat")):
        story, store = read_story(file), Store(":memory:")
        try:
            play_on(store, story, crew(story), basis, FIRST_DAY)
            failed = store.db.execute("SELECT text, error FROM turns WHERE error != ''").fetchone()
        finally:
            store.close()
        if failed:
            raise DataError(f"{name}: with it the text {failed[0]!r} could not be answered ({failed[1]})")


def _leaves(path: KeyPath, value: Any) -> Iterator[tuple[KeyPath, Any]]:
    items: Mapping[Any, Any] = dict(enumerate(value)) if isinstance(value, list) else value
    if isinstance(items, dict):
        for key, each in items.items():
            yield from _leaves((*path, str(key)), each)
    else:
        yield path, value
