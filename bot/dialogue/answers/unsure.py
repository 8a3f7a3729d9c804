"""A text that is not wholly understood.

What seems meant is asked with one YES, a plan or a doubt is taken down as such, and what is left holds entry
back until somebody says it another way.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.spread import alarm, named
from bot.dialogue.replies import ReplyWriter
from bot.language.tokens import references
from bot.message import Proposal
from knowledge.outcome import Noted, Unclear
from knowledge.reading import LOOKING, Done, Reading
from knowledge.record.in_doubt import all_known, known
from knowledge.record.trench import Event, Trench

TOLD_ANEW: tuple[Done, ...] = ("inspection", "air test")  # a YES is only a second look, too weak for these
MOST_FACTS = 2  # that one YES may take
HALF = 0.5  # at least half as likely as what is most likely
SOME_DANGER = 0.15  # from here on the second reader hears too much for a plan
MOST_WORDS = 40  # characters of a quotation
MOST_LEFT = 100  # of what is left over: a YES is to all of it, and so it is said back whole


def unsure(case: Case) -> Answer:
    """A report of which words are left over: ask, note what is not so, or hold entry back."""
    reading = case.heard.reading
    others = [ref for ref in named_in(case) if ref != case.place.ref]
    if others:
        return open_text(case)  # "that was of T8, not T7": what is of which is not for us to say
    if case.place.trench is None and bears_on(case):
        return open_text(case)  # "borrowed the ladder for T3": of the trench that its sender spoke of before
    if case.place.trench and case.entry(case.place.trench).entry == "may":
        return open_text(case)  # where nothing is missing nothing is to be gained, and all may be lost
    offered = meant(reading)
    if reading.verdict == "not safe" or (reading.denies and "inspection" in reading.proposed):
        return open_text(case)  # "inspected, not ok"
    state, rules = case.record.now, case.tables.entry
    again = [what for what in TOLD_ANEW if what in reading.proposed and not known(state, what, rules)]
    if _another_fact(case, offered, again):
        return open_text(case)  # neither is offered
    if offered is not None and not all_known(state, offered, rules) and len(left(case)) <= MOST_LEFT:
        return propose(case, offered)
    if offered is None and again:
        record = case.told(case.event(offered=Reading(done=tuple(again))))
        return _told_anew(case, record, again[0], left(case))
    if _of_entry(case, reading.not_so) and (reading.danger or 0.0) < SOME_DANGER:
        return _not_so(case)
    return open_text(case)


def is_no_question(reading: Reading) -> bool:
    """Whether a text in which a question was heard is hardly one, for all that is left over of it.

    Of what is asked for beside a word or two more nothing is held; but "services were marked off the old
    drawing" asks for no drawing, and one in which something is measured tells it, as does one for entry that
    speaks of more. "Why are they in with no ladder" tells that there is none.
    """
    if reading.purpose in LOOKING and _measures(reading):
        return True  # "status? spoil at 0.3"
    asks = reading.purpose not in ("report", "size", "stop", "answer", "chat", "unclear", "close")
    if reading.purpose == "why" and reading.site_words and (reading.agreed or 0.0) < HALF:
        return True  # "why is the gauge at 12 bar?", and not "why T7"
    measured = any(re.fullmatch(r"\d\S* ?[^\W\d]+", word) for word in reading.left_over)  # "30 cm", no "2"
    left_over = {word.lower() for word in reading.left_over}
    tells = reading.purpose == "entry" and not left_over.isdisjoint(reading.site_words)
    doubtful = measured or tells or (reading.agreed or 0.0) < HALF or (reading.danger or 0.0) >= SOME_DANGER
    tells_of_less = bool(reading.undone)
    return asks and not reading.allow and (tells_of_less or (doubtful and not reading.whole))


def _measures(reading: Reading) -> bool:
    """Whether a figure of the works is told: how far the heap is, gauges, air."""
    return bool(reading.gauges or reading.air or reading.spoil_m is not None or reading.plant_m is not None)


def all_to_lose(case: Case) -> bool:
    """Whether a trench that this bears on is inspected, and it has words left over: a question of something
    else, or a supervisor's word by the way ("why does it creak?", "are you sure?"). Before that, who inspects
    sees what it was about."""
    reading = case.heard.reading
    by_the_way = reading.purpose == "chat" and case.may("inspect")
    if reading.whole or not (by_the_way or reading.purpose in LOOKING):
        return False
    return any(_trench(case, ref).now.inspected is not None for ref in bears_on(case))


def _another_fact(case: Case, offered: Reading | None, again: Sequence[Done]) -> bool:
    """Whether the second reader hears another fact of entry reported than the grammar does."""
    heard = [*again, *case.heard.reading.not_so, *(offered.done if offered else ())]
    told = {case.fact_of(what) for what in heard}
    if offered is not None:
        by_value = ("gap below", offered.depth_m), ("spoil", offered.spoil_m), ("water", offered.water)
        told |= {fact for fact, value in (*by_value, ("units", offered.gauges or None)) if value is not None}
    about = case.heard.reading.about
    return about is not None and bool(told) and about not in told


def _of_entry(case: Case, facts: Sequence[Done]) -> bool:
    """Whether one of these stands for a fact that entry waits for."""
    return any(what not in ("backfill", "units out", "services supported") for what in facts)


def meant(reading: Reading) -> Reading | None:
    """What a YES would take of a text, at most two facts; None where there is nothing that a YES may take.

    Where a figure is left over no figure of the text is sure, and none is offered.
    """
    sure = not any(re.search(r"\d", word) for word in reading.left_over)
    done = tuple(what for what in reading.proposed if what not in TOLD_ANEW)
    unset = "units set" in (*reading.undone, *reading.not_so)
    read = reading.gauges if sure and not unset and reading.purpose == "report" else ()
    units = reading.units_set if read else None
    kept = {
        "depth_m": reading.depth_m if sure and reading.purpose == "report" else None,
        "spoil_m": reading.spoil_m if sure else None,
        "water": reading.water if reading.water in ("dry", "damp") else None,
    }
    facts = [what for what in done if what != "units set" or (units and units.all)]
    values: dict[str, Any] = {name: value for name, value in kept.items() if value is not None}
    if read:
        of = {"read_on": reading.read_on, "of_every": reading.of_every}
        values |= {"gauges": read} | of | ({"units_set": units} if units else {})
    many = len(facts) + len(values.keys() - {"units_set", "read_on", "of_every", "spoil_m"})
    if not many and "spoil_m" not in values:
        return None
    facts = facts[:MOST_FACTS]
    return Reading(purpose="report", trench=reading.trench, done=tuple(facts), **values)


def propose(case: Case, offered: Reading) -> Answer:
    """Ask with one YES whether that is so; until then nothing of it counts."""
    record = case.told(case.event(offered=offered))
    pen, ref = case.pen, record.ref
    facts = pen.facts(offered)
    text = pen.say("propose", trench=ref, words=left(case) or quoted(case), facts=", ".join(facts))
    proposal = proposed(case, record, offered)
    outcome = Noted(trench=ref, proposed=tuple(facts))
    return Answer(outcome, replies.fit([*case.notes(record), text]), ref, (record,), proposals=(proposal,))


def proposed(case: Case, record: Trench, offered: Reading) -> Proposal:
    """The question that a YES may answer from now on."""
    came = max((event.came or 0 for event in record.events), default=0)
    return Proposal(
        trench=record.ref, at=case.context.now, reading=offered, words=case.message.text, came=came
    )


def _told_anew(case: Case, record: Trench, what: str, words: str) -> Answer:
    pen = case.pen
    text = pen.say("tell-anew", trench=record.ref, words=words, example=pen.example(what))
    return Answer(Noted(trench=record.ref), text, record.ref, (record,))


def not_as_held(case: Case) -> Answer:
    """What was held until its trench was named is told anew: it counts only for the worse."""
    reading = case.heard.reading
    event = case.event(reading.model_copy(update={"left_over": ("told too late",)}))
    record = case.told(replace(event, at=case.context.now))
    ways = case.told_by(record)
    what = next((ways[fact] for fact in sorted(case.facts_told(reading)) if fact in ways), None)
    if what is None:  # nothing that its sender may report
        return Answer(
            Noted(trench=record.ref), case.pen.say("yes-void", trench=record.ref), record.ref, (record,)
        )
    return _told_anew(case, record, what, quoted(case))


def _not_so(case: Case) -> Answer:
    """A plan, a part or a doubt: it takes the fact back, and closes nothing more."""
    pen, reading = case.pen, case.heard.reading
    event = case.event(reading.model_copy(update={"undone": (*reading.undone, *reading.not_so)}))
    record = case.told(event)
    facts = ", ".join(pen.catalog.term(what) for what in reading.not_so)
    likely = case.told_by(record).get(reading.about or "")
    example = likely if likely in reading.not_so else reading.not_so[0]
    text = pen.say("still-to-do", trench=record.ref, facts=facts, example=pen.example(example))
    return Answer(Noted(trench=record.ref), text, record.ref, (record,))


def open_text(case: Case) -> Answer:
    """Not understood, and it bears on a trench: nobody else goes in there until it is cleared up.

    From a supervisor who has inspected the trench that it names it counts as a stop, unless it only asks.
    What it seems to report is answered with how that is reported.
    """
    refs = bears_on(case)
    if not refs:
        return Answer(
            Unclear(why="not understood"), case.pen.say("unclear", emergency=case.emergency), case.place.ref
        )
    inspected = any(_trench(case, ref).now.inspected is not None for ref in named_in(case))
    reading = case.heard.reading
    stops = inspected and case.may("inspect") and not (reading.asks and not reading.undone)
    records = tuple(case.told(held(case, stops=stops), _trench(case, ref)) for ref in refs)
    where = ", ".join(refs)
    example = how_told(case, records[0]) if len(refs) == 1 else None
    if stops or example is None:
        key = "stopped" if stops else "open-text-inspector" if case.may("inspect") else "open-text"
        text = case.pen.say(key, trench=where, name=case.person.name)
    else:
        text = case.pen.say("open-text-about", trench=where, example=example)
    return Answer(
        Unclear(why="stopped" if stops else "not understood"),
        text,
        refs[0] if len(refs) == 1 else None,
        records,
    )


def how_told(case: Case, record: Trench) -> str | None:
    """How that is reported which a text seems to speak of, well or badly, where it is missing and its sender
    may report it. Blanks stand for figures: whose they are to read."""
    reading = case.heard.reading
    missing = reading.about in {one.fact for one in case.entry(record).missing}
    if not (missing and reading.about) or reading.undone or reading.about not in case.told_by(record):
        return None
    return f"{record.ref} {case.pen.catalog.taught[reading.about]}"


def held(case: Case, *, stops: bool = False) -> Event:
    """The text as one of which only what speaks against entry counts, until it is cleared up; as a stop where
    it `stops`."""
    reading = case.heard.reading
    if stops:
        return case.event(reading.model_copy(update={"purpose": "stop"}))
    if reading.whole:  # read whole as what it hardly is, or with a question open
        reading = reading.model_copy(update={"left_over": ("not understood",)})
    return case.event(reading, open_text=True)


def named_in(case: Case) -> tuple[str, ...]:
    """Every open trench of the site that the text names, in whatever way; and the closed one it is of."""
    known = [ref for ref in references(case.message.text) if ref in case.context.trenches]
    place = case.place
    if place.ref and (place.trench or place.ref in case.context.closed) and case.heard.reading.trench:
        known = [place.ref, *(ref for ref in known if ref != place.ref)]
    return tuple(known)


def bears_on(case: Case) -> tuple[str, ...]:
    """The trenches that a text bears on: the one named, else those its sender spoke of in the last hour.

    Of one who spoke of none it bears on the only trench that is open, or, where it speaks of what a trench
    must have, on any of them; else on the one that they last asked about.
    """
    if named := named_in(case):
        return named
    since = case.context.now - case.tables.entry.figure.spoken_of.span
    number = case.person.number
    spoken = [
        ref
        for ref, trench in case.context.trenches.items()
        if number in trench.now.told and any(e.number == number and e.at >= since for e in trench.events)
    ]
    if spoken:
        return tuple(spoken)
    reading, trench = case.heard.reading, case.place.trench
    if len(case.context.trenches) == 1 or reading.proposed or reading.not_so or reading.undone:
        return tuple(case.context.trenches)
    return (trench.ref,) if trench else ()


def _trench(case: Case, ref: str) -> Trench:
    return case.context.trenches.get(ref) or case.record


def maybe_danger(case: Case) -> Answer:
    """Danger that no phrase names: nobody in, the supervisor is told with the words."""
    place = case.place
    refs = bears_on(case) or place.candidates or ((place.trench.ref,) if place.trench else ())
    if not refs:
        return Answer(
            Unclear(why="maybe danger"), case.pen.say("danger-where", words=quoted(case)), asked=("trench",)
        )
    records = tuple(case.told(case.event(), _trench(case, ref)) for ref in refs)
    where = ", ".join(refs)
    found = ", ".join(named(record) for record in records)

    def news(pen: ReplyWriter) -> str:
        return pen.say("maybe-danger-alert", trench=found, name=case.person.name, words=quoted(case))

    text = case.pen.say("maybe-danger", trench=where, words=quoted(case))
    ref = refs[0] if len(refs) == 1 else None
    return Answer(Noted(trench=ref), text, ref, records, alarm(case, records, news))


def quoted(case: Case) -> str:
    """The beginning of the text, as it is said back."""
    return case.message.text[:MOST_WORDS].strip()


def left(case: Case) -> str:
    """What is left over of the text, said back."""
    return " ... ".join(case.heard.reading.left_over).strip()


def as_told(proposal: Proposal, case: Case) -> Event:
    """The proposal as an event of now: a YES counts as the whole text."""
    return replace(case.event(proposal.reading), words=proposal.words)
