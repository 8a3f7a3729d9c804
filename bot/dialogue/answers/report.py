"""Something done, measured or seen is told. Danger is acted on before anything else is said."""

from collections.abc import Sequence
from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers import spread, strip
from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.spread import alarm
from bot.dialogue.answers.unsure import bears_on, held, named_in, open_text, unsure
from bot.dialogue.answers.waiting import listed_with, waiting
from bot.dialogue.replies import ReplyWriter
from bot.language.tokens import references
from knowledge.entry.hazards import hazard_sentences
from knowledge.outcome import Ask, Missing, Noted
from knowledge.reading import Hazard, Purpose, Reading
from knowledge.record.adverse import stands_against
from knowledge.record.trench import Event, Trench

PURPOSE: Purpose = "report"


def answer(case: Case) -> Answer:
    """Take a report down. With a hazard in it everyone is called out and all who must know are told."""
    event = case.event()
    if case.heard.reading.hazards and (not case.place.ref or len(of_unnamed(case)) > 1):
        return _danger_somewhere(case, event)
    if not case.place.ref:
        return which_asked(case)
    record = case.told(event)
    if hazards := opened(record, event):
        return danger(case, event, record.ref, (record,), hazards)
    if not case.may("tell") and (not case.heard.reading.whole or case.heard.reading.undone):
        return open_text(case)  # who does not stand there may still have heard of something
    if not case.may("tell"):
        return not_your_part(case)
    reading = case.heard.reading
    if reading.whole and reading.denies and not case.pen.facts(reading) and record.now.plan:
        return open_text(case)  # "it's not clay down here": what is denied is not as it was told
    if case.record.closed and record.closed:
        text = case.pen.say("closed-note", trench=record.ref)
        return Answer(Noted(trench=record.ref, noted=(text,)), text, record.ref, (record,))
    questions = case.heard.reading.questions
    if questions:
        return _asked(case, questions)
    if (over := case.record.now.shores.over(case.heard.reading)) is not None:
        units, planned = over
        text = case.pen.say("units-over", trench=record.ref, units=str(units), planned=str(planned))
        return replace(open_text(case), text=text)
    return _noted(case, record) if case.heard.reading.whole else unsure(case)


def _asked(case: Case, questions: tuple[str, ...]) -> Answer:
    """What is told in two ways is asked about, and until it is answered it stands against entry wherever the
    text may be of."""
    refs = [ref for ref in named_in(case) if ref != case.record.ref]
    records = [case.told(held(case), case.context.trenches[ref]) for ref in refs]
    record = case.told(held(case))
    text = replies.fit([f"{record.ref}:", case.pen.question(questions[0], record.now.details)])
    return Answer(Ask(questions=questions), text, record.ref, (record, *records), asked=questions)


def which_asked(case: Case) -> Answer:
    """Of which trench is not told in a way that counts: asked, and until then it stands against entry
    wherever it may be of."""
    reading, trenches = case.heard.reading, case.context.trenches
    if "trench" in reading.questions:
        held = bears_on(case)
    else:  # what would help waits until it is named; what may be worse of any of them stands against it
        any_of = case.place.candidates if case.may("tell") else ()
        held = tuple(ref for ref in any_of if stands_against(trenches[ref].now, reading, case.tables))
    event = case.event(open_text=True)
    records = [case.told(event, trenches[ref]) for ref in held]
    if hazards := tuple(dict.fromkeys(each for record in records for each in opened(record, event))):
        return danger(case, event, ", ".join(held), tuple(records), hazards)  # a gauge that fell
    named = references(case.message.text)
    if case.heard.reading.purpose == "size" and len(named) > 1:  # two trenches in one text are never mixed
        text = case.pen.say("one-trench-each", trenches=", ".join(named))
        return Answer(Ask(questions=("trench",)), text, None, tuple(records), asked=("trench",))
    return replace(nowhere(case), trenches=tuple(records))


def leave_ended(case: Case, given: Answer) -> Answer:
    """People were let in, and what is now told ends that: they are called out, and all are told."""
    ended = [after for after in given.trenches if _ended(case, after)]
    if not ended:
        return given
    missing = {after.ref: case.entry(after).missing for after in ended}

    def news(pen: ReplyWriter) -> str:
        return " ".join(_why_ended(pen, each, missing[each.ref]) for each in ended)

    inside = [line for line in spread.still_in(case.pen, ended) if line not in given.text]
    alarms = alarm(case, ended, news)
    told = {alert.to for alert in alarms}
    kept = [alert for alert in given.alerts if alert.why != "news" or alert.to not in told]
    return replace(
        given,
        text=replies.fit([news(case.pen), *inside, *replies.in_sentences(given.text)]),
        alerts=(*kept, *alarms),
    )


def _why_ended(pen: ReplyWriter, trench: Trench, missing: tuple[Missing, ...]) -> str:
    where = spread.named(trench)
    if not missing:  # nothing stands in the way, but what it was given on is of another trench or time
        return pen.say("leave-ended-anew", trench=where)
    return pen.say("leave-ended", trench=where, missing=pen.missing(missing))


def _ended(case: Case, after: Trench) -> bool:
    before = case.context.trenches.get(after.ref)
    if before is None or after.now.hazards or after.closed:
        return False
    return bool(case.allowed_by(before)) and not case.allowed_by(after)


def _noted(case: Case, record: Trench) -> Answer:
    pen, reading = case.pen, case.heard.reading
    inspected = "inspection" in reading.done and case.may("inspect")
    untold = inspected and reading.verdict is None  # how it was found: nothing is ticked off by it
    told = tuple(each for each in reading.done if not (untold and each == "inspection"))
    facts = pen.facts(reading.model_copy(update={"done": told}))
    wrong = strip.out_of_order(case, case.record, record)
    parts = [
        *case.notes(record),
        *wrong,
        pen.say("appointment-over", name=case.person.name)
        if "inspection" in reading.done and case.lapsed
        else "",
        pen.say("verdict-untold", trench=record.ref) if untold else "",
        pen.say("noted", trench=record.ref, facts=", ".join(facts))
        if facts
        else pen.say("note-only", trench=record.ref)
        if not untold
        else "",
        pen.say("note-inspection") if not facts and case.may("inspect") and not untold else "",
        pen.say("inspection-not-yours")
        if "inspection" in reading.done and not (inspected or case.lapsed)
        else "",
        *replies.before_entry(pen, case.entry(record), allows=case.may("allow")),
    ]
    outcome = Noted(trench=record.ref, noted=tuple(facts))
    text, listed = replies.fit(parts), None
    if inspected and waiting(record):  # who inspects is shown what they were not told yet
        text, listed = listed_with(pen, record, text)
    alerts = alarm(case, (record,), lambda pen: f"{spread.named(record)}: {' '.join(wrong)}") if wrong else ()
    return Answer(outcome, text, record.ref, (record,), alerts, listed=listed)


def opened(record: Trench, event: Event) -> tuple[Hazard, ...]:
    """The hazards that this event opened, a gauge's fall among them even where no word said so."""
    said = {*event.reading.hazards}
    said.update(each.kind for each in record.now.hazards if each.said.event == event.id)
    return tuple(each.kind for each in record.now.hazards if each.kind in said)


def _danger_somewhere(case: Case, event: Event) -> Answer:
    """Nobody said where, and it could be any: every trench it may mean is closed until somebody says."""
    refs = of_unnamed(case)
    records = tuple(case.told(event, case.context.trenches[ref]) for ref in refs)
    return danger(case, event, ", ".join(refs), records, event.reading.hazards)


def of_unnamed(case: Case) -> list[str]:
    """The trenches that danger may be of which names none, or several: those, what a whole site has at all,
    else those that its sender spoke of this shift; all where they spoke of none."""
    reading, trenches = case.heard.reading, case.context.trenches
    named = [ref for ref in named_in(case) if ref in trenches]
    if case.place.ref and (reading.trench or case.place.trench is None):
        return [case.place.ref]
    if len(named) > 1 or not trenches:
        return named
    if any(case.tables.hazards.hazard[each].site for each in reading.hazards):
        return list(trenches)
    begun, number = case.shift.begin(case.context.now), case.person.number
    spoken = [
        ref
        for ref, trench in trenches.items()
        if any(each.number == number and each.heard >= begun for each in trench.events)
    ]
    last = [case.place.ref] if case.place.ref else []
    return list(dict.fromkeys([*spoken, *last])) or list(trenches)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def danger_at(case: Case, trenches: Sequence[Trench], reading: Reading) -> Answer:
    """What was in doubt is danger: everyone out of these trenches."""
    event = case.event(reading)
    records = tuple(case.told(event, trench) for trench in trenches)
    return danger(case, event, ", ".join(trench.ref for trench in records), records, reading.hazards)


def danger(
    case: Case, event: Event, where: str, records: tuple[Trench, ...], hazards: tuple[Hazard, ...]
) -> Answer:
    pen = case.pen
    cautions = hazard_sentences(hazards, case.site.rulebook, case.tables)
    ref = records[0].ref if len(records) == 1 else None
    label = ", ".join(spread.named(record) for record in records) or where
    text = replies.danger(pen, label, cautions, spread.still_in(pen, records))

    def news(pen: ReplyWriter) -> str:
        return pen.say(
            "hazard-alert",
            trench=label or case.site.name,
            hazards=_capital(", ".join(pen.catalog.term(h) for h in hazards)),
            name=case.person.name,
            time=pen.time(event.at),
        )

    outcome = Noted(trench=ref, noted=tuple(pen.facts(event.reading)), hazards=hazards)
    asked = () if ref or not where else ("trench",)
    return Answer(outcome, text, ref, records, alarm(case, records, news), asked=asked)
