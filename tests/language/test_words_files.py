"""A words file that cannot be used is refused at load, by file, key and reason."""

from pathlib import Path

import pytest

from bot.language import catalog
from bot.language.lexicon import load
from bot.language.said import Said, said
from knowledge.tables.sourced import DataError


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


def test_a_meaning_is_its_group_and_what_of_it() -> None:
    assert said("hazard fall of ground") == Said("hazard", "fall of ground")
    assert said("seen") == Said("seen", "")
    assert said(Said("done", "ladder")) == Said("done", "ladder")
