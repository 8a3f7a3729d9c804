"""One reference for another. No purpose of its own: whatever else is said, two names are one trench."""

from dataclasses import replace

from bot.dialogue.answers.base import Answer, Case, nowhere
from knowledge.outcome import Told, Unclear
from knowledge.reading import Reading
from knowledge.record.trench import Event, Trench, merged, renamed


def answer(case: Case) -> Answer:
    """Two references for one trench: from now on it has the second."""
    old, new = case.place.trench, case.heard.reading.same_as
    if old is None or new is None:
        return nowhere(case)
    if new in case.context.closed:
        text = case.pen.say("rename-closed", trench=new)
        return Answer(Unclear(why="a closed reference"), text, old.ref)
    other = case.context.trenches.get(new)
    if other:  # two records become one only by the competent person's MERGE
        text = case.pen.say("merge-how", trench=new, other=old.ref)
        return Answer(Unclear(why="two records"), text, old.ref)
    gone = case.told(_closing(case), old)
    text = case.pen.say("renamed", trench=new, other=old.ref)
    record = renamed(old, new)
    return Answer(Told(about="status", trench=new, lines=(text,)), text, new, (gone, record))


def joined(case: Case, old: Trench, other: Trench) -> Answer:
    """Both records under the reference of the second; what stands against either stands, inspected anew."""
    if (other.site, other.rulebook, other.kit) != (old.site, old.rulebook, old.kit):
        text = case.pen.say("merge-not", trench=other.ref, other=old.ref)
        return Answer(Unclear(why="not on the same terms"), text, old.ref)
    record = merged(other, old, case.tables)
    gone = case.told(_closing(case), old)
    text = case.pen.say("merged", trench=other.ref, other=old.ref)
    return Answer(Told(about="status", trench=other.ref, lines=(text,)), text, other.ref, (gone, record))


def _closing(case: Case) -> Event:
    return replace(case.event(), reading=Reading(purpose="close"))
