"""A words file that cannot be used is refused at load, by file, key and reason."""

import ast
import shutil
from pathlib import Path

import pytest
from trenches import TABLES

from bot.dialogue import replies
from bot.language import catalog
from bot.language.lexicon import load
from bot.language.patterns import PatternError, Slots
from bot.language.said import Said, said
from knowledge.sourced import DataError


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("[reading.numbers]", "[reading.figures]"), r"en\.toml: reading\.numbers: Field required"),
        (("denied = [", "deny = ["), r"en\.toml: reading\.facts\.\d+\.deny: Extra inputs"),
        (('"firm" = ["firm"', '"firm" = ["Firm"'), r"en\.toml: state\.firm: .* must be words in lower case"),
        (("[reading]", "[red]"), r"en\.toml: reading\.name: Field required"),
        (
            ('means = ["hazard frost"]', 'means = ["hazad frost"]'),
            r"en\.toml: reading\.facts\.\d+\.means\.0: .*no meaning starts with 'hazad'; known: hazard,",
        ),
        (
            ('means = ["hazard frost"]', 'means = ["hazard forst"]'),
            r"en\.toml: reading\.facts\.\d+\.means\.0: .*no hazard 'forst'; known: .*frost",
        ),
        (('["done ladder"]', '["done lader"]'), r"reading\.facts\.\d+\.means\.0: .*no done 'lader'"),
        (('["undone ladder"]', '["undone"]'), r"reading\.facts\.\d+\.(means|denied)\.0: .*no undone ''"),
        (('["water dry"]', '["water wet"]'), r"reading\.facts\.\d+\.(means|denied)\.0: .*no water 'wet'"),
        (('["face stands"]', '["face is fine"]'), r"reading\.facts\.\d+\.means\.0: .*no face 'is fine'"),
        (('["unclear face"]', '["unclear depth"]'), r"reading\.facts\.\d+\.denied\.0: .*no unclear 'depth'"),
        (('["seen"]', '["seen well"]'), r"reading\.facts\.\d+\.(means|denied)\.0: .*no seen 'well'"),
        (("\nhedge = [", "\nhegde = ["), r"en\.toml: reading\.say\.hedge: needed, and not there"),
        (("\nhedge = [", '\nhegde = ["a"]\nhedge = ['), r"reading\.say\.hegde: nothing asks for it"),
        (('"firm" = ["firm"', '"frim" = ["firm"'), r"en\.toml: reading\.ground\.states\.frim"),
        (('\n"chalk" = [', '\n"marl" = ['), r"en\.toml: reading\.ground\.kinds\.marl"),
        (("[reading.labels.spoil]", "[reading.labels.muck]"), r"en\.toml: reading\.labels\.muck"),
        (
            ('means = ["hazard frost"]', "means = []"),
            r"en\.toml: reading\.facts: no fact means 'hazard frost'",
        ),
        (
            ("\nmanners = [", '\nmanners = [\n  "nearly",'),
            r"en\.toml: manners: 'nearly' is never said without",
        ),
        (("\nspoil = [", '\nspoil = [\n  "keep",'), r"en\.toml: spoil: 'keep' is never said without"),
        (("\nsketch = [", "\nscetch = ["), r"en\.toml: reading\.purposes\.scetch: no such purpose"),
    ],
)
def test_a_bad_vocabulary_is_refused_by_file_key_and_reason(
    tmp_path: Path, change: tuple[str, str], told: str
) -> None:
    text = (catalog.WORDS / "en.toml").read_text(encoding="utf-8")
    assert change[0] in text
    (tmp_path / "en.toml").write_text(text.replace(*change, 1), encoding="utf-8")
    with pytest.raises(DataError, match=told):
        load(tmp_path)


@pytest.mark.parametrize(
    ("code", "gone", "told"),
    [
        ("es", "\nstatus-none = ", r"es\.toml: say\.status-none: needed, and not there"),
        ("pl", "\npavement_m = ", r"pl\.toml: (ask|detail)\.pavement_m: needed, and not there"),
        ("pt", '\n"firm clay" = ', r"pt\.toml: terms\.firm clay: needed, and not there"),
        ("pt", '\n"fall of ground" = ', r"pt\.toml: terms\.fall of ground: needed, and not there"),
        ("ro", '\n"hazard.out" = ', r"ro\.toml: rules\.hazard\.out: needed, and not there"),
        ("ro", '\n"spoil.untold" = ', r"ro\.toml: rules\.spoil(-us)?\.untold: needed, and not there"),
        ("en", "\ndepth_m = ", r"en\.toml: (ask|detail)\.depth_m: needed, and not there"),
    ],
)
def test_a_language_without_a_new_sentence_is_refused_and_the_sentence_named(
    tmp_path: Path, code: str, gone: str, told: str
) -> None:
    folder = shutil.copytree(catalog.WORDS, tmp_path / "words")
    text = (folder / f"{code}.toml").read_text(encoding="utf-8")
    assert gone in text
    kept = text.replace(gone, "\n" + '"gone from here" = ', 1)
    (folder / f"{code}.toml").write_text(kept, encoding="utf-8")
    with pytest.raises(DataError, match=told):
        catalog.load(TABLES, folder)
    assert code in catalog.load(TABLES, folder, gaps=True)


@pytest.mark.parametrize(
    ("code", "gone", "told"),
    [
        (
            "es",
            "\nfrost = ",
            r"es\.toml: reading\.say\.frost: no words for it, and 'hazard frost' needs them",
        ),
        ("pl", "\nclose = ", r"pl\.toml: reading\.purposes\.close: needed, and not there"),
        ("ro", '\n"peat" = ', r"ro\.toml: reading\.ground\.kinds\.peat: needed, and not there"),
    ],
)
def test_a_language_without_words_for_something_is_refused(
    tmp_path: Path, code: str, gone: str, told: str
) -> None:
    folder = shutil.copytree(catalog.WORDS, tmp_path / "words")
    file = folder / f"{code}.toml"
    lines = file.read_text(encoding="utf-8").split("\n")
    at = next(at for at, line in enumerate(lines) if line.startswith(gone.strip("\n")))
    file.write_text("\n".join([*lines[:at], *lines[at + 1 :]]), encoding="utf-8")
    with pytest.raises(DataError, match=told):
        load(folder)


def test_a_meaning_is_its_group_and_what_of_it() -> None:
    assert said("hazard fall of ground") == Said("hazard", "fall of ground")
    assert said("seen") == Said("seen", "")
    assert said(Said("done", "ladder")) == Said("done", "ladder")


def test_every_sentence_that_the_code_says_by_name_is_there_in_english() -> None:
    said = set()
    for file in (Path(replies.__file__).parent).rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr == "say"
            ):
                parts = [part.value for part in ast.walk(node.args[0]) if isinstance(part, ast.Constant)]
                said |= {part for part in parts if isinstance(part, str)}
    assert len(said) > 40
    assert said - catalog.load(TABLES)["en"].say.keys() == set()


def test_every_pattern_of_a_move_can_be_read_though_none_is_before_its_words_are_said() -> None:
    for language in load().languages.values():
        for pattern in language.moves:
            assert pattern.fits.fullmatch("") is None, pattern.name  # raises where it cannot be read


def test_a_slot_that_stands_twice_in_a_pattern_is_refused() -> None:
    slots = Slots({"n": r"\d", "prep": "in ", "ref": r"t\d"}, "")
    with pytest.raises(PatternError, match="the slot 'n' twice"):
        slots.compiled("moved", "{n} units and {n} more")
