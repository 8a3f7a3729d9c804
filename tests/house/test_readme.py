"""README, DEVELOPERS.md and what stands in bot/deploy name only what is real, and name every setting."""

import argparse
import re
import shlex
from pathlib import Path

import pytest

from bot.channels.base import all_channels
from bot.commands import parser
from bot.config.settings import PREFIX, Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEPLOY = ROOT / "bot" / "deploy"
PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DEPLOY.iterdir())]
DOCUMENTS = {str(each.relative_to(ROOT)): each.read_text(encoding="utf-8") for each in PAPERS}
SETTINGS = DOCUMENTS["bot/deploy/settings.md"]

COMMON = {PREFIX + name.upper() for name in Settings.model_fields}
EVERY = (
    "body_limit",
    "text_limit",
    "repeat_s",
    "proves_sender",
    "picture_hosts",
)  # what settings.md says once for every channel
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
    assert set(re.findall(PREFIX + r"[A-Z_]+", SETTINGS)) >= COMMON | OWN


def test_what_is_usual_is_what_stands_in_the_code() -> None:
    usual = dict(re.findall(rf"^\| `{PREFIX}([A-Z_]+)` \| ([^|]*) \|", SETTINGS, re.M))
    for name, field in Settings.model_fields.items():
        given = usual[name.upper()]
        assert given.strip("`") == str(field.default) if given[0] == "`" else not field.default, name


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_named_is_there(name: str) -> None:
    named = re.findall(r"`((?:bot|knowledge|tests|demo_chats)/[\w/.-]*)`", DOCUMENTS[name])
    assert named or name.startswith("bot/deploy/")
    assert [each for each in named if not (ROOT / each).exists()] == []


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_link_leads_somewhere(name: str) -> None:
    links = re.findall(r"\]\(([^)#]+)[^)]*\)", DOCUMENTS[name])
    ours = [link for link in links if not link.startswith("https://")]
    assert [link for link in ours if not (ROOT / name).parent.joinpath(link).exists()] == []


def test_readme_leads_to_everything_that_stands_in_deploy() -> None:
    assert set(re.findall(r"\]\(bot/deploy/([\w.]+)\)", README)) == {each.name for each in DEPLOY.iterdir()}


def test_the_first_screen_says_what_it_is_and_runs_tries_and_tests_it() -> None:
    """The job in one paragraph, then a command that runs it, one that tries it, one that tests it."""
    job, *rest = README.split("\n```sh\n")
    assert README.startswith("# Trenchword\n\n") and job.count("\n\n") == 2
    runs, tries, tests = (each.partition("\n```")[0] for each in rest[:3])
    assert "trenchword serve --demo" in runs and tries.startswith("curl ") and tests.endswith("pytest")
    assert all(each.startswith("python3 -m venv ") for each in (runs, tests))
    assert README.partition(tests)[0].count("\n") < 35
