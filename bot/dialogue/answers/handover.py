"""A shift handed over: one line a trench; or one trench handed to somebody, who must take it."""

from bot.config.people import People
from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, nowhere
from bot.dialogue.answers.spread import named, news_to, supervisors
from bot.dialogue.answers.unsure import open_text
from bot.dialogue.replies import ReplyWriter
from bot.message import Person
from knowledge.entry.next_step import next_step
from knowledge.outcome import Noted, Told
from knowledge.reading import Purpose
from knowledge.record.trench import Trench

PURPOSE: Purpose = "handover"


def answer(case: Case) -> Answer:
    """Hand one trench to the person named, or tell how every one stands."""
    reading = case.heard.reading
    if reading.to is None:
        return _sheet(case)
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    person = by_name(case.context.people, case.site.name, reading.to)
    if person is None or not case.may("tell"):
        return open_text(case)
    to = reading.model_copy(update={"to": person.name})
    record = case.told(case.event(to))
    until = reading.until or ""

    def news(pen: ReplyWriter) -> str:
        return pen.say(
            "handed-news", trench=named(record), name=case.person.name, to=person.name, until=until or "-"
        )

    text = case.pen.say("handed", trench=record.ref, name=person.name)
    alerts = news_to(case, [person.number, *supervisors(case)], news)
    return Answer(Noted(trench=record.ref, noted=(text,)), text, record.ref, (record,), alerts)


def by_name(people: People, site: str, name: str) -> Person | None:
    """The one person of a site who is called so, by the whole name or its first word."""
    wanted = name.casefold()
    found = [
        person
        for person in people.on_site(site)
        if wanted in (person.name.casefold(), person.name.casefold().split()[0])
    ]
    return found[0] if len(found) == 1 else None


def _sheet(case: Case) -> Answer:
    trenches = list(case.context.trenches.values())
    if not trenches:
        text = case.pen.say("status-none")
        return Answer(Told(about="handover", lines=(text,)), text)
    ordered = sorted(trenches, key=lambda one: (not one.now.hazards, not one.now.heads, one.ref))
    lines = [line(case, trench) for trench in ordered]
    return Answer(Told(about="handover", lines=tuple(lines)), replies.listed(case.pen, lines, len(lines)))


def line(case: Case, trench: Trench) -> str:
    """One trench in one line: people in, hazards, gauges, and what is next; worst first."""
    pen, now = case.pen, trench.now
    parts = []
    if now.hazards:
        hazards = ", ".join(pen.catalog.term(each.kind) for each in now.hazards)
        parts.append(pen.say("state-hazard", hazards=hazards))
    if now.stopped:
        parts.append(pen.catalog.term("stopped"))
    parts.append(pen.say("handover-heads", heads=str(now.heads)))
    if now.parked:
        parts.append(pen.say("handover-parked", name=now.parked.said.by))
    if now.shores.gauges and now.shores.standing:
        oldest = min(gauge.at for gauge in now.shores.gauges.values())
        parts.append(pen.say("handover-gauges", time=case.shift.clock(oldest, case.context.now)))
    following = next_step(trench, case.context.now, case.tables, case.shift)
    if following.missing:
        parts.append(pen.say("state-no", missing=pen.missing(following.missing[:2])))
    elif following.step:
        step = pen.catalog.sentence(following.step, pen.lengths)
        parts.append(pen.say("handover-next", step=step.rstrip(".")))
    return f"{named(trench)} {', '.join(parts)}"
