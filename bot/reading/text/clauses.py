"""The clauses of a message, and what denies, supposes, plans or limits what they say."""

from dataclasses import dataclass
from itertools import pairwise

from bot.language.lexicon import Language
from bot.language.tokens import bare
from bot.reading.text.spans import Span

HARD = frozenset((".", "!", "?", "\n", ";"))
SOFT = frozenset((",", "(", ")", "[", "]", "|"))
SHORTEST_TO_DO = 4  # letters of what is still to be done; shorter ones are nouns ("de lut")
PEOPLE = frozenset(("people", "persons", "men"))
LIMITING = frozenset(("limit", "part", "part_after", "cloud", "suppose", "undo_after"))
TAKING_BACK = frozenset(("except", "turned"))
ENTERING = frozenset(("purpose.entry", "enter_alone", "men"))


@dataclass(slots=True)
class Clause:
    """A run of pieces between marks."""

    pieces: list[Span]
    question: bool = False
    soft: bool = False  # parted from the one before by no more than a comma
    limited: bool = False  # what is told done here is so in part, on another's word, or to come
    partly: bool = False  # done to one side or one end


def clauses_of(pieces: list[Span], present: set[str], language: Language) -> list[Clause]:
    """The message in clauses, each piece with its state: denied, supposed, planned, asked or "".

    `present` holds the meanings that occur anywhere in the message.
    """
    last = Clause([])
    clauses = [last]
    for at, piece in enumerate(pieces):
        text = piece.text
        parts = text in HARD or (text in SOFT and not _listed_units(pieces, at)) or _dash(pieces, at)
        if piece.kind == "mark" and parts:
            if text == "?":
                last.question = True
            if last.pieces:
                last = Clause([], soft=text in SOFT or text == "-")
                clauses.append(last)
            elif text in HARD:
                last.soft = False
            continue
        if not {"but", "except"}.isdisjoint(piece.tags) and last.pieces:
            last = Clause([])
            clauses.append(last)
        last.pieces.append(piece)
        piece.clause = len(clauses) - 1
    if not last.pieces and len(clauses) > 1:
        clauses.pop()
    if len(clauses) > 1 and any(clause.question for clause in clauses):
        _spread_questions(clauses)
    for clause in clauses:
        _states(clause, language)
    for before, clause in pairwise(clauses):
        if clause.soft and _none_alone(clause, language):  # "checked for water, none"
            for piece in before.pieces:
                piece.state = "" if piece.state == "supposed" else piece.state
            _deny_before(before.pieces, language)
    if len(clauses) > 1 and "or" in present:
        _listed(clauses, language)
    if not LIMITING.isdisjoint(present):
        _limit(clauses, clouded="cloud" in present)
    if not TAKING_BACK.isdisjoint(present):
        for clause, after in pairwise(clauses):
            if after.pieces and _takes_back(after):
                for piece in clause.pieces:
                    piece.state = "" if piece.state == "denied" else piece.state
    return clauses


def _listed_units(pieces: list[Span], at: int) -> bool:
    """ "units 1, 2 and 3 set": a comma between the numbers of units."""
    if pieces[at].text != "," or at + 1 >= len(pieces) or pieces[at + 1].figure is None:
        return False
    while at > 0 and (pieces[at].figure is not None or pieces[at].text == "," or "and" in pieces[at].tags):
        at -= 1
    return "unit" in pieces[at].tags


def _dash(pieces: list[Span], at: int) -> bool:
    """A dash that parts, as against one that joins two figures or words."""
    if pieces[at].text != "-" or pieces[at].glued:
        return False
    before = pieces[at - 1] if at else None
    after = pieces[at + 1] if at + 1 < len(pieces) else None
    return not (before and after and before.kind == after.kind == "figure")


def _states(clause: Clause, language: Language) -> None:
    """Marks what each piece of a clause stands under."""
    pieces = clause.pieces
    _deny_at_zero(pieces)
    still_to_do = any(_still_to_do(pieces, at, language) for at in range(1, len(pieces)))
    if not (clause.question or still_to_do or any(piece.tags.turns for piece in pieces)):
        return
    denied = supposed = maybe = asked = reached = named = False
    planned = still_to_do or any("plan" in piece.tags for piece in pieces)
    first = True
    for at, piece in enumerate(pieces):
        tags = piece.tags
        if "deny" in tags and not _numbers(pieces, at):
            named_before = any(one.kind != "ref" for one in pieces[: max(at - 1, 0)])  # not "T7: no water"
            if named_before and pieces[at - 1].text in (":", "="):
                _deny_before(pieces[: at - 1], language)  # "traffic: no water: dry"
            elif at and "none" in tags and at + 1 < len(pieces) and pieces[at + 1].text == "/":
                _deny_before(pieces[:at], language)  # "traffic none/ends supported"
            else:
                measured = at + 1 < len(pieces) and pieces[at + 1].figure is not None
                denied, reached, named = not measured, False, False  # "not 0.8 wide": no more is denied
        elif denied and named and not ENTERING.isdisjoint(tags):
            denied = False  # "no cracks no water lads getting in now"
        elif denied and "dry" in tags and "paved" in pieces[at - 1].tags:
            denied = False  # "no slab dry"
        elif denied and piece.figure is not None and reached:
            denied = False  # "no plant 1.6 deep": what is measured is not denied
        elif tags:
            reached = True
            named = named or ((tags.thing or tags.said) and PEOPLE.isdisjoint(tags))
        if "suppose" in tags:
            supposed = True
        if "may" in tags:
            maybe = True
        after = pieces[at + 1] if at + 1 < len(pieces) else piece
        is_gas = "carbon_monoxide" in tags and after.figure is not None  # "CO 0", and "co" asks in Polish
        if ("ask" in tags and not is_gas) or (first and _opens(pieces, at)) or "purpose.entry" in tags:
            asked = True
        planned = planned or (first and "order" in tags)
        if tags or piece.figure is not None or piece.text not in language.small:
            first = first and piece.kind == "ref"
        if denied and "and" in tags and _stated(pieces[at + 1 :], language):
            denied = False
        piece.state = (
            "supposed"
            if supposed
            else "denied"
            if denied and not _denies_itself(piece, language)
            else "asked"
            if asked
            else "maybe"
            if maybe
            else "planned"
            if planned
            else ""
        )
    for at, piece in enumerate(pieces):
        if "none" in piece.tags and at and (at == len(pieces) - 1 or "none_after" in piece.tags):
            _deny_before(pieces[:at], language)
    if clause.question and not asked:
        for piece in pieces:
            if piece.state in ("", "planned"):
                piece.state = "asked"


def _deny_at_zero(pieces: list[Span]) -> None:
    """ "methane 0", "zero methane", and no more of it: a gas of which there is nothing."""
    for at, piece in enumerate(pieces):
        if piece.figure is None or piece.figure.kind != "bare" or piece.figure.value != 0:
            continue
        for gas, end in ((at - 1, at + 1), (at + 1, at + 2)):
            after = pieces[end] if end < len(pieces) else None
            ends = after is None or after.kind == "mark" or not {"and", "deny"}.isdisjoint(after.tags)
            if ends and 0 <= gas < len(pieces) and "gas_alarm" in pieces[gas].tags:
                pieces[gas].state = "denied"


def _still_to_do(pieces: list[Span], at: int, language: Language) -> bool:
    """ "de astupat": what a language says of a thing to be done in nearly the words of one that is done."""
    form, piece = language.still_to_do, pieces[at]
    if form is None or pieces[at - 1].text not in form.before:
        return False
    verb = bare(piece.raw.lower()).split()[0]  # as written: a slip was taken for the participle
    known = bool(piece.tags) and len(verb) >= SHORTEST_TO_DO
    return verb in form.words or (known and verb.endswith(form.endings))


def _opens(pieces: list[Span], at: int) -> bool:
    """Whether a clause that begins here is a question: "is it ...", but not "was 45 bar"."""
    after = pieces[at + 1 : at + 3]
    told = "was_at" in pieces[at].tags and any(one.figure is not None for one in after)
    named = at > 0 and "link" in pieces[at].tags and bool(after) and not any(one.tags.thing for one in after)
    return "open" in pieces[at].tags and not (told or named)  # "T7 is dry" tells


def _deny_before(pieces: list[Span], language: Language) -> None:
    """ "water: none": denies the thing just before, and those joined to it."""
    joined = True
    listed = sum(piece.text == "/" for piece in pieces) > 1  # "firm clay/dry/traffic none": each by itself
    for at, piece in reversed(list(enumerate(pieces))):
        if piece.kind == "ref" or _before_place(pieces, at, language):
            continue  # "water at T7: nil"
        if piece.tags.thing or piece.tags.said:
            if not joined:
                return
            piece.state, joined = piece.state or "denied", False
        elif not {"and", "or", "more"}.isdisjoint(piece.tags):
            joined = not (listed and piece.text == "/")
        elif piece.kind != "mark" and piece.text not in language.small:
            return


def _none_alone(clause: Clause, language: Language) -> bool:
    """A clause that says that there is none, and no more: "none at this end" tells of the other."""
    said = [piece for piece in clause.pieces if piece.kind != "ref" and piece.text not in language.fillers]
    return len(said) == 1 and "none" in said[0].tags and not clause.question


def _before_place(pieces: list[Span], at: int, language: Language) -> bool:
    """ "at T7", "in the bottom": whether a preposition of a place in the trench stands here."""
    after = pieces[at + 1] if at + 1 < len(pieces) else None
    placed = after is not None and (
        after.kind == "ref" or "trench" in after.tags or after.text in language.places
    )
    return placed and pieces[at].text in language.before_places


def _denies_itself(piece: Span, language: Language) -> bool:
    """ "wont hold pressure" after "no cracks": its denial is its own."""
    first, _, rest = piece.text.partition(" ")
    return bool(rest) and first in language.denials and "deny" not in piece.tags


def _numbers(pieces: list[Span], at: int) -> bool:
    """ "no 2" is a number, "14 no. units" a count, neither a denial."""
    before = pieces[at - 1].figure if at else None
    if (
        before is not None
        and before.kind == "bare"
        and any("unit_t" in one.tags for one in pieces[at + 1 : at + 3])
    ):
        return True
    figure = pieces[at + 1].figure if at + 1 < len(pieces) else None
    return "number" in pieces[at].tags and figure is not None and figure.kind == "bare"


def _stated(pieces: list[Span], language: Language) -> bool:
    """After "and": more than the bare name of a thing, so that a denial before it does not reach it."""
    told = [piece for piece in pieces if piece.kind == "word" and piece.text not in language.skipped]
    return len(told) > 2 and not any("deny" in piece.tags for piece in told)


def _listed(clauses: list[Clause], language: Language) -> None:
    """ "no cracks, water or movement": a denial goes on over a list that closes with "or"."""
    for at, clause in enumerate(clauses):
        if not clause.pieces or clause.pieces[-1].state != "denied":
            continue
        end = at + 1
        while end < len(clauses) and clauses[end].soft and _bare(clauses[end], language):
            if any("or" in piece.tags for piece in clauses[end].pieces):
                for listed in clauses[at + 1 : end + 1]:
                    for piece in listed.pieces:
                        piece.state = piece.state or "denied"
                break
            end += 1


def _limit(clauses: list[Clause], *, clouded: bool) -> None:
    """Marks the clauses whose done things are not to be counted, or only in part."""
    for at, clause in enumerate(clauses):
        clause.partly = _said_in(clause.pieces, "part") or _parted_after(clauses, at)
        after = clauses[at + 1].pieces if at + 1 < len(clauses) else []
        undone = _said_in(after, "undo_after") or _said_in(after[:1], "except")
        clause.limited = clouded or undone or _said_in(clause.pieces, "limit") or _conditional(clauses, at)
        for piece in clause.pieces if clause.limited else ():
            if "dug" in piece.tags:
                piece.state = piece.state or "maybe"


def _parted_after(clauses: list[Clause], at: int) -> bool:
    """ "all units set, oh no, number 4 isn't"."""
    for after in clauses[at + 1 : at + 3]:
        if _said_in(after.pieces[:5], "part_after"):
            return True
        if not after.soft:
            return False
    return False


def _conditional(clauses: list[Clause], at: int) -> bool:
    """ "if the inspection is done | then units out"."""
    before = clauses[at - 1].pieces if at else []
    return bool(before) and before[-1].state == "supposed" and "but" in clauses[at].pieces[0].tags


def _spread_questions(clauses: list[Clause]) -> None:
    """ "is it all done - ladder in, spoil back?": the sign at the end is of the whole list."""
    for at, clause in enumerate(clauses):
        head = at
        while clause.question and clauses[head].soft and head:
            head -= 1
        first = clauses[head].pieces[:1]
        if head < at and first and not {"open", "ask", "exist"}.isdisjoint(first[0].tags):
            for one in clauses[head:at]:
                one.question = True
        elif (
            clause.question
            and clause.soft
            and len(clause.pieces) < 4
            and {"open", "exist"} & clause.pieces[0].tags
        ):
            clauses[at - 1].question = True  # "ladder in, was it?"


def _said_in(pieces: list[Span], meaning: str) -> bool:
    return any(meaning in piece.tags for piece in pieces)


def _takes_back(clause: Clause) -> bool:
    """ "no cracks | except one", "wasn't leaking | but is now": the denial before it does not hold."""
    if "except" in clause.pieces[0].tags:
        return True
    turned = any("turned" in piece.tags for piece in clause.pieces)
    return turned and not any(piece.tags.said and "turned" not in piece.tags for piece in clause.pieces)


def _bare(clause: Clause, language: Language) -> bool:
    """No more than names of things: nothing is said of them."""
    return len(clause.pieces) <= 4 and all(
        piece.kind == "word" and (piece.text in language.small or piece.tags) for piece in clause.pieces
    )
