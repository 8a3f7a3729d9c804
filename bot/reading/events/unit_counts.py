"""Units said to be set or taken out: how many, at which level, or all."""

from itertools import pairwise

from bot.language.lexicon import Language
from bot.language.said import Said
from bot.reading.events.statements import Found
from bot.reading.text.clauses import Clause
from bot.reading.text.spans import Span
from knowledge.reading import UnitsSet

PART = frozenset(("top", "bottom", "level"))
ROWS = ("top", "bottom")
MOST_ROWS = 4
COUNTING = frozenset(("all", "unit_t", "set", "of", "upon", "number", "times", "count", "range"))


def units(clauses: list[Clause], language: Language, found: Found) -> UnitsSet | None:
    """The units said to be set; adds "done units set", "done units out" to the facts where all are."""
    total: UnitsSet | None = None
    pressed = any(_presses(piece) for clause in clauses for piece in clause.pieces)
    for place, clause in enumerate(clauses):
        if any("elsewhere" in piece.tags for piece in clause.pieces):
            continue  # another trench's, or yesterday's
        if not clause.limited and not clause.partly and (by_level := _by_level(clause)):
            total = UnitsSet(n=(total.n or 0) + by_level if total else by_level)
            continue
        set_ = _said(clause, "set") or (_alone(clause) if pressed else None)
        out = _said(clause, "pulled")
        told = set_ or out
        if told and (clause.limited or clause.partly or _corrected(clauses, place, told)):
            continue
        if set_ is not None:
            following = clauses[place + 1] if place + 1 < len(clauses) else None
            spared = any("except" in piece.tags for one in clauses[place : place + 3] for piece in one.pieces)
            now: UnitsSet | None = _count(clause, set_, following)
            if spared and now is not None:
                now = UnitsSet(level=now.level) if now.level else None
            total = _more(total, now) if now is not None else total
        if out is None and _still_in(clause):
            found.meanings.append(Said("undone", "units out"))
        if out is not None and out.state == "":
            part = any(PART & piece.tags or piece.tags.ordinal for piece in clause.pieces)
            whole = _all(clause) or (_number(clause.pieces) is None and not part)
            found.meanings.append(Said("done", "units out") if whole else Said("undone", "units set"))
    if total is not None and total.all and total.level is None and total.rows is None:
        found.meanings.append(Said("done", "units set"))
    return total


def read_on(pieces: list[Span], told: UnitsSet | None) -> int | None:
    """How many units the one pressure of a text is of: one number that every count of it agrees on, beside
    words of counting: "40 bar on all 14", "14 of 14 at 40 bar", "40 bar x 14". Marks what it takes used."""
    loose = [at for at, piece in enumerate(pieces) if _whole(piece) and not piece.used]
    counts = {int(figure.value) for at in loose if (figure := pieces[at].figure) is not None}
    counts |= {told.n} if told and told.n else set()
    taken = set(loose)
    for at in loose:
        led = at - 2 if at > 1 and pieces[at - 1].text in ("=", ":") else at - 1
        beside = [one for one in (led, at + 1) if 0 <= one < len(pieces)]
        counting = [one for one in beside if not COUNTING.isdisjoint(pieces[one].tags)]
        if not counting:
            return None
        taken |= set(counting)
    if len(counts) == 2 and 1 in counts and any("range" in pieces[at].tags for at in taken):
        counts -= {1}  # "1 thru 14"
    if len(counts) != 1 or any(pieces[at].state for at in taken):
        return None
    for at in taken:
        pieces[at].used = True
    return counts.pop()


def of_every(pieces: list[Span], language: Language) -> bool:
    """Whether the one pressure of a text is said to be every unit's, and nothing else is said in it: "all
    gauges 40 bar". Of a side, a count, a row, an order it is not: no list of such words is ever whole, so
    that the texts themselves are listed."""
    told = [piece for piece in pieces if "ref" not in piece.tags and piece.kind != "mark"]
    said = ["{bar}" if _presses(piece) else piece.text for piece in told]
    return " ".join(said) in language.every_gauge and not any(piece.state for piece in told)


def by_rows(pieces: list[Span], told: UnitsSet | None) -> UnitsSet | None:
    """Units counted once more row by row, where they are said to be set: "7 top 7 bottom", "7 a row", "two
    rows of seven". Marks the figures used where they make up the number told, else gives their sum. At a
    pressure both rows counted are set, though nobody says so: "7 top 7 bottom, 40 bar each". Of "two rows
    set" it is the rows that are counted: whether these are all, the plan says."""
    loose = [at for at, piece in enumerate(pieces) if _whole(piece) and not piece.used]
    if told is None and len(loose) == len(ROWS) and any(_presses(piece) for piece in pieces):
        told = UnitsSet()
    if told is None or told.level is not None or not loose or any(pieces[at].state for at in loose):
        return told
    total = _in_rows(pieces, loose, told.n)
    if total is None and told.rows is not None:
        return told.model_copy(update={"rows": None})  # "both rows of seven": so many are planned, or not
    if total is None and len(loose) == 1 and told.n is None and _by_row(pieces, loose[0]) == "rows":
        rows = _value(pieces[loose[0]])
        pieces[loose[0]].used = 1 < rows <= MOST_ROWS
        return told.model_copy(update={"rows": rows}) if pieces[loose[0]].used else told
    if total is None:
        return told if told != UnitsSet() else None
    for at in loose:
        pieces[at].used = True
    return told.model_copy(update={"n": total})


def rows_told(pieces: list[Span], told: UnitsSet | None, language: Language) -> UnitsSet | None:
    """Units set by rows, where no one of them is told apart: "one of both rows set", "two rows set, one at
    40 bar", "two rows set, top 40 bar, bottom 38 bar" tell of no two alike."""
    if told is None or told.rows is None:
        return told
    numbers = language.vocabulary.numbers
    alone = any(
        piece.text in numbers.one
        or numbers.small.get(piece.text) == 1
        or (_whole(piece) and _value(piece) == 1)
        for piece in pieces
    )
    led = any(
        "both_rows" in piece.tags and (before.text in language.before_places or "of" in before.tags)
        for before, piece in pairwise(pieces)
    )
    others = any(
        "both_rows" in piece.tags and "of" in of.tags and "unit_t" not in what.tags
        for piece, of, what in zip(pieces, pieces[1:], pieces[2:], strict=False)
    )  # "both rows of boards"
    apart = alone or led or others or sum(_presses(piece) for piece in pieces) > 1
    return told.model_copy(update={"rows": None}) if apart else told


def _in_rows(pieces: list[Span], loose: list[int], told: int | None) -> int | None:
    """How many units the loose figures of a text make, told of one row each or of every row."""
    rows = [_row(pieces, at) for at in loose]
    if len(rows) == len(ROWS) and {*rows} == {*ROWS}:
        total = sum(_value(pieces[at]) for at in loose)
        return total if told in (None, total) else None
    first = loose[0]
    by_row = _by_row(pieces, first)
    if by_row == "each" and len(loose) == 1 and told is not None:
        return told if told in (_value(pieces[first]), 2 * _value(pieces[first])) else None
    if by_row != "rows" or _value(pieces[first]) > MOST_ROWS:
        return None
    count = next((at for at in range(first + 1, min(first + 5, len(pieces))) if pieces[at].figure), first)
    if count == first or not _whole(pieces[count]) or not {*loose} <= {first, count}:
        return None
    each = _value(pieces[count])
    return _value(pieces[first]) * each if told in (None, each, _value(pieces[first]) * each) else None


def _value(piece: Span) -> int:
    return int(piece.figure.value) if piece.figure is not None else 0


def _row(pieces: list[Span], at: int) -> str:
    """The one row that a figure is told of: "7 on top", "top 7"; "" where it is told of no row."""
    for near in (pieces[at + 1 : at + 4], pieces[max(at - 2, 0) : at][::-1]):
        for one in near:
            row = next((row for row in ROWS if row in one.tags), "")
            if row or one.figure is not None:
                return row
            if one.kind == "mark":
                break
    return ""


def _by_row(pieces: list[Span], at: int) -> str:
    """Whether a figure counts rows ("two rows") or the units of every row ("7 a row", "7 to each level")."""
    after = next((one for one in pieces[at + 1 : at + 4] if "level" in one.tags or one.figure), None)
    if after is None or after.figure is not None:
        return ""
    return "rows" if after is pieces[at + 1] else "each"


def _by_level(clause: Clause) -> int | None:
    """ "3 in at level 1 and 2 in at level 2": all that are set, where a clause counts them level by level."""
    pieces = [piece for piece in clause.pieces if piece.kind != "ref"]
    counts: list[Span] = []
    named: list[Span] = []
    for at, piece in enumerate(pieces):
        says = "set" in piece.tags or (bool(counts) and "upon" in piece.tags)  # "7 on the bottom"
        if not says or piece.state or not at or not _whole(pieces[at - 1]):
            continue
        level = next(
            (one for one in range(at + 1, min(at + 4, len(pieces))) if not PART.isdisjoint(pieces[one].tags)),
            0,
        )
        if level:
            counts.append(pieces[at - 1])
            named.extend(one for one in pieces[level + 1 : level + 2] if _whole(one))
    if len(counts) < 2:
        return None
    for piece in (*counts, *named):
        piece.used = True
    return sum(int(piece.figure.value) for piece in counts if piece.figure is not None)


def _whole(piece: Span) -> bool:
    figure = piece.figure
    return figure is not None and figure.kind == "bare" and figure.whole and 0 < figure.value < 100


def _said(clause: Clause, state: str) -> Span | None:
    """The piece that says of units (or a level) that they are set, or out; None where nothing does."""
    pieces = clause.pieces
    for at, piece in enumerate(pieces):
        if state not in piece.tags or piece.state or piece.used or _out_of(pieces, at):
            continue
        near = sorted(
            (one for one in range(len(pieces)) if _thing(pieces[one])),
            key=lambda one: (abs(one - at), one > at),
        )
        for one in near:
            if {"unit_t", "level"} & set(pieces[one].tags):
                if pieces[one].state == "" and abs(one - at) <= 7 and not _of_other(pieces[one]):
                    piece.used = True
                    return piece
                break
            if "people" not in pieces[one].tags:
                break
    return None


def _alone(clause: Clause) -> Span | None:
    """ "all set at 40 bar": what is set at a pressure are units, where nothing else is named."""
    if any(_thing(piece) for piece in clause.pieces) or not (_all(clause) or _counts(clause)):
        return None
    found = next((piece for piece in clause.pieces if "set" in piece.tags and not piece.state), None)
    if found is not None:
        found.used = True
    return found


def _counts(clause: Clause) -> bool:
    """ "14 in", "14/14 set": a number before what is set."""
    return any(
        one.figure is not None and one.figure.kind == "bare" and one.figure.whole and "set" in two.tags
        for one, two in pairwise(piece for piece in clause.pieces if piece.kind != "ref")
    )


def _presses(piece: Span) -> bool:
    return piece.figure is not None and piece.figure.kind == "pressure"


def _still_in(clause: Clause) -> bool:
    """ "units not out yet"."""
    out = any("pulled" in piece.tags and piece.state == "denied" for piece in clause.pieces)
    return out and any("unit_t" in piece.tags for piece in clause.pieces)


def _out_of(pieces: list[Span], at: int) -> bool:
    """ "3 out of 5": nothing is taken out."""
    after = pieces[at + 1 : at + 3]
    return len(after) == 2 and "of" in after[0].tags and after[1].figure is not None


def _thing(piece: Span) -> bool:
    return not {
        "unit_t", "level", "ladder", "spoil_t", "people", "fluid_t", "air_t", "inspection", "end_t", "line",
        "plant_t", "water_t", "gauge_t",
    }.isdisjoint(piece.tags)  # fmt: skip


def _of_other(piece: Span) -> bool:
    """ "one", "pair" may be units, but not where the word stands for something else."""
    return piece.figure is not None


def _all(clause: Clause) -> bool:
    """Whether "all" is said of the units, and not of one that is named ("all set on unit 2")."""
    pieces = clause.pieces
    things = [at for at, piece in enumerate(pieces) if {"unit_t", "level"} & piece.tags]
    for at, piece in enumerate(pieces):
        if "all" not in piece.tags or piece.state:
            continue
        if any(_presses(one) for one in pieces[at + 1 : at + 3]) and any(_whole(one) for one in pieces[:at]):
            continue  # "4 units in all at 40 bar": so many, and each at 40
        if not things:
            return True  # "all 8 set"
        near = min(things, key=lambda thing: abs(thing - at))
        named = pieces[near + 1].figure if near + 1 < len(pieces) else None
        if named is None or "level" in pieces[near].tags or named.kind != "bare":
            return True
    return False


def _count(clause: Clause, set_: Span, following: Clause | None) -> UnitsSet:
    place = clause.pieces.index(set_)
    before = clause.pieces[: place + 4]
    named = [
        at
        for at, piece in enumerate(before)
        if at and piece.used and piece.figure and "unit" in before[at - 1].tags
    ]
    n, whole = _of_many(clause.pieces[: place + 6])
    if n is None:
        n = sum(_named(before, at) for at in named) if len(named) > 1 else _number(before, set_)
    level = _level(clause.pieces)
    every = whole or _all(clause) or (following is not None and following.soft and _only_all(following))
    if (
        n is None
        and level is not None
        and following is not None
        and len(following.pieces) <= 3
        and following.soft
    ):
        n = _number(following.pieces)
    told = following is None or any(_presses(piece) or "unit" in piece.tags for piece in following.pieces[:1])
    if n is None and following is not None and not told and len(following.pieces) <= 3:
        n = _number(following.pieces)  # "shoring complete, 14 units"
    if n is None and (level is not None or not any(_thing(piece) for piece in clause.pieces)):
        n = _before(clause.pieces, place)  # "14 in", "4 set at level 1"
    if level is None and following is not None and len(following.pieces) <= 3 and following.soft:
        level = _level(following.pieces)
    rows = len(ROWS) if level is None and _both_rows(clause.pieces) else None
    return UnitsSet(n=n, level=level, all=every, rows=rows)


def _both_rows(pieces: list[Span]) -> bool:
    """ "both rows set"."""
    return any("both_rows" in piece.tags and not piece.state for piece in pieces)


def _number(pieces: list[Span], set_: Span | None = None) -> int | None:
    """How many: "3 units", "all four", "2 of 3 units", "units 1 and 2"."""
    for at, piece in enumerate(pieces):
        figure = piece.figure
        if figure is None or figure.kind != "bare" or not figure.whole or not 0 < figure.value < 100:
            continue
        before = pieces[at - 1] if at else None
        if before is not None and not before.tags.isdisjoint(("level", "upon", "trench")):
            continue
        if before is not None and "unit" in before.tags:
            if set_ is not None and set_ in pieces[:at]:
                return None  # "units set u1 45"
            return _named(pieces, at)
        for one in pieces[at + 1 : at + 5]:
            if "unit_t" in one.tags:
                piece.used = True
                return int(figure.value)
            if "level" in one.tags or (one.figure is not None and one.figure.kind != "bare"):
                break
        if before is not None and "all" in before.tags:
            piece.used = True
            return int(figure.value)
    return None


def _corrected(clauses: list[Clause], place: int, told: Span) -> bool:
    """ "3 units set sorry 2", "5 units set, i mean 4": how many is not sure."""
    after = clauses[place + 1].pieces[:2] if place + 1 < len(clauses) else []
    here = clauses[place].pieces
    said = [*here[here.index(told) :], *after]
    return any("correct" in one.tags and two.figure is not None for one, two in pairwise(said))


def _only_all(clause: Clause) -> bool:
    """ "units set, all of them", but not "4 set, all 41 bar"."""
    pressed = any(_presses(piece) for piece in clause.pieces)
    return len(clause.pieces) <= 3 and "all" in clause.pieces[0].tags and not pressed


def _before(pieces: list[Span], place: int) -> int | None:
    """ "14 in": how many, right before the word that they are set."""
    before = [piece for piece in pieces[:place] if piece.kind != "ref"][-1:]
    figure = before[0].figure if before and not before[0].used else None
    if figure is None or figure.kind != "bare" or not figure.whole or not 0 < figure.value < 100:
        return None
    before[0].used = True
    return int(figure.value)


def _of_many(pieces: list[Span]) -> tuple[int | None, bool]:
    """ "3 of 6 units", "14/14 set": the first of the two figures, and whether that is all of them."""
    for at, piece in enumerate(pieces):
        rest = [one for one in pieces[at + 1 : at + 5] if "pulled" not in one.tags]
        if piece.figure is None or not piece.figure.whole or piece.figure.kind != "bare" or len(rest) < 2:
            continue
        if "of" not in rest[0].tags and rest[0].text != "/":
            continue
        many = next((one for one in rest[1:] if one.figure is not None), None)
        named = any("unit_t" in one.tags for one in (*pieces[:at], *rest[2:]))
        named = named or not any(_thing(one) for one in pieces)
        if many is not None and many.figure is not None and named:
            piece.used = many.used = True
            return int(piece.figure.value), piece.figure.value == many.figure.value
    return None, False


def _named(pieces: list[Span], at: int) -> int:
    """How many units are named by their numbers."""
    count, ranged, last = 0, False, 0
    for piece in pieces[at:]:
        figure = piece.figure
        if figure is not None and figure.kind == "bare" and piece.used:
            number = int(figure.value)
            count += number - last if ranged and number > last else 1
            last, ranged = number, False
        elif "range" in piece.tags or piece.text == "-":
            ranged = True
        elif not ({"and", "more", "all"} & set(piece.tags) or piece.text in (",", "&")):
            break
    return max(count, 1)


def _level(pieces: list[Span]) -> int | None:
    for at, piece in enumerate(pieces):
        if "level" not in piece.tags:
            continue
        after = pieces[at + 1].figure if at + 1 < len(pieces) else None
        if after is not None and after.kind == "bare" and after.whole and 0 < after.value < 10:
            pieces[at + 1].used = True
            return int(after.value)
        before = pieces[at - 1] if at else None
        if before is None:
            continue
        if before.figure is not None and before.figure.kind == "ordinal" and before.figure.value < 10:
            before.used = True
            return int(before.figure.value)
        if "top" in before.tags:
            return 1
        if before.tags.ordinal is not None:
            return int(before.tags.ordinal)
    return None


def _more(total: UnitsSet | None, now: UnitsSet) -> UnitsSet:
    if total is None:
        return now
    two_levels = total.level is not None and now.level is not None and total.level != now.level
    if two_levels and total.n is not None and now.n is not None:
        return UnitsSet(n=total.n + now.n, all=total.all or now.all)  # "4 in at level 1, 2 at level 2"
    if two_levels and total.all != now.all:
        return UnitsSet()  # "level 1 all set, level 2 two set"
    return UnitsSet(
        n=now.n if now.n is not None else total.n,
        level=now.level if now.level is not None else total.level,
        all=total.all or now.all,
        rows=now.rows or total.rows,
    )
