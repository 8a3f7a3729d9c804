"""Trench details told: ask for what is missing, refuse, or size."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case
from bot.dialogue.answers.entry import kit_examined
from bot.dialogue.answers.unsure import HALF, propose
from knowledge.outcome import Ask, Sized, Stop
from knowledge.reading import Details, Purpose, Reading, details_of
from knowledge.record.trench import Trench, details
from knowledge.sizing.size import size

PURPOSE: Purpose = "size"


def answer(case: Case) -> Answer:
    """Size the trench as told so far, this message included.

    A figure that this message left in doubt is asked about, and no earlier one stands in for it. Until a
    sizing comes of the message no plan is in force. Who may not tell about a trench gets an answer on
    the figures alone, and nothing goes on record.
    """
    if not case.may("tell"):
        told = details_of(case.heard.reading)
        outcome = size(told, case.tables, case.site.rulebook, case.record.kit)
        return _answer(case, outcome, told, unread=bool(case.heard.reading.unread))
    if dug := _dug_to_its_plan(case):
        return dug
    known = details(case.told())
    doubtful = tuple(q for q in case.heard.doubtful if q in Details.model_fields)
    unread = case.heard.reading.unread
    if doubtful:
        # What stops it whatever the figure in doubt comes to, stops it before anything is asked.
        untold = {name: Details.model_fields[name].get_default() for name in doubtful}
        first = size(known.model_copy(update=untold), case.tables, case.record.rulebook, case.record.kit)
        # The figures asked about are not read either: only a word beside them is held open.
        strange = any(word.isalpha() for word in unread)
        asked = first if isinstance(first, Stop) else Ask(questions=doubtful)
        event = case.event(stopped=True, open_text=strange)
        return _answer(case, asked, known, case.told(event), strange)
    outcome = size(known, case.tables, case.record.rulebook, case.record.kit)
    if isinstance(outcome, Sized):
        event = case.event(plan=outcome, sized_on=known, open_text=bool(unread))
    else:
        event = case.event(stopped=True, open_text=bool(unread))
    return _answer(case, outcome, known, case.told(event), bool(unread))


def _dug_to_its_plan(case: Case) -> Answer | None:
    """ "1.6 deep in T7 now, taped it": a plan's own depth, told alone, is as like as not how deep it is dug.

    Where the second reader hears no sizing in it either, that is asked; nothing is sized anew. So it is where
    it hears what was dug in "last of the clay is out, depth 1.6".
    """
    if case.place.trench is None:
        return None  # a closed one that is used again begins anew
    reading, now = case.heard.reading, case.record.now
    told = {name for name, value in details_of(reading).model_dump(exclude_defaults=True).items() if value}
    depth, planned = reading.depth_m, now.planned.depth_m if now.planned and now.plan else None
    told -= {"soil"} if reading.about == "gap below" else set()
    if told != {"depth_m"} or depth is None or planned is None or round(depth, 3) > round(planned, 3):
        return None
    if (now.dug_m is not None and now.dug_m >= depth) or (reading.agreed or 0.0) >= HALF:
        return None
    return propose(case, Reading(purpose="report", trench=reading.trench, depth_m=depth))


def _answer(
    case: Case,
    outcome: Ask | Stop | Sized,
    known: Details,
    record: Trench | None = None,
    unread: bool = False,
) -> Answer:
    ref = case.place.ref or ""
    pen, manner = case.pen, case.heard.manner
    notes = case.notes(record) if record else []
    asked: tuple[str, ...] = ()
    strange = pen.say("not-read", words=" ".join(case.heard.reading.unread)[:40]) if unread else ""
    if isinstance(outcome, Sized):
        asked = outcome.questions
        first = " ".join(part for part in (strange, *kit_examined(case)) if part)
        text = replies.sized(pen, outcome, ref, known, manner, first=first, notes=notes)
    elif isinstance(outcome, Ask):
        asked = outcome.questions
        unsure = asked[0] in case.heard.doubtful and asked[0].endswith("_m")
        text = replies.fit([strange, *replies.ask(pen, outcome, ref, known, manner, unsure), *notes])
    else:
        text = replies.stop(pen, outcome, ref, known, manner, [*([strange] if strange else []), *notes])
    return Answer(outcome, text, ref, (record,) if record else (), asked=asked)
