"""What is asked for and told: why, status, help, closing, the last answer once more."""

from dataclasses import replace

from bot.dialogue import replies
from bot.dialogue.answers.answer import Answer, Case
from bot.dialogue.answers.report import which
from knowledge.entry.next_step import next_step
from knowledge.outcome import Entry, Sized, Stop, Told, Unclear
from knowledge.reading import Reading
from knowledge.record.trench import Event, Trench, details, merged, renamed
from knowledge.sizing.load_list import load_list
from knowledge.sizing.size import size


def help_with(case: Case) -> Answer:
    text = case.pen.say("help")
    return Answer(Told(about="help", lines=(text,)), text, case.place.ref)


def unclear(case: Case) -> Answer:
    """Nothing was understood; a picture or a voice message brings no words at all,
    and what was asked stays asked."""
    if case.message.text.strip():
        return Answer(Unclear(why="not understood"), case.pen.say("unclear"), case.place.ref)
    asked = case.context.fresh.asked if case.context.fresh else ()
    return Answer(Unclear(why="no words"), case.pen.say("no-words"), case.place.ref, asked=asked)


def again(case: Case) -> Answer:
    """The last answer once more: a reply that was lost on the way is invisible from here."""
    thread = case.context.thread
    text = thread.reply if thread and thread.reply else case.pen.say("again-none")
    asked = thread.asked if thread else ()
    return Answer(Told(about="again", lines=(text,)), text, case.place.ref, asked=asked)


def status(case: Case) -> Answer:
    """Every open trench of the site, hazards first, in one reply."""
    if case.heard.reading.trench and case.place.trench:
        outcome = case.entry(case.place.trench)
        return Answer(outcome, replies.entry(case.pen, outcome), case.place.ref)
    trenches = [case.context.trenches[ref] for ref in case.context.trenches]
    if not trenches:
        text = case.pen.say("status-none")
        return Answer(Told(about="status", lines=(text,)), text)
    judged = sorted(((t, case.entry(t)) for t in trenches), key=lambda each: _rank(*each))
    lines = [
        case.pen.say("status", trench=trench.ref, state=_state(case, trench, outcome))
        for trench, outcome in judged
    ]
    return Answer(Told(about="status", lines=tuple(lines)), replies.listed(case.pen, lines))


def _rank(trench: Trench, outcome: Entry) -> tuple[bool, bool, str]:
    return not trench.now.hazards, outcome.entry == "may", trench.ref


def _state(case: Case, trench: Trench, outcome: Entry) -> str:
    pen = case.pen
    if trench.now.hazards:
        return pen.say(
            "state-hazard", hazards=", ".join(pen.sayings.term(h.kind) for h in trench.now.hazards)
        )
    if outcome.entry == "may" and outcome.until:
        return pen.say("state-may", until=pen.time(outcome.until))
    facts = list(dict.fromkeys(m.fact for m in outcome.missing))
    more = f" +{len(facts) - 2}" if len(facts) > 2 else ""
    return pen.say("state-no", missing=", ".join(pen.sayings.term(f) for f in facts[:2]) + more)


def why(case: Case) -> Answer:
    """On what ground: what governed the sizing, or what stands in the way."""
    trench = case.place.trench
    if trench is None:
        return _nowhere(case)
    outcome = size(details(trench), case.tables, trench.rulebook, trench.kit)
    if isinstance(outcome, Sized):
        lines = replies.grounds(case.pen, outcome)
    elif isinstance(outcome, Stop):
        lines = [case.pen.sayings.sentence(refusal, case.pen.lengths) for refusal in outcome.stop]
    else:
        lines = [case.pen.question(outcome.questions[0], details(trench))]
    return Answer(
        Told(about="why", trench=trench.ref, lines=tuple(lines)),
        replies.fit([f"{trench.ref}:", *lines]),
        trench.ref,
    )


def steps(case: Case) -> Answer:
    """The next step of the dig or of the taking out, or what must be on record before it."""
    trench = case.place.trench
    if trench is None:
        return _nowhere(case)
    pen = case.pen
    following = next_step(trench, case.context.now, case.tables, case.shift)
    if following.step:
        lines = [pen.say("next", trench=trench.ref, step=pen.sayings.sentence(following.step, pen.lengths))]
    elif following.missing:
        wanted = [pen.sayings.sentence(m, pen.lengths) for m in following.missing]
        lines = [pen.say("next-not-yet", trench=trench.ref), *wanted]
    else:
        lines = [pen.say("next-none", trench=trench.ref)]
    told = Told(about="steps", trench=trench.ref, lines=tuple(lines))
    return Answer(told, replies.fit(lines), trench.ref)


def kit(case: Case) -> Answer:
    """What to load: for the trench spoken of, or for every open one that is sized."""
    chosen = [case.place.trench] if case.place.trench else list(case.context.trenches.values())
    planned = [(t, t.plan) for t in chosen if t and t.plan]
    kits = {plan.kit for _, plan in planned}
    if not planned:
        return _nowhere(case)
    if len(kits) > 1:
        return which(case)
    load = load_list(
        [(plan, details(t)) for t, plan in planned], case.tables.kits[kits.pop()], case.tables.lifting
    )
    refs = ", ".join(t.ref for t, _ in planned)
    lines = case.pen.load(refs, load)
    told = Told(about="kit", trench=refs if len(planned) == 1 else None, lines=tuple(lines))
    return Answer(told, replies.fit(lines), case.place.ref)


def sketch(case: Case) -> Answer:
    """Where the units go, level by level along the trench, as the plan in force has them."""
    trench = case.place.trench
    if trench is None:
        return _nowhere(case)
    if trench.plan is None or not trench.now.holds:
        return Answer(
            Unclear(why="no plan in force"), case.pen.say("sketch-none", trench=trench.ref), trench.ref
        )
    lines = replies.sketch(case.pen, trench.ref, trench.plan)
    told = Told(about="sketch", trench=trench.ref, lines=tuple(lines))
    text = replies.fit(lines, last=case.context.sketch_link)
    return Answer(told, text, trench.ref, sketched=trench)


def close(case: Case) -> Answer:
    """Closing a trench in which units are still on record is refused."""
    trench = case.place.trench
    if trench is None:
        return _nowhere(case)
    if not case.may("close"):
        text = case.pen.say("not-your-part", name=case.person.name)
        return Answer(Unclear(why=f"not for the {case.person.role}"), text, trench.ref)
    if trench.now.shores.standing:
        text = case.pen.say("close-first", trench=trench.ref, units=str(trench.now.shores.standing))
        return Answer(Unclear(why="units still in"), text, trench.ref)
    text = case.pen.say("closed", trench=trench.ref)
    return Answer(Told(about="close", trench=trench.ref, lines=(text,)), text, trench.ref, (case.told(),))


def rename(case: Case) -> Answer:
    """Two references for one trench: from now on it has the second."""
    old, new = case.place.trench, case.heard.reading.same_as
    if old is None or new is None:
        return _nowhere(case)
    if new in case.context.closed:
        text = case.pen.say("rename-closed", trench=new)
        return Answer(Unclear(why="a closed reference"), text, old.ref)
    other = case.context.trenches.get(new)
    if other and (other.site, other.rulebook, other.kit) != (old.site, old.rulebook, old.kit):
        text = case.pen.say("merge-not", trench=new, other=old.ref)
        return Answer(Unclear(why="not on the same terms"), text, old.ref)
    record = merged(other, old, case.tables) if other else renamed(old, new)
    gone = case.told(_closing(case), old)
    text = case.pen.say("merged" if other else "renamed", trench=new, other=old.ref)
    return Answer(Told(about="status", trench=new, lines=(text,)), text, new, (gone, record))


def _closing(case: Case) -> Event:
    return replace(case.event(), reading=Reading(purpose="close"))


def _nowhere(case: Case) -> Answer:
    """No such trench on record, or no telling which is meant."""
    if case.place.candidates:
        return which(case)
    return Answer(Unclear(why="no trench on record"), case.pen.say("no-trench"), None)
