"""Words that hold entry back and that a supervisor can answer for, once they were shown."""

from collections.abc import Sequence

from bot.channels.segments import to_gsm
from bot.dialogue import replies
from bot.dialogue.replies import ReplyWriter
from knowledge.record.state import Quoted
from knowledge.record.trench import Trench

MOST_SHOWN = 100  # characters of a text; of a longer one its beginning and its end
SHOWN_END = 40


def waiting(trench: Trench) -> Sequence[Quoted]:
    """What a supervisor can answer for: texts that nobody understood, and a fitter's stops."""
    fitters = [one for one in trench.now.stopped if one.said.role == "fitter"]
    return [*trench.now.open_texts, *fitters]


def listed_with(pen: ReplyWriter, trench: Trench, before: str = "") -> tuple[str, tuple[str, ...]]:
    """A reply, after what it says `before`, with as many of the waiting texts as it holds whole; and the
    events that it shows. What is not shown is not answered for."""
    found = waiting(trench)
    for most in range(len(found), 0, -1):
        words = "; ".join(f"{one.said.by} {pen.time(one.said.at)}: {_words(one)}" for one in found[:most])
        text = replies.fit([before, pen.say("seen-list", trench=trench.ref, words=words)])
        if shown := _shown(found[:most], text):
            return text, shown
    return before, ()


def _shown(found: Sequence[Quoted], text: str) -> tuple[str, ...]:
    """All of these, where a reply has the words of each, else none."""
    return tuple(one.said.event for one in found) if all(to_gsm(_words(one)) in text for one in found) else ()


def _words(one: Quoted) -> str:
    words = " ".join(one.words.split())
    if len(words) > MOST_SHOWN:
        words = f"{words[: MOST_SHOWN - SHOWN_END].strip()} ... {words[-SHOWN_END:].strip()}"
    return f'"{words}"'
