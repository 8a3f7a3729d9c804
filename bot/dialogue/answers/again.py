"""The last answer once more. No purpose of its own: it is asked for whatever the last one was."""

from bot.dialogue.answers.base import Answer, Case
from knowledge.outcome import Told


def answer(case: Case) -> Answer:
    """The last answer once more: a reply that was lost on the way is invisible from here."""
    thread = case.context.thread
    text = thread.reply if thread and thread.reply else case.pen.say("again-none")
    asked = thread.asked if thread else ()
    return Answer(Told(about="again", lines=(text,)), text, case.place.ref, asked=asked)
