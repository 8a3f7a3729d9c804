""" "that was T4 not T3": the sender's last text, and only it, counts on the other. No purpose of its own."""

from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers import proof, report
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.spread import alarm, named, news_to, supervisors
from bot.dialogue.answers.unsure import open_text
from bot.dialogue.replies import ReplyWriter
from bot.message import Alert, event_name
from knowledge.outcome import Noted, Sized, Unclear
from knowledge.reading import Purpose, Reading
from knowledge.record.trench import Event, Trench, details, told
from knowledge.sizing.size import size

CARRIED: tuple[Purpose, ...] = ("report", "size", "stop")
"""What holds of a trench because it was told of it; all else is done, and may not be done there."""


def answer(case: Case) -> Answer:
    """Take the text back from the trench it was not of, and tell it of the one it was.

    Where no text of the sender is there to be meant both trenches are held until it is told anew.
    """
    wrong, right = case.heard.reading.not_at, case.place.ref
    mistold = case.context.trenches.get(wrong or "")
    if not case.may("tell") or mistold is None or right is None or wrong == right:
        return open_text(case)
    last = _last(case, mistold)
    if last is None:
        held = open_text(case)
        return replace(held, text=case.pen.say("wrong-hole-none", trench=wrong or "", other=right))
    left = case.told(replace(case.event(Reading(purpose="report")), withdraws=(last.id,)), mistold)
    moved = _moved(case, last)
    gained = _told_there(case, moved)
    if gained is None:
        text = replies.fit([case.pen.say("wrong-hole-anew", trench=left.ref, other=right)])
        # Until it is told anew it stands against entry there, whatever it was.
        there = (case.told(case.event(open_text=True)),) if case.place.trench else ()
        return Answer(
            Unclear(why="told of another trench"), text, right, (left, *there), _news(case, left, None, last)
        )
    noted = [] if moved.open_text else case.pen.facts(last.reading)  # what is held open is not noted
    facts = ", ".join(noted) or f'"{last.words[:40]}"'
    said = case.pen.say("wrong-hole", trench=gained.ref, other=left.ref, facts=facts)
    if hazards := report.opened(gained, moved):  # it is danger there as if it had been told there
        danger = report.danger(case, moved, gained.ref, (gained,), hazards)
        return replace(
            danger,
            text=replies.fit([*replies.in_sentences(danger.text), said]),
            trenches=(left, gained),
            alerts=(*_news(case, left, None, last), *danger.alerts),
        )
    text = replies.fit(
        [
            said,
            *_in_without_leave(case, gained),
            *replies.before_entry(case.pen, case.entry(gained), allows=case.may("allow")),
        ]
    )
    return Answer(
        Noted(trench=gained.ref, noted=tuple(noted)),
        text,
        gained.ref,
        (left, gained),
        _news(case, left, gained, last),
    )


def _in_without_leave(case: Case, gained: Trench) -> list[str]:
    """People told to be in turn out to be in another trench, into which nobody let them."""
    heads = gained.now.heads
    if not heads or case.allowed_by(gained):
        return []
    return [case.pen.say("heads-out-now", trench=gained.ref, heads=str(heads))]


def _last(case: Case, mistold: Trench) -> Event | None:
    """The sender's last text there, of this hour, that told something; None where it was withdrawn already.

    It must be the last that they sent of any trench but for the one it is said to be of.
    """
    since = case.at - case.tables.entry.figure.wrong_hole.span
    gone = {name for event in mistold.events for name in event.withdraws}
    mine = [
        event
        for event in mistold.events
        if event.number == case.person.number
        and event.at >= since
        and not (event.withdraws or event.id.endswith("/now"))
    ]
    last = max(mine, key=lambda event: event.came or 0, default=None)
    thread = case.context.thread
    if last is None or last.id in gone or last.code_ok or thread is None:
        return None
    return last if last.at >= thread.at else None  # since then they sent another, which told nothing there


def _moved(case: Case, last: Event) -> Event:
    """The text as one of the trench that it was of."""
    reading = last.reading
    closes = bool(reading.hazards or reading.possible_hazard or reading.undone or last.open_text)
    closes = closes or reading.purpose in ("stop", "size")
    return replace(
        last,
        # What closes or plans counts there from now: who looked there before did not know of it.
        at=max(last.at, case.at) if closes else last.at,
        received=case.context.now if closes else last.received,
        sent=last.sent or last.at if reading.purpose == "size" else None,  # what it tells is no fresher
        id=f"{event_name(case.message.channel, case.message.sender, case.message.id)}/moved",
        from_ref=case.heard.reading.not_at or "",
        retold=True,
        came=None,
        plan=None,
        sized_on=None,
        stopped=False,
        seen=(),
        reading=last.reading.model_copy(update={"trench": case.place.ref}),
    )


def _told_there(case: Case, moved: Event) -> Trench | None:
    """The other record with the text on it; None where it must be told anew: figures that ask, what has
    rules of its own (to close a trench, to move on), or, where anybody may have sent it, an inspection of a
    trench that danger or a stop has closed."""
    unsure = moved.open_text or moved.reading.possible_hazard
    if moved.reading.purpose not in CARRIED and not unsure:
        return None
    if not case.context.proven and "inspection" in moved.reading.done and proof.closed_by_words(case.record):
        return None
    record = told(case.record, moved, case.tables)
    if moved.reading.purpose != "size":
        return record
    known = details(record)
    outcome = size(known, case.tables, record.rulebook, record.kit)
    if not isinstance(outcome, Sized):
        return None
    return told(case.record, replace(moved, plan=outcome, sized_on=known), case.tables)


def _news(case: Case, left: Trench, gained: Trench | None, last: Event) -> tuple[Alert, ...]:
    def news(pen: ReplyWriter) -> str:
        return pen.say(
            "wrong-hole-news",
            name=case.person.name,
            trench=case.place.ref or "",
            other=left.ref,
            words=last.words[:40],
        )

    numbers = [*supervisors(case), *left.now.told, *(gained.now.told if gained else ())]
    alerts = news_to(case, numbers, news, why="corrected")
    if gained is None or not _in_without_leave(case, gained):
        return alerts

    def danger(pen: ReplyWriter) -> str:
        heads, name = str(gained.now.heads), case.person.name
        return pen.say("heads-no-leave", trench=named(gained), heads=heads, name=name)

    return (*alerts, *alarm(case, [gained], danger))
