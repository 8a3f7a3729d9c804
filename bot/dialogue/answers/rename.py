"""One reference for another. No purpose of its own: whatever else is said, two names are one trench."""

from dataclasses import replace

from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.spread import news_to, supervisors
from bot.dialogue.replies import ReplyWriter
from bot.message import Alert
from knowledge.outcome import Told, Unclear
from knowledge.reading import Reading
from knowledge.record.trench import Event, Trench, merged, renamed


def answer(case: Case) -> Answer:
    """Two references for one trench: from now on it has the second."""
    old, new = case.place.trench, case.heard.reading.same_as
    if old is None or new is None:
        return nowhere(case)
    if not case.may("close"):
        return not_your_part(case)
    if new in case.context.closed:
        text = case.pen.say("rename-closed", trench=new)
        return Answer(Unclear(why="a closed reference"), text, old.ref)
    other = case.context.trenches.get(new)
    if other:  # two records become one only by the competent person's MERGE
        text = case.pen.say("merge-how", trench=new, other=old.ref)
        return Answer(Unclear(why="two records"), text, old.ref)
    gone = case.told(_closing(case, new), old)
    text = case.pen.say("renamed", trench=new, other=old.ref)
    record = renamed(old, new)
    outcome = Told(about="status", trench=new, lines=(text,))
    return Answer(outcome, text, new, (gone, record), _news(case, record, "renamed", old.ref))


def joined(case: Case, old: Trench, other: Trench) -> Answer:
    """Both records under the reference of the second; what stands against either stands, inspected anew."""
    if (other.site, other.rulebook, other.kit) != (old.site, old.rulebook, old.kit):
        text = case.pen.say("merge-not", trench=other.ref, other=old.ref)
        return Answer(Unclear(why="not on the same terms"), text, old.ref)
    record = merged(other, old, case.tables)
    gone = case.told(_closing(case, other.ref), old)
    text = case.pen.say("merged", trench=other.ref, other=old.ref)
    outcome = Told(about="status", trench=other.ref, lines=(text,))
    return Answer(outcome, text, other.ref, (gone, record), _news(case, record, "merged", old.ref))


def _closing(case: Case, new: str) -> Event:
    """The end of a name: whoever still uses it means the trench that has the other."""
    return replace(case.event(), reading=Reading(purpose="close", same_as=new))


def _news(case: Case, record: Trench, key: str, old: str) -> tuple[Alert, ...]:
    """Whoever texts of it by the old name is told of the new one."""

    def news(pen: ReplyWriter) -> str:
        return pen.say(key, trench=record.ref, other=old)

    return news_to(case, [*supervisors(case), *record.now.told], news)
