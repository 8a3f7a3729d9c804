"""The last answer once more. No purpose of its own: it is asked for whatever the last one was."""

from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.entry import standing
from knowledge.outcome import Told


def answer(case: Case) -> Answer:
    """The last answer once more: a reply that was lost on the way is invisible from here. What has changed
    since at the trench that it was about is said instead: an old answer may open what is closed."""
    thread, trench = case.context.thread, case.place.trench
    if thread and trench and any(event.heard > thread.at for event in trench.events):
        return standing(case, trench)
    text = thread.reply if thread and thread.reply else case.pen.say("again-none")
    asked = thread.asked if thread else ()
    return Answer(Told(about="again", lines=(text,)), text, case.place.ref, asked=asked)
