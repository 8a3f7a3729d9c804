"""Demo chats: stories of a crew and the bot, as text that anybody can read and write.

    # A comment.
    Site: rulebook = us                 the terms of the site, before anybody speaks
    -- 08:10                            the time (UTC) of what follows; past midnight where it is earlier
    -- +45 min                          some time goes by (min, h or d); each message takes a minute
    -- late 2 h                         the next message was sent so long before it comes in
    Sam (fitter): t4 1.5 deep           what somebody texts; (stranger) is somebody who is not listed
    Bot: T4: 8 units                    the answer, to the letter; one `Bot:` for each of its lines
    Bot to Alex: T4: crack seen         what somebody else gets because of it
    Check: levels = 2                   worked by hand against the outcome, or the reading as `reading.x`

A `Check` compares a path of the outcome. A number is compared to as many decimals as it is written with,
or with the length of a list; a word with a value, or with any entry of a list or of its tables.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

_SPOKEN = re.compile(r"(?P<name>[^():]+?) \((?P<role>fitter|supervisor|office|stranger)\): ?(?P<text>.*)")
_BOT = re.compile(r"Bot(?: to (?P<name>[^:]+))?:(?: (?P<text>.*))?")
_CHECK = re.compile(r"Check: (?P<path>[\w.]+) (?P<sign>=|<=|>=) (?P<value>.+)")
_SITE = re.compile(r"Site: (?P<key>rulebook|kit|shift_start|shift_end) = (?P<value>\S.*)")
_CLOCK = re.compile(r"-- (?P<hour>[01]?\d|2[0-3]):(?P<minute>[0-5]\d)")
_GONE = re.compile(r"-- \+(?P<n>\d+) ?(?P<unit>min|h|d)")
_LATE = re.compile(r"-- late (?P<n>\d+) ?(?P<unit>min|h|d)")
_UNITS = {"min": "minutes", "h": "hours", "d": "days"}


class ChatError(ValueError):
    """A demo chat that cannot be read. The text names file, line and reason."""


@dataclass(frozen=True)
class Check:
    """A fact worked by hand that the outcome must show."""

    line: int
    path: str
    sign: str
    value: str

    def fails(self, reading: Mapping[str, Any], outcome: Mapping[str, Any]) -> str:
        """Why it does not hold, or "" where it does."""
        part, _, rest = self.path.partition(".")
        found = _at(reading, rest) if part == "reading" else _at(outcome, self.path)
        if _agrees(found, self.sign, self.value):
            return ""
        return f"line {self.line}: {self.path} is {json.dumps(found)}, not {self.sign} {self.value}"


@dataclass
class StoryText:
    """One text and what must come of it. `after` is when it was sent, from midnight of the first day."""

    line: int
    name: str
    role: str
    text: str
    after: timedelta
    bot: list[str] = field(default_factory=list)
    others: list[tuple[str, str]] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)


@dataclass
class Story:
    """A demo chat as read. `lines` are the file's own, so that it can be written back."""

    name: str
    lines: list[str]
    site: dict[str, str] = field(default_factory=dict)
    said: list[StoryText] = field(default_factory=list)


def read_story(file: Path) -> Story:
    """A demo chat. Raises ChatError."""
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise ChatError(f"{file}: cannot be read: {error}") from error
    story = Story(file.stem, lines)
    clock, late = timedelta(hours=8), timedelta()
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.startswith("#"):
            continue
        if gone := _LATE.fullmatch(line):
            late = _span(gone)
        elif line.startswith("-- "):
            clock = _moved(clock if story.said else timedelta(), line, f"{file.name} line {number}")
        elif spoken := _SPOKEN.fullmatch(line):
            story.said.append(StoryText(number, spoken["name"], spoken["role"], spoken["text"], clock - late))
            clock, late = clock + timedelta(minutes=1), timedelta()
        elif not _belongs(story, number, line):
            raise ChatError(f"{file.name} line {number}: not understood: {line}")
    return story


def rewritten(story: Story, answers: list[tuple[list[str], list[tuple[str, str]]]]) -> str:
    """The story's text with the `Bot` lines replaced by these answers; nothing else is touched."""
    after = {said.line: answer for said, answer in zip(story.said, answers, strict=True)}
    out = []
    for number, line in enumerate(story.lines, 1):
        if _BOT.fullmatch(line):
            continue
        out.append(line)
        if number in after:
            bot, others = after[number]
            out += [f"Bot: {text}".rstrip() for text in bot]
            out += [f"Bot to {name}: {text}".rstrip() for name, text in others]
    return "\n".join(out) + "\n"


def _belongs(story: Story, number: int, line: str) -> bool:
    """Take a line that speaks of what stands before it; False where it cannot be read."""
    if (site := _SITE.fullmatch(line)) and not story.said:
        story.site[site["key"]] = site["value"]
    elif not story.said:
        return False
    elif bot := _BOT.fullmatch(line):
        text = bot["text"] or ""
        if bot["name"]:
            story.said[-1].others.append((bot["name"], text))
        else:
            story.said[-1].bot.append(text)
    elif check := _CHECK.fullmatch(line):
        story.said[-1].checks.append(Check(number, check["path"], check["sign"], check["value"].strip()))
    else:
        return False
    return True


def _moved(clock: timedelta, line: str, where: str) -> timedelta:
    if at := _CLOCK.fullmatch(line):
        moved = timedelta(days=clock.days, hours=int(at["hour"]), minutes=int(at["minute"]))
        return moved if moved >= clock else moved + timedelta(days=1)
    if gone := _GONE.fullmatch(line):
        return clock + _span(gone)
    raise ChatError(f"{where}: not a time: {line}")


def _span(gone: re.Match[str]) -> timedelta:
    return timedelta(**{_UNITS[gone["unit"]]: int(gone["n"])})


def _at(data: Any, path: str) -> Any:
    for part in path.split("."):
        if isinstance(data, Mapping):
            data = data.get(part)
        elif isinstance(data, list | tuple) and part.isdigit() and int(part) < len(data):
            data = data[int(part)]
        else:
            return None
    return data


def _agrees(found: Any, sign: str, value: str) -> bool:
    try:
        wanted = float(value)
    except ValueError:
        return sign == "=" and _says(found, value)
    if isinstance(found, list | tuple):
        found = len(found)
    if isinstance(found, bool) or not isinstance(found, int | float):
        return False
    decimals = len(value.partition(".")[2])
    number = round(float(found), decimals)
    return {"=": number == wanted, "<=": number <= wanted, ">=": number >= wanted}[sign]


def _says(found: Any, value: str) -> bool:
    if isinstance(found, list | tuple):
        return any(_says(each, value) for each in found)
    if isinstance(found, Mapping):
        return any(_says(each, value) for each in found.values() if isinstance(each, str))
    if found is None or isinstance(found, bool):
        return json.dumps(found) == value
    return str(found) == value
