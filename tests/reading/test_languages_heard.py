"""In every language danger and entry are heard, and nothing is done that was denied, planned or asked.

Source of the cases: common practice, no source. No reading in full is expected here, only what people's lives
hang on; whole readings stand in `cases/languages`.
"""

import tomllib
from pathlib import Path

import pytest

from bot.language.lexicon import Lexicon, load
from bot.reading.read import read
from knowledge.reading import Reading

CASES = Path(__file__).parents[1] / "cases" / "heard"
CODES = sorted(file.stem for file in CASES.glob("*.toml"))


@pytest.fixture(scope="module")
def words() -> Lexicon:
    return load()


def _said(section: str) -> list[tuple[str, str]]:
    return [
        (code, text)
        for code in CODES
        for text in tomllib.loads((CASES / f"{code}.toml").read_text(encoding="utf-8"))[section]
    ]


def _dangers() -> list[tuple[str, str, str]]:
    return [
        (code, hazard, text)
        for code in CODES
        for hazard, texts in tomllib.loads((CASES / f"{code}.toml").read_text(encoding="utf-8"))[
            "hazards"
        ].items()
        for text in texts
    ]


def _read(text: str, code: str, words: Lexicon) -> Reading:
    return read(text, words, language=code).reading


def test_every_language_is_heard() -> None:
    assert CODES == ["es", "pl", "pt", "ro"]


@pytest.mark.parametrize(("code", "hazard", "text"), _dangers())
def test_a_danger_is_heard_without_knowing_the_language(
    code: str, hazard: str, text: str, words: Lexicon
) -> None:
    assert hazard in (read(text, words).reading.hazards or ())


@pytest.mark.parametrize(("code", "text"), _said("no_hazard"))
def test_a_denied_or_supposed_danger_is_none(code: str, text: str, words: Lexicon) -> None:
    assert not _read(text, code, words).hazards


@pytest.mark.parametrize(("code", "text"), _said("not_done"))
def test_what_is_denied_planned_or_asked_is_not_done(code: str, text: str, words: Lexicon) -> None:
    reading = _read(text, code, words)
    assert not reading.done
    assert reading.units_set is None or not (reading.units_set.all or reading.units_set.n)


@pytest.mark.parametrize(("code", "text"), _said("entry"))
def test_the_will_to_go_in_is_heard(code: str, text: str, words: Lexicon) -> None:
    assert _read(text, code, words).purpose == "entry"


@pytest.mark.parametrize(("code", "text"), _said("no_entry"))
def test_nobody_going_in_is_no_entry(code: str, text: str, words: Lexicon) -> None:
    assert _read(text, code, words).purpose != "entry"
