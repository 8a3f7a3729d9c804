"""The whole road of a message on one screen: one message in, one Turn out, no I/O.

Message -> Reading -> Trench -> Outcome -> Reply, all five together one Turn
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial

from bot.channels.segments import to_gsm
from bot.config.people import People
from bot.dialogue import held, joining, replies, said_time, stranger, which_trench
from bot.dialogue.answers import (
    again,
    heads,
    join,
    moved,
    proof,
    rename,
    report,
    several,
    since,
    units,
    unsure,
    whose,
    wrong_hole,
)
from bot.dialogue.answers.base import Answer, Case, found
from bot.dialogue.context import Context, shift
from bot.language.catalog import Catalog, spoken
from bot.language.sender_units import in_their_units
from bot.language.tokens import references
from bot.message import Heard, Message, Person, Proposal, Thread, Turn
from bot.reading.both import Readers
from knowledge.outcome import Failed, Noted, Sized, Stop, Unclear
from knowledge.reading import Reading
from knowledge.tables.load import Tables

ANSWERS = found()
OF_ONE = frozenset(
    ("size", "entry", "close", "why", "steps", "sketch")
)  # answered for one trench, never guessed


def converse(
    message: Message, context: Context, tables: Tables, readers: Readers, catalogs: Mapping[str, Catalog]
) -> Turn:
    """Answer one message. What it raises is an error of ours: the caller answers and logs it by `failed`."""
    if context.person is None or context.site is None:
        return stranger.overheard(message, context, tables, readers, catalogs["en"])
    heard, said, held_at = _hear(message, context, readers)
    heard = _not_to_come(heard, said, context, tables)
    place = which_trench.find(heard.reading, context)
    manner = in_their_units(heard.manner, context.thread, context.site.rulebook)
    pen, english = (
        replies.ReplyWriter(
            spoken(catalogs, language, context.site.rulebook),
            manner,
            shift(context.site).zone,
            reviewed=language == "en" or bool(readers.words.languages[language].vocabulary.reviewed),
        )
        for language in (heard.manner.language, "en")
    )
    case = Case(said, heard, place, context, context.person, context.site, tables, pen, english, held_at)
    answer = _named_at_last(case, _opened(case, readers) or _answer(case, readers))
    marks = _marks(case, answer)
    text = replies.marked(pen, answer.text) if marks else answer.text
    if far := _far_off(case):
        text = replies.noted_with(text, far)
    if message.attached and message.text.strip():
        text = replies.noted_with(text, pen.say("only-words"))
    return Turn(
        message=message,
        reading=heard.reading,
        outcome=answer.outcome,
        reply=replies.to(message.sender, text),
        manner=heard.manner,
        trench=answer.ref,
        alerts=tuple(
            each.model_copy(update={"text": to_gsm(each.text)})
            for each in (*answer.alerts, *proof.told_to_number(case, answer))
        ),
        stamp=tables.stamp,
        thread=_thread(case, answer, marks=marks),
        trenches=answer.trenches,
        sketched=answer.sketched,
        guest=answer.guest,
    )


def _opened(case: Case, readers: Readers) -> Answer | None:
    """The code has come back for what an earlier text of this sender was to open: that text counts now."""
    thread, code = case.context.thread, case.heard.reading.code
    if code is None or thread is None or thread.opening is None or not case.may("inspect"):
        return None
    if not proof.proved(case, code):
        return proof.wrong(case)
    said = thread.opening
    context = replace(case.context, proven=True, thread=thread.model_copy(update={"trench": said.trench}))
    message = case.message.model_copy(update={"text": said.text, "sent_at": said.at})
    heard, message, _ = _hear(message, context, readers)
    place = which_trench.find(heard.reading, context)
    earlier = replace(case, message=message, heard=heard, place=place, context=context)
    return replace(_answer(earlier, readers), wrong_codes=0)


def failed(
    message: Message,
    error: Exception,
    context: Context,
    tables: Tables,
    catalogs: Mapping[str, Catalog],
    language: str = "en",
) -> Turn:
    """An error of ours: nobody goes in on it, and it is on the log. `language`: of the sender's last text.

    What it said is not known, so that it may be danger: it is held as such at the trenches that it names, or
    at every open one of the site, and the supervisors are told.
    """
    records = tuple(held.records(message, context, tables))
    return Turn(
        message=message,
        reading=Reading(),
        outcome=Failed(error=type(error).__name__),
        reply=replies.to(message.sender, catalogs[language].say["failed"]),
        stamp=tables.stamp,
        error=f"{type(error).__name__}: {error}",
        alerts=held.alerts(message, context, records, catalogs["en"]),
        trenches=records,
    )


def _far_off(case: Case) -> str:
    """What is said where the time at which a text says that it was sent is hardly so."""
    sent, now = case.message.sent_at, case.context.now
    figures = case.tables.entry.figure
    if now - figures.sent_within.span <= sent <= now + figures.clock_skew.span:
        return ""
    local = sent.astimezone(case.pen.zone)
    return case.pen.say("sent-far", sent=f"{local:%Y-%m-%d %H:%M}", time=case.pen.time(now))


def read_from(
    message: Message, person: Person | None, people: People, readers: Readers
) -> Callable[..., Heard]:
    """How a text is read that comes from somebody; of what they were asked the caller knows."""
    supervisor = person is not None and person.role == "supervisor"
    own, site = (person.name, person.site) if person else ("", "")
    crew = tuple(one.name for one in people.on_site(site))
    return partial(readers.read, message.text, supervisor=supervisor, own=own, site=site, crew=crew)


def _hear(message: Message, context: Context, readers: Readers) -> tuple[Heard, Message, datetime | None]:
    """The reading, of what is said. An answer to what the sender was asked is read together with what it was
    asked about: that was said when the other came, which is told too."""
    thread = context.fresh
    from_them = read_from(message, context.person, context.people, readers)
    if thread is None:
        return from_them(), message, None
    alone = from_them(thread.asked, thread.held, thread.language)
    if thread.asked[:1] in (("trench",), ("gauges",)) and not alone.reading.hazards:
        both = f"{thread.held} {message.text}"
        together = readers.read(both, language=thread.language)
        answered = thread.asked[0] not in together.reading.questions
        if readers.read(message.text).reading.purpose in ("unclear", "chat"):
            if thread.asked[0] == "trench" and together.reading.trench is None:
                return from_them(language=thread.language), message, None  # "morning all" names none
            if answered:
                held_at = thread.held_at or thread.at
                said = {"text": both, "sent_at": min(held_at, message.sent_at)}
                return together, message.model_copy(update=said), held_at
    return alone, message, None


def _not_to_come(heard: Heard, message: Message, context: Context, tables: Tables) -> Heard:
    """A time said that is not of the last hours is of a plan: what is told for it is left over, all of it."""
    reading = heard.reading
    if reading.said_at is None or context.site is None:
        return heard
    sent = min(message.sent_at, context.now)
    if said_time.past(reading.said_at, sent, shift(context.site).zone, tables):
        return heard
    plan = {
        "left_over": (reading.said_at,),
        "said_at": None,
        "done": (),
        "not_so": tuple(dict.fromkeys((*reading.not_so, *reading.done))),
    }
    return heard.model_copy(update={"reading": reading.model_copy(update=plan)})


def _answer(case: Case, readers: Readers) -> Answer:
    reading = case.heard.reading
    if admission := joining.admission(case.message, case.context, readers.words):
        doubtful = admission.yes and not case.context.proven
        return proof.for_opening(case) if doubtful else join.admitted(case, admission)
    if not case.message.text.strip():  # a picture or a voice alone is no chat either
        return ANSWERS["unclear"](case)
    if proof.needed(case):
        return proof.for_opening(case)
    if reading.again and not reading.hazards:
        return again.answer(case)
    if case.held_at and _too_late(case, case.held_at):
        return report.leave_ended(case, unsure.not_as_held(case))
    if reading.possible_hazard and not reading.hazards:
        return report.leave_ended(case, unsure.maybe_danger(case))
    if (many := _too_many(case)) is not None:
        return many
    if reading.same_as and reading.whole and not reading.hazards:
        return rename.answer(case)
    if unsure.is_no_question(reading) or unsure.all_to_lose(case) or _beside_another(case):
        return report.leave_ended(case, unsure.open_text(case))
    if "trench" in reading.questions and reading.purpose in OF_ONE:
        return report.which_asked(case)
    if whose.is_asked(case):
        return report.leave_ended(case, whose.answer(case))
    answer = _told_of(reading) or ANSWERS[reading.purpose]
    return report.leave_ended(case, answer(case))


def _named_at_last(case: Case, answer: Answer) -> Answer:
    """A text that was held at several trenches has now been said to be of one: it leaves the others, but for
    danger, which somebody may be right about."""
    thread = case.context.thread
    if case.held_at is None or thread is None or case.heard.reading.trench is None:
        return answer
    here = {case.place.ref, *(trench.ref for trench in answer.trenches)}
    left = []
    for ref, trench in case.context.trenches.items():
        mine = (each for each in trench.events if each.open_text and each.number == case.person.number)
        held = tuple(each.id for each in mine if each.words == thread.held)
        if held and ref not in here:
            left.append(case.told(replace(case.event(Reading(purpose="report")), withdraws=held), trench))
    return replace(answer, trenches=(*answer.trenches, *left)) if left else answer


def _too_late(case: Case, held_at: datetime) -> bool:
    """Whether what was held until its trench or its unit was told may be so no more: too long ago, or other
    things have come in there since."""
    reading, trench = case.heard.reading, case.place.trench
    if not case.facts_told(reading) or reading.hazards or trench is None:
        return False
    if case.context.now - held_at > case.tables.entry.figure.yes_within.span:
        return True
    number, held = case.person.number, case.context.thread.held if case.context.thread else ""
    later = (
        event
        for event in trench.events
        if event.heard >= held_at and not (event.number == number and event.words == held)
    )
    return since.turned(case, trench, later, reading)


def _beside_another(case: Case) -> bool:
    """ "tipped the stone beside T7": of no trench of its own, and of an open one that it names, whichever its
    sender spoke of last. And "they took the ladder to T4": where nothing was told of, nothing is gone; it is
    gone from somewhere."""
    reading = case.heard.reading
    if reading.undone and case.place.trench is None and not reading.hazards:
        return True
    if reading.purpose != "size" or reading.hazards:
        return False
    measured = reading.depth_m is not None or reading.width_m is not None
    asked = case.context.fresh is not None and bool(case.context.fresh.asked)
    if not asked and ((not measured and reading.about) or not _begins(case)):
        return True
    named = unsure.named_in(case)
    of_none = case.place.trench is None or case.place.ref not in named
    return not measured and reading.questions != () and bool(named) and of_none


def _begins(case: Case) -> bool:
    """Whether a sizing that names no trench may begin one where others are open: "clay heaped on the lip" is
    of one of those, and so is a single measure beside words left over or anything that may be danger."""
    reading = case.heard.reading
    if reading.trench or "trench" in reading.questions or case.place.trench or not case.context.trenches:
        return True
    told = [each for each in (reading.depth_m, reading.width_m, reading.length_m) if each is not None]
    calm = (reading.danger or 0.0) < unsure.SOME_DANGER and not (reading.beside or reading.of_works)
    return len(told) > 1 or (bool(told) and calm and reading.whole)


def _told_of(reading: Reading) -> Callable[[Case], Answer] | None:
    """What answers a report of a kind of its own; None for any other text."""
    if "gauges" in reading.questions:
        return unsure.open_text if reading.about not in (None, "units") else report.answer
    if reading.hazards or reading.purpose not in ("report", "kit"):
        return None
    if reading.not_at:
        return wrong_hole.answer
    if reading.run_m:
        return moved.by_runs
    if reading.moved:
        return units.answer
    if reading.heads:
        return heads.answer
    if reading.also:
        return several.answer
    return units.in_the_ground if reading.ask else None


def _marks(case: Case, answer: Answer) -> bool:
    """Whether to say that nobody has read these words over: once a day to a sender, and on plans, refusals
    and dangers, which say so themselves."""
    if case.pen.reviewed or isinstance(answer.outcome, Sized | Stop):
        return False
    if isinstance(answer.outcome, Noted) and answer.outcome.hazards:
        return False
    last = case.context.thread.marked_at if case.context.thread else None
    zone = case.pen.zone
    return last is None or last.astimezone(zone).date() != case.context.now.astimezone(zone).date()


def _too_many(case: Case) -> Answer | None:
    """A sender has begun as many trenches as one phone may: each is looked through at every status."""
    ref, reading = case.place.ref, case.heard.reading
    begins = ref and case.place.trench is None and ref not in case.context.closed
    if not begins or reading.hazards or reading.purpose not in ("size", "report"):
        return None
    number = case.person.number
    count = sum(trench.now.told[:1] == (number,) for trench in case.context.trenches.values())
    if count < case.tables.entry.figure.open_at_most.value:
        return None
    text = case.pen.say("too-many-open", count=str(count))
    return Answer(Unclear(why="too many trenches open"), text)


def _thread(case: Case, answer: Answer, *, marks: bool) -> Thread:
    """Where the conversation stands after this turn. A code counts once: any try at it ends it."""
    before = case.context.thread
    tried = case.heard.reading.code is not None
    keeps = before if before and before.code and not tried and not answer.code else None
    reading = case.heard.reading
    # IGNORE and SEEN without a name are of texts of before, and no talk of the trench that those bear on; nor
    # is a YES to nothing talk of one.
    of_texts = reading.answer in ("ignore", "seen") or (reading.answer and not answer.trenches)
    of_texts = bool(of_texts) and reading.trench is None
    # Nor is one that names several trenches talk of one of them: which is meant next must be said.
    of_several = answer.ref is None and (len(unsure.named_in(case)) > 1 or len(answer.trenches) > 1)
    # Nor is one that names a trench that is on no record talk of the one that it is held against.
    named = references(case.message.text)
    of_another = bool(answer.ref and named) and answer.ref not in (*named, reading.trench)
    # And what was spoken of too long ago to be meant then is not meant for being asked about.
    fresh = case.context.fresh
    last = fresh.trench if fresh and not (of_several or of_another) else None
    locked = answer.locked_until or (before.codes_locked_until if before else None)
    return Thread(
        sender=case.message.sender,
        at=max(case.at, before.at) if before else case.at,
        trench=(None if of_texts or of_another else answer.ref) or last,
        asked=_asked(case, answer),
        held=_held(case, answer),
        held_at=_held_at(case, answer),
        language=case.heard.manner.language,
        lengths=case.heard.manner.lengths or (before.lengths if before else None),
        pressure=case.heard.manner.pressure or (before.pressure if before else None),
        reply=answer.text,
        marked_at=case.context.now if marks else before.marked_at if before else None,
        code=answer.code or (keeps.code if keeps else None),
        code_until=answer.code_until or (keeps.code_until if keeps else None),
        code_trench=answer.ref if answer.code else keeps.code_trench if keeps else None,
        opening=answer.opening if answer.code else keeps.opening if keeps else None,
        wrong_codes=answer.wrong_codes
        if answer.wrong_codes is not None
        else before.wrong_codes
        if before
        else 0,
        codes_locked_until=locked if locked and locked > case.context.now else None,
        proposals=_proposals(case, answer),
        listed=answer.listed if answer.listed is not None else (before.listed if before else ()),
        listed_at=case.context.now if answer.listed is not None else before.listed_at if before else None,
    )


def _proposals(case: Case, answer: Answer) -> tuple[Proposal, ...]:
    """What stands asked with YES. A new question about a trench takes the place of an older one about it, and
    none outlives a text of its sender that tells of anything against entry, or another question of ours."""
    before = case.context.thread.proposals if case.context.thread else ()
    if answer.proposals is None:
        return before if since.calm(case.heard.reading) and not answer.asked else ()
    asked = {one.trench for one in answer.proposals}
    gone = {answer.ref} | asked
    return (*(one for one in before if one.trench not in gone), *answer.proposals)


def _asked(case: Case, answer: Answer) -> tuple[str, ...]:
    """What the sender is asked. What is reported meanwhile answers no question: the last one still stands."""
    before = case.context.fresh
    stands = before is not None and isinstance(answer.outcome, Noted) and answer.ref == before.trench
    return answer.asked or (before.asked if before is not None and stands else ())


def _held(case: Case, answer: Answer) -> str:
    """The text that is asked about; asked the same again, it is still the first."""
    before = case.context.fresh
    if before and before.held and _asked(case, answer) == before.asked:
        return before.held
    return case.message.text if answer.asked else ""


def _held_at(case: Case, answer: Answer) -> datetime | None:
    """When the text that is asked about came."""
    before = case.context.fresh
    if before and before.held and _asked(case, answer) == before.asked:
        return before.held_at
    return case.context.now
