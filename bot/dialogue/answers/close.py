"""Closing a trench."""

from bot.dialogue.answers.base import Answer, Case, not_your_part, nowhere
from bot.dialogue.answers.unsure import open_text
from knowledge.outcome import Told, Unclear
from knowledge.reading import Purpose
from knowledge.record.runs import not_filled
from knowledge.record.trench import Trench

PURPOSE: Purpose = "close"


def answer(case: Case) -> Answer:
    """Closing a trench in which units are still on record is refused."""
    trench = case.place.trench
    if trench is None:
        return nowhere(case)
    if not case.heard.reading.whole:
        return open_text(case)
    if not case.may("close"):
        return not_your_part(case)
    if trench.now.shores.standing:
        text = case.pen.say("close-first", trench=trench.ref, units=str(trench.now.shores.standing))
        return Answer(Unclear(why="units still in"), text, trench.ref)
    if left := _left_to_do(case, trench):
        return Answer(Unclear(why="not filled, or somebody in"), left, trench.ref)
    text = case.pen.say("closed", trench=trench.ref)
    return Answer(Told(about="close", trench=trench.ref, lines=(text,)), text, trench.ref, (case.told(),))


def _left_to_do(case: Case, trench: Trench) -> str:
    """What keeps a trench from being closed: people in, a run left open, a hole that nobody told filled."""
    now, pen = trench.now, case.pen
    if now.heads:
        return pen.say("were-in", trench=trench.ref, heads=str(now.heads))
    if open_runs := not_filled(now):
        return pen.say("close-run", trench=trench.ref, run=", ".join(str(run.number) for run in open_runs))
    opened = any(state.dug_m is not None or state.shores.standing for state in trench.states)
    if opened and "backfill" not in now.said and not now.runs:
        return pen.say("close-filled", trench=trench.ref)
    last_run_open = now.runs and (now.dug_m is not None or now.shores.standing) and "backfill" not in now.said
    return pen.say("close-filled", trench=trench.ref) if last_run_open else ""
