"""How many people are in: told as they go in and come out. It is a count, and no leave."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.spread import alarm, named, news_to, supervisors
from bot.dialogue.replies import ReplyWriter
from knowledge.outcome import Noted
from knowledge.record.trench import Trench


def answer(case: Case) -> Answer:
    """Take the count down. Somebody in whom nobody let in, or somebody missing, is an alarm."""
    reading = case.heard.reading
    told = reading.heads
    assert told is not None
    if case.place.ref is None:
        return nowhere(case)
    if not case.may("tell"):
        return not_your_part(case)
    before = case.record.now.heads
    record = case.told()
    pen, left = case.pen, record.now.heads
    if told.in_ and not case.allowed_by(record):
        return _without_leave(case, record, told.in_)
    if reading.all_out and left:
        return _missing(case, record, before, told.out or 0)
    key = "heads-none" if not left else "heads-in" if case.entry(record).allowed_by else "heads-left"
    text = pen.say(key, trench=record.ref, heads=str(left))
    if told.out and told.out > before:
        text = f"{text} {pen.say('heads-more-out', heads=str(before))}"

    def news(pen: ReplyWriter) -> str:
        return pen.say(key, trench=named(record), heads=str(left))

    alerts = news_to(case, supervisors(case), news)
    return Answer(Noted(trench=record.ref, noted=(text,)), replies.fit([text]), record.ref, (record,), alerts)


def _without_leave(case: Case, record: Trench, entered: int) -> Answer:

    def news(pen: ReplyWriter) -> str:
        return pen.say("heads-no-leave", trench=named(record), heads=str(entered), name=case.person.name)

    lines = [
        case.pen.say("heads-out-now", trench=record.ref, heads=str(record.now.heads)),
        *replies.before_entry(case.pen, case.entry(record), allows=case.may("allow")),
    ]
    text = replies.fit(lines)
    outcome = Noted(trench=record.ref, noted=(text,))
    return Answer(outcome, text, record.ref, (record,), alarm(case, [record], news))


def _missing(case: Case, record: Trench, before: int, out: int) -> Answer:
    """Fewer came out than went in."""

    def news(pen: ReplyWriter) -> str:
        return pen.say("heads-missing", trench=named(record), heads=str(before), out=str(out))

    outcome = Noted(trench=record.ref, noted=())
    return Answer(outcome, news(case.pen), record.ref, (record,), alarm(case, [record], news))
