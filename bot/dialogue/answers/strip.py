"""Taking the units out: asked of the competent person before the first is released, and in its order."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, told_of
from bot.dialogue.answers.spread import named, news_to, still_in, supervisors
from bot.dialogue.replies import ReplyWriter
from knowledge.entry.next_step import first_out
from knowledge.outcome import Noted
from knowledge.reading import Purpose
from knowledge.record.trench import Trench

PURPOSE: Purpose = "strip"


def answer(case: Case) -> Answer:
    """From the competent person it says that the units may come out; from anybody else it asks them."""
    trench = told_of(case)
    if isinstance(trench, Answer):
        return trench
    record = case.told()
    said = case.may("inspect")
    key, told = ("strip", "strip-news") if said else ("strip-asked", "strip-ask")

    def news(pen: ReplyWriter) -> str:
        sentence = pen.say(told, trench=named(record), name=case.person.name)
        return " ".join([sentence, *(first(pen, case, record) if said else ())])

    lines = [case.pen.say(key, trench=record.ref), *still_in(case.pen, [record])]
    lines += first(case.pen, case, record) if said else []
    numbers = record.now.told if said else supervisors(case)
    alerts = news_to(case, numbers, news)
    noted = Noted(trench=record.ref, noted=(lines[0],))
    return Answer(noted, replies.fit(lines), record.ref, (record,), alerts)


def first(pen: ReplyWriter, case: Case, record: Trench) -> list[str]:
    """The first step of the taking out: for who may begin, and nobody else."""
    step = first_out(record, case.tables)
    return [pen.catalog.sentence(step, pen.lengths)] if step else []


def out_of_order(case: Case, before: Trench, record: Trench) -> list[str]:
    """What is wrong with units told to be out: a level above one that still stands, or out before the
    competent person said so."""
    if record.now.shores.standing >= before.now.shores.standing:
        return []
    said = []
    old, new = before.now.shores, record.now.shores
    if len(old.layout) == len(new.layout):
        gone = [i for i in range(len(new.layout)) if old.holds_at(i) and not new.holds_at(i)]
        lower = [i for i in range(len(new.layout)) if new.holds_at(i) and gone and i > min(gone)]
        if lower:
            said.append(case.pen.say("strip-order", trench=record.ref, level=str(max(lower) + 1)))
    if before.now.strip is None and not case.may("inspect") and "units out" in case.heard.reading.done:
        said.append(case.pen.say("strip-unasked", trench=record.ref))
    return said
