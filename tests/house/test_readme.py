"""README and DEVELOPERS.md name only what is real, and name every setting."""

import argparse
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from bot.channels.base import all_channels
from bot.commands import parser
from bot.config.people import PeopleFile
from bot.config.settings import PREFIX, Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = {name: (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")}

COMMON = {PREFIX + name.upper() for name in Settings.model_fields}
EVERY = ("body_limit", "text_limit", "repeat_s")  # what README says once for every channel
OWN = {
    f"{PREFIX}{name.upper()}_{field.upper()}"
    for name, kind in all_channels().items()
    for field in kind.model_fields
    if field not in EVERY
}


def commands(text: str) -> list[list[str]]:
    """Every `trenchword ...` written as code, as its words."""
    code = re.findall(r"`(trenchword [a-z][^`]*)`", text)
    code += [line[line.index("trenchword ") :] for line in re.findall(r"^.*bin/trenchword .*$", text, re.M)]
    return [shlex.split(each.partition("#")[0])[1:] for each in code]


def subcommands(command: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    return next((dict(a.choices) for a in command._actions if isinstance(a, argparse._SubParsersAction)), {})


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_command_and_flag_is_real(name: str) -> None:
    for words in commands(DOCUMENTS[name]):
        command = parser()
        while words and words[0] in subcommands(command):
            command = subcommands(command)[words.pop(0)]
        assert not subcommands(command) or words[:1] in ([], ["COMMAND"]), words
        flags = {flag for action in command._actions for flag in action.option_strings}
        assert {word for word in words if word.startswith("--")} <= flags


def test_every_command_is_told() -> None:
    assert set(subcommands(parser())) == {words[0] for words in commands(README)} - {"COMMAND"}


def test_the_flags_in_the_table_of_commands_are_real() -> None:
    for row in re.findall(
        r"^\| `trenchword ([a-z]+)(?: (list|show|verify|add))?[^`]*` \|(.*)\|$", README, re.M
    ):
        command = subcommands(parser())[row[0]]
        command = subcommands(command)[row[1]] if row[1] else command
        flags = {flag for action in command._actions for flag in action.option_strings}
        assert set(re.findall(r"--[a-z-]+", row[2])) <= flags, row


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_setting_named_is_real(name: str) -> None:
    named = set(re.findall(PREFIX + r"[A-Z_]+", DOCUMENTS[name]))
    assert {each.removesuffix("_FILE") for each in named} <= COMMON | OWN


def test_every_setting_is_told() -> None:
    assert set(re.findall(PREFIX + r"[A-Z_]+", README)) >= COMMON | OWN


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_named_is_there(name: str) -> None:
    named = re.findall(r"`((?:bot|knowledge|tests|demo_chats)/[\w/.-]*)`", DOCUMENTS[name])
    assert named
    assert [each for each in named if not (ROOT / each).exists()] == []


def test_the_people_file_shown_loads() -> None:
    (shown,) = re.findall(r"```toml\n(.*?)```", README, re.S)
    people = PeopleFile.model_validate(tomllib.loads(shown))
    assert (len(people.person), len(people.site)) == (1, 1)
