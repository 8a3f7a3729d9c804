"""What is said of what: the facts of the vocabulary, found clause by clause."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import takewhile

from bot.language.said import Group, Said
from bot.language.said import said as meaning
from bot.language.schema import REF, Statement
from bot.reading.text.clauses import Clause
from bot.reading.text.spans import Span

LOOSE = frozenset(
    ("side", "people", "persons", "it_t", "number", REF)
)  # things that another may be said past
REPORTED = frozenset(("end_t", "ladder", "spoil_t", "service", "air_t", "inspection"))  # things of reports
OTHER_THINGS = frozenset(("gauge_t", "plant_t", "ladder", "fluid_t", "air_t", "spoil_t"))
PARTS = frozenset(("end_t", "face_t", "edge_t", "unit_t", "level", "top", "bottom", "part"))  # of a trench
WEATHER = (meaning("hazard rain"), meaning("hazard frost"))
INSPECTED = meaning("done inspection")
TO_GO_IN = meaning("purpose entry")
TO_KNOW = meaning("purpose status")
STRUCK = meaning("hazard strike")
WHOLE = (meaning("done ladder"), INSPECTED, meaning("done air test"))  # never done in part


@dataclass(slots=True)
class Found:
    """Everything the facts of a message mean, in order of meaning, before it is put into a reading."""

    meanings: list[Said] = field(default_factory=list)
    groups: dict[Group, list[str]] = field(default_factory=dict)
    counted: int = 0

    def of(self, group: Group) -> list[str]:
        """The meanings of one group ("hazard", "done"), each once."""
        if len(self.meanings) != self.counted:
            self.groups.clear()
            for said in dict.fromkeys(self.meanings):
                self.groups.setdefault(said.group, []).append(said.what)
            self.counted = len(self.meanings)
        return list(self.groups.get(group, ()))


def find(clauses: list[Clause]) -> Found:
    """The facts that a message states."""
    found = Found()
    before: Span | None = None
    for clause in clauses:
        before = _of_clause(clause, before, found)
    return found


def _of_clause(clause: Clause, before: Span | None, found: Found) -> Span | None:
    """The facts of one clause. `before` is the only thing of the clause before of which nothing was said yet;
    gives back the same of this clause."""
    pieces = clause.pieces
    things: list[int] = []
    states: list[int] = []
    for at, piece in enumerate(pieces):
        if piece.tags.thing:
            things.append(at)
        if piece.tags.said:
            states.append(at)
    own = [
        at for at in things if LOOSE.isdisjoint(pieces[at].tags) or not REPORTED.isdisjoint(pieces[at].tags)
    ]
    subjects = [at for at in own if not _by_machine(pieces, at)]
    if before is not None and states and not subjects and not any(pieces[at].told for at in things):
        _carried(clause, before, states, found)
        return None
    if not (things or states):
        return None
    taken: set[int] = set()
    for at in states:
        facts = pieces[at].tags.facts
        pair = _pair(pieces, at, things, facts)
        if pair is not None:
            fact, thing = pair
            for each in _joined(pieces, thing, things, fact):
                taken.add(each)
                _say(fact, pieces[each], pieces[at], clause, found)
        for fact in facts:
            if not fact.thing and not _of_a_thing(fact, pieces[:at], pieces[at], pieces[at + 1 : at + 3]):
                _say(fact, None, pieces[at], clause, found)
    for at in things:
        for fact in pieces[at].tags.facts:
            if not fact.state and (at not in taken or fact.means):
                _say(fact, pieces[at], None, clause, found)
    untold = [pieces[at] for at in own if not pieces[at].told]
    alone = len(untold) == 1 and not any(pieces[at].told for at in (*own, *states)) and not clause.question
    return untold[0] if alone and untold[0].state in ("", "asked") else None


def _by_machine(pieces: list[Span], at: int) -> bool:
    """ "both sloped back with the digger": what it was done with."""
    led = next((one for one in reversed(pieces[:at]) if one.text not in ("the", "a")), None)
    return "plant_t" in pieces[at].tags and led is not None and led.text in ("with", "w", "by")


def _carried(clause: Clause, thing: Span, states: list[int], found: Found) -> None:
    """ "tick off the ladder, its in and tied": what is said of the thing of the clause before."""
    for at in states:
        if clause.pieces[at].tags.state:
            continue  # "units ... 6 m long, loose sand": the sand is
        for fact in clause.pieces[at].tags.facts:
            if fact.thing and not thing.tags.isdisjoint(fact.thing):
                thing.state = clause.pieces[at].state
                _say(fact, thing, clause.pieces[at], clause, found)
            elif not fact.thing:
                _say(fact, None, clause.pieces[at], clause, found)


def _of_a_thing(fact: Statement, before: list[Span], here: Span, after: list[Span]) -> bool:
    """ "going in" by itself is people going in, but not where a thing before it does; "checked the gauges" is
    no inspection of the trench."""
    if INSPECTED in fact.means:
        at_once = takewhile(lambda piece: "and" not in piece.tags, after)
        return any(
            (piece.figure is not None and piece.figure.kind == "length")
            or not (OTHER_THINGS | PARTS).isdisjoint(piece.tags)
            for piece in at_once
        )
    if TO_GO_IN not in fact.means:
        return False
    if "dig_down" in here.tags and any(piece.figure is not None for piece in after[:1]):
        return True  # "going down 1.6"
    things = [piece for piece in before if piece.tags.thing and REF not in piece.tags]
    return bool(things) and not {"people", "persons"} & set(things[-1].tags)


def _pair(
    pieces: list[Span], at: int, things: list[int], facts: tuple[Statement, ...]
) -> tuple[Statement, int] | None:
    """The nearest thing that the state at a place can be said of, those before it first."""
    composed = [fact for fact in facts if fact.thing and fact.state]
    if not composed:
        return None
    near = sorted((thing for thing in things if thing != at), key=lambda thing: (abs(thing - at), thing > at))
    blocked = [False, False]
    for thing in near:
        if abs(thing - at) > 9:
            return None
        if blocked[thing > at]:
            continue
        for fact in composed:
            if fact.after and not 0 < at - thing <= 3:
                continue
            if not pieces[thing].tags.isdisjoint(fact.thing):
                return fact, thing
        blocked[thing > at] = pieces[thing].tags.isdisjoint(LOOSE)
    return None


def _joined(pieces: list[Span], thing: int, things: list[int], fact: Statement) -> list[int]:
    """The thing and those joined to it by "and" that the same fact can be said of."""
    group = [thing]
    at = thing
    while at - 2 in things and not {"and", "or"}.isdisjoint(pieces[at - 1].tags):
        at -= 2
        group.append(at)
    return [each for each in group if not set(fact.thing).isdisjoint(pieces[each].tags)]


def _say(fact: Statement, thing: Span | None, state: Span | None, clause: Clause, found: Found) -> None:
    under = {piece.state for piece in (thing, state) if piece is not None}
    if "denied" in under:
        if any("elsewhere" in piece.tags for piece in clause.pieces):
            return  # "no water yesterday" says nothing of today
        found.meanings.extend(fact.denied)
        _mark(fact.denied, thing, state)
        return
    means = [said for said in fact.means if _holds(said, under, clause)]
    tells = fact.means[0].group if fact.means else None
    if "asked" in under and "open" in clause.pieces[0].tags and tells == "done":
        means = [*means, TO_KNOW]  # "is the ladder in?" asks what is on record
    if (
        state is not None
        and "back_only" in state.tags
        and any(piece.figure is not None for piece in clause.pieces)
    ):
        return  # "spoil 1.5 back" is a distance, nothing done
    found.meanings.extend(means)
    _mark(means, thing, state)


def _mark(means: Sequence[Said], thing: Span | None, state: Span | None) -> None:
    for piece in (thing, state):
        if piece is not None and means:
            piece.told = True
            piece.says = (*piece.says, *means)


def _holds(said: Said, under: set[str], clause: Clause) -> bool:
    """Whether a meaning holds where it is asked, supposed or planned."""
    if said.group == "purpose":
        return not any("chat" in piece.tags for piece in clause.pieces)
    if "supposed" in under:
        return False
    elsewhere = any("elsewhere" in piece.tags for piece in clause.pieces)
    if said.group in ("hazard", "noticed"):
        if "asked" in under and _existence(clause):
            return False
        if said in WEATHER:
            return not under & {"maybe", "planned"} and not elsewhere
        return not (elsewhere and said == STRUCK)
    if said.group == "undone":
        return not under & {"asked", "maybe", "planned"}
    if elsewhere or (said.group in ("done", "ends") and _in_part(said, clause)):
        return False
    if said.group == "done" or (said.group == "ends" and "asked" not in under):
        return not under & {"asked", "maybe", "planned"}
    if "asked" in under:  # a trench fact inside a question about sizing is still told
        return not _existence(clause) and any(piece.figure is not None for piece in clause.pieces)
    return True


def _in_part(said: Said, clause: Clause) -> bool:
    """Whether what is told done is so in part only, was so once, or is only said to be."""
    return clause.limited or (clause.partly and said not in WHOLE)


def _existence(clause: Clause) -> bool:
    return any("exist" in piece.tags for piece in clause.pieces[:4])
