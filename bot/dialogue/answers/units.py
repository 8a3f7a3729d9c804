"""Units that move: out of one trench and beside the next, changed, tagged out, cleared. What stands where."""

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, told_of
from bot.dialogue.answers.spread import alarm, named, news_to, still_in, supervisors
from bot.dialogue.replies import ReplyWriter
from bot.message import Alert
from knowledge.outcome import Noted, Told
from knowledge.reading import TAKING, Reading, UnitsMoved
from knowledge.record.in_ground import in_ground
from knowledge.record.trench import Trench, told


def answer(case: Case) -> Answer:
    """Take the units from the trench that they left; where they went they have arrived, and are not set."""
    moved = case.heard.reading.moved
    assert moved is not None
    trench = told_of(case, "inspect" if moved.how == "cleared" else "tell")
    if isinstance(trench, Answer):
        return trench
    record = case.told()
    to = _arrived(case, moved)
    pen, n = case.pen, str(moved.n or 1)
    blanks = {
        "trench": record.ref,
        "units": n,
        "unit": str(moved.unit or "?"),
        "other": case.heard.reading.to or "?",
    }
    key = f"units-{moved.how}"
    said = [pen.say(key, **blanks)]
    if moved.how == "carried":
        said.append(pen.say("units-there" if to else "no-trench-named", trench=blanks["other"], units=n))
    if moved.how == "changed" and record.plan:
        said.append(pen.say("units-as-planned", strut=pen.catalog.term(f"strut {record.plan.strut.size}")))
    if moved.how in TAKING:
        said += still_in(pen, [record])
    said += replies.before_entry(pen, case.entry(record), allows=case.may("allow"))
    alerts = _alerts(case, record, moved, blanks) if moved.how in TAKING else ()
    outcome = Noted(trench=record.ref, noted=(said[0],))
    return Answer(outcome, replies.fit(said), record.ref, (record, *([to] if to else [])), alerts)


def _alerts(case: Case, record: Trench, moved: UnitsMoved, blanks: dict[str, str]) -> tuple[Alert, ...]:
    """Everyone out where somebody is in; else the supervisors are told. A leave that ends has its alarm."""

    key, blanks = f"units-{moved.how}", blanks | {"trench": named(record)}

    def news(pen: ReplyWriter) -> str:
        return pen.say(key, **blanks)

    if record.now.heads:
        return alarm(case, [record], news)
    return news_to(case, supervisors(case), news)


def _arrived(case: Case, moved: UnitsMoved) -> Trench | None:
    """The trench that units were carried to, with them beside it."""
    ref = case.heard.reading.to
    trench = case.context.trenches.get(ref or "")
    if ref is None or trench is None:
        return None
    there = UnitsMoved(how="arrived", n=moved.n)
    event = case.event(Reading(purpose="report", trench=ref, moved=there))
    return told(trench, event, case.tables)


def in_the_ground(case: Case) -> Answer:
    """Which units stand where, since when; what lies beside, and what is tagged out."""
    pen, now = case.pen, case.context.now
    lines = []
    for trench in case.context.trenches.values():
        held = in_ground(trench)
        parts = []
        if held.units:
            since = case.shift.clock(held.since, now) if held.since else "?"
            parts.append(pen.say("ground-set", units=str(held.units), since=since))
        if held.left_behind:
            parts.append(pen.say("ground-left", units=str(held.left_behind)))
        if held.beside:
            parts.append(pen.say("ground-beside", units=str(held.beside)))
        if held.tagged:
            parts.append(pen.say("ground-tagged", units=str(held.tagged)))
        if parts:
            lines.append(f"{trench.ref} {', '.join(parts)}")
    text = replies.listed(pen, lines, len(lines)) if lines else pen.say("ground-none")
    return Answer(Told(about="kit", lines=tuple(lines)), text, None)
