"""What words alone hold entry back: texts nobody understood, stops, danger that no phrase names.

Each is ended by a later event only, sent after it and come in after it: nobody can have answered for words
that they had not seen. What ends one never rests on words left over.
"""

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

from knowledge.reading import NEEDED, Done, Hazard, Reading
from knowledge.record.moves import only_told
from knowledge.record.state import Event, OpenText, Possible, Quoted, Stopped, ToldBy, TrenchState
from knowledge.tables.entry_rules import EntryRules, Role

_SEEN_ENOUGH: Role = "fitter"  # whose stop a supervisor lifts by SEEN; any other's wants an inspection
_OTHER: Hazard = "other"  # what DANGER is read as
_QuotedT = TypeVar("_QuotedT", bound=Quoted)


def inspects(event: Event, rules: EntryRules) -> bool:
    """Whether this is an inspection that counts: by the competent person, of the trench as it is now, found
    safe, in a text of which every part is accounted for and in which nothing speaks against it."""
    reading = event.reading
    return (
        rules.may(event.role, "inspect")
        and not event.lapsed
        and reading.whole
        and "inspection" in reading.done
        and reading.verdict == "safe"
        and not event.open_text
        and not (reading.hazards or reading.possible_hazard or reading.undone or reading.proposed)
        and not (reading.questions or reading.purpose == "stop" or "units out" in reading.done)
        and reading.water not in ("seeping", "standing")
        and reading.face not in ("ravelling", "running")
        and reading.ends != "open"
    )


def answered(state: TrenchState, event: Event, rules: EntryRules) -> TrenchState:
    """What this event ends of all that words held back; an inspection ends more (`inspected`).

    Open texts end where their sender says it otherwise and that is taken, or says to ignore them. A
    question or chat says nothing otherwise, and of a sizing that was not read in full no report of what is
    done and no answer of one figure does.
    """
    reading = event.reading
    if not reading.whole or event.open_text:
        return state
    supervises = rules.may(event.role, "inspect") and not event.lapsed
    seen = set(event.seen) if supervises else set()
    anew = reading.purpose == "size" or (reading.purpose == "report" and not only_told(reading))
    taken = anew and rules.may(event.role, "tell")
    answers = reading.purpose == "stop" or reading.answer in ("ignore", "yes")
    described = _described(reading)

    def spoken_for(each: OpenText) -> bool:
        said_anew = answers or (taken and (described or not each.sizing))
        return each.said.event in seen or (said_anew and each.number == event.number)

    def lifted(each: Stopped) -> bool:
        return each.said.event in seen and each.said.role == _SEEN_ENOUGH

    def safe(each: Possible) -> bool:
        if reading.answer != "all safe":
            return False
        mild = each.danger < rules.figure.all_safe_below.value and state.inspected is None
        return supervises or (mild and each.number == event.number)

    def now_a_hazard(each: Possible) -> bool:
        return _OTHER in reading.hazards and each.number == event.number

    ended = tuple(each for each in state.possible if safe(each) and _before(each, event))
    turned = tuple(each for each in state.possible if now_a_hazard(each) and _before(each, event))
    return replace(
        state,
        open_texts=_left(state.open_texts, (t for t in state.open_texts if spoken_for(t)), event),
        stopped=_left(state.stopped, (s for s in state.stopped if lifted(s)), event),
        possible=_left(state.possible, (*ended, *turned), event),
        doubted=(*state.doubted, *ended),
    )


def inspected(state: TrenchState, event: Event) -> TrenchState:
    """What an inspection that counts ends: every stop and every possible danger, whose words stand beside the
    next `may` until the inspection after it. Open texts want more: that their words were shown (`seen`)."""
    possible = _left(state.possible, state.possible, event)
    lifted = tuple(each for each in state.possible if each not in possible)
    return replace(
        state, stopped=_left(state.stopped, state.stopped, event), possible=possible, doubted=lifted
    )


def begun(state: TrenchState, event: Event, said: ToldBy, rules: EntryRules) -> TrenchState:
    """What this event holds back from now on."""
    reading, came = event.reading, event.came or 0
    if event.open_text:
        sizing = reading.purpose == "size" and event.offered is None
        new_text = OpenText(said, event.number, event.words, came, event.heard, sizing)
        state = replace(state, open_texts=(*state.open_texts, new_text))
    stops = (
        reading.purpose in ("stop", "strip") or reading.verdict == "not safe"
    )  # nobody in while units come out
    if stops and rules.may(event.role, "look"):
        state = replace(
            state, stopped=(*state.stopped, Stopped(said, event.number, event.words, came, event.heard))
        )
    if reading.possible_hazard and _OTHER not in reading.hazards:
        danger = 1.0 if reading.danger is None else reading.danger
        new = Possible(said, event.number, event.words, came, event.heard, danger)
        state = replace(state, possible=(*state.possible, new))
    return state


def known(state: TrenchState, what: Done, rules: EntryRules) -> bool:
    """Whether something that can be told done is on record."""
    if what == "inspection":
        return state.inspected is not None
    if what == "units set":
        return state.shores.complete
    return rules.done[what] in state.said


def all_known(state: TrenchState, offered: Reading, rules: EntryRules) -> bool:
    """Whether all that a text seems to report is on record already: then the words left over beside it are
    what the text is about."""
    values = {
        "depth_m": (state.dug_m or 0.0) >= (offered.depth_m or 0.0),
        "spoil_m": "spoil" in state.said,
        "water": "water" in state.said,
        "gauges": not offered.gauges,  # a gauge is news whenever it is read
    }
    told = [so for name, so in values.items() if getattr(offered, name) is not None]
    return all([*told, *(known(state, what, rules) for what in offered.done)])


def _described(reading: Reading) -> bool:
    """Whether the trench is told anew in full, or something that lies or stands at it."""
    met = reading.services or reading.beside or reading.plant_m is not None or reading.traffic is not None
    return bool(met) or all(getattr(reading, name) is not None for name in NEEDED)


def _before(each: Quoted, event: Event) -> bool:
    """Whether it had come in when this event did, and when it was sent, unless both are of one sender; that
    it was sent before is the order of the record."""
    own = each.number == event.number
    return each.came < (event.came or 0) and (own or each.heard <= event.at)


def _left(every: tuple[_QuotedT, ...], ended: Iterable[_QuotedT], event: Event) -> tuple[_QuotedT, ...]:
    gone = [each for each in ended if _before(each, event)]
    return tuple(each for each in every if each not in gone)
