"""The dig has moved on: another run of the same trench."""

from math import ceil

from bot.dialogue import replies
from bot.dialogue.answers.base import Answer, Case, told_of
from bot.dialogue.answers.spread import still_in
from knowledge.outcome import Noted, Sized
from knowledge.reading import Purpose
from knowledge.record.runs import coming, details_of_next, not_filled
from knowledge.sizing.size import size

PURPOSE: Purpose = "moved"
SAME = 1e-6  # of a run: what a division may leave over


def answer(case: Case) -> Answer:
    """Begin the next run by the figures of the last; nothing told of that one counts for this."""
    trench = told_of(case)
    if isinstance(trench, Answer):
        return trench
    pen, run_m = case.pen, case.heard.reading.run_m
    run = coming(trench.now, run_m)
    known = details_of_next(trench.now, run_m)
    outcome = size(known, case.tables, trench.rulebook, trench.kit)
    sized = outcome if isinstance(outcome, Sized) else None
    record = case.told(
        case.event(plan=sized, sized_on=known if sized else None, stopped=sized is None), trench
    )
    units = sized.units if sized and sized.units is not None else "?"
    said = [
        pen.say("run", trench=record.ref, run=str(run.number), start=pen.along(run.start_m),
                end=pen.along(run.end_m), units=str(units)),
        *still_in(pen, [record]),
        pen.say("run-arrived", units=str(trench.now.shores.standing)) if trench.now.shores.standing else "",
        *(pen.say("run-filled", run=str(each.number)) for each in not_filled(record.now)[-1:]),
        *replies.before_entry(pen, case.entry(record), allows=case.may("allow")),
    ]  # fmt: skip
    noted = Noted(trench=record.ref, noted=(said[0],))
    return Answer(noted, replies.fit(said), record.ref, (record,))


def by_runs(case: Case) -> Answer:
    """How much is opened at a time: the plan is of one run, and it is told how many make the whole."""
    trench, run_m = told_of(case), case.heard.reading.run_m
    if isinstance(trench, Answer):
        return trench
    assert run_m is not None
    pen, whole = case.pen, trench.now.details.length_m
    known = trench.now.whole.model_copy(update={"length_m": run_m})
    outcome = size(known, case.tables, trench.rulebook, trench.kit)
    sized = outcome if isinstance(outcome, Sized) and trench.plan is not None else None
    record = case.told(case.event(plan=sized, sized_on=known if sized else None), trench)
    said = [pen.say("noted", trench=record.ref, facts=", ".join(pen.facts(case.heard.reading)))]
    if sized and sized.units is not None:
        said.append(pen.say("runs-of", units=str(sized.units), run=pen.told(run_m)))
    if whole and whole > run_m:
        said.append(pen.say("runs-many", runs=str(ceil(whole / run_m - SAME)), length=pen.told(whole)))
    said += replies.before_entry(pen, case.entry(record), allows=case.may("allow"))
    return Answer(Noted(trench=record.ref, noted=(said[0],)), replies.fit(said), record.ref, (record,))
