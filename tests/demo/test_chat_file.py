"""Demo chats as text: what they hold, what they refuse, and what a rewrite may touch."""

from datetime import timedelta
from pathlib import Path

import pytest

from bot.demo.chat_file import ChatError, Check, Story, read_story, rewritten

STORY = """\
# A comment.
Site: rulebook = us
-- 07:30
Sam (fitter): t4 1.5 deep
Bot: T4: 8 units.
Bot: Second line.
Bot to Alex: T4 is planned.
Check: levels = 2

-- +45 min
Alex (supervisor): status
Bot: old
"""


def story(tmp_path: Path, text: str) -> Story:
    file = tmp_path / "story.chat"
    file.write_text(text)
    return read_story(file)


def test_a_story_is_read(tmp_path: Path) -> None:
    read = story(tmp_path, STORY)
    first, second = read.said
    assert read.site == {"rulebook": "us"}
    assert (first.name, first.role, first.text) == ("Sam", "fitter", "t4 1.5 deep")
    assert first.bot == ["T4: 8 units.", "Second line."]
    assert first.others == [("Alex", "T4 is planned.")]
    assert (first.after, second.after) == (timedelta(hours=7, minutes=30), timedelta(hours=8, minutes=16))


def test_an_earlier_time_of_day_is_the_next_day(tmp_path: Path) -> None:
    read = story(tmp_path, "-- 16:00\nSam (fitter): a\n-- 07:00\nSam (fitter): b\n")
    assert [said.after for said in read.said] == [timedelta(hours=16), timedelta(days=1, hours=7)]


def test_a_late_message_was_sent_before_it_comes_in(tmp_path: Path) -> None:
    read = story(tmp_path, "-- 10:00\nSam (fitter): a\n-- late 2 h\nSam (fitter): b\nSam (fitter): c\n")
    minutes = [said.after / timedelta(minutes=1) for said in read.said]
    assert minutes == [600, 601 - 120, 602]


@pytest.mark.parametrize("line", ["Sam: hello", "Sam (boss): hello", "-- noon", "Bot: first", "Check: x"])
def test_a_line_that_is_not_understood_is_named(tmp_path: Path, line: str) -> None:
    with pytest.raises(ChatError, match=r"story\.chat line 1"):
        story(tmp_path, line + "\n")


def test_a_rewrite_touches_nothing_but_the_bot_lines(tmp_path: Path) -> None:
    new = rewritten(story(tmp_path, STORY), [(["New."], []), (["One.", "Two."], [("Sam", "Hm.")])])
    others = [line for line in STORY.splitlines() if not line.startswith("Bot")]
    assert [line for line in new.splitlines() if not line.startswith("Bot")] == others
    assert [line for line in new.splitlines() if line.startswith("Bot")] == [
        "Bot: New.", "Bot: One.", "Bot: Two.", "Bot to Sam: Hm.",
    ]  # fmt: skip


OUTCOME = {
    "kind": "stop",
    "levels": [{"depth_m": 0.456}, {"depth_m": 1.1}],
    "stop": [{"rule": "deeper-than-kit", "say": "Too deep."}],
    "boards": True,
    "units": None,
}


@pytest.mark.parametrize(
    ("path", "sign", "value", "holds"),
    [
        ("levels", "=", "2", True),
        ("levels", "=", "3", False),
        ("levels", ">=", "2", True),
        ("levels.0.depth_m", "=", "0.46", True),
        ("levels.0.depth_m", "=", "0.45", False),
        ("levels.0.depth_m", "<=", "0.45", False),
        ("levels.9.depth_m", "=", "0", False),
        ("stop", "=", "deeper-than-kit", True),
        ("stop", "=", "peat", False),
        ("boards", "=", "true", True),
        ("boards", "=", "1", False),
        ("units", "=", "null", True),
        ("kind", "=", "stop", True),
        ("nothing", "=", "0", False),
        ("reading.trench", "=", "T4", True),
        ("reading.depth_m", ">=", "1.5", True),
    ],
)
def test_a_check_compares_as_it_is_written(path: str, sign: str, value: str, holds: bool) -> None:
    why = Check(1, path, sign, value).fails({"trench": "T4", "depth_m": 1.5}, OUTCOME)
    assert (why == "") is holds
