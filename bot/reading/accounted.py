"""What of a text nothing accounts for. A report counts only where nothing of it is left over.

No list of what may spoil a report ends, and what is not understood is not nothing.

A part is accounted for as the thing or state of a fact, as a figure that was read, as a word that belongs to
such a fact ("ladder in and tied"), as a word of manner or of a place in the trench ("all along T7"), or as a
filler. Everything else is left over, in the order told.
"""

from collections.abc import Iterator

from bot.language.schema import SUBJECTS
from bot.reading.against_clause import BESIDE, LOOKED_AT, AgainstClause
from bot.reading.text.prepare import PreparedText
from bot.reading.text.spans import Span
from bot.reading.told_clause import ENDS, HEAP, INSPECTING, was_read

PLAIN_MARKS = frozenset(
    (",", ".", "-", ":", ";", "!", "\n", "(", ")", "&", "/", "=", "'", '"', "+", "|", "–", "¿", "¡")
)
SIGNS = frozenset(("-", "+", "–"))
ASKING = frozenset(
    (
        "ask",
        "open",
        "exist",
        "people",
        "persons",
        "men",
        "enter",
        "enter_alone",
        "leave",
        "what_of",
        "lacking",
        "recorded",
        "whole_list",
        "whether",
    )
)
SHORES = frozenset(
    ("unit", "unit_t", "level", "all", "top", "bottom", "number", "gauge", "gauge_t", "set", "rest")
)
SHORES_TOLD = SHORES - {"number", "unit", "all"}
BEFORE_FIGURE = frozenset(
    ("at", "now", "link", "number", "along", "crossing", "down", "upon", "more", "range", "times", "between",
     "lowest", "highest"),
)  # fmt: skip
DENYING = frozenset(("deny", "none", "none_after"))
TURNING = frozenset(
    ("plan", "suppose", "may", "deny", "limit", "part", "part_after", "cloud", "undo_after", "except",
     "elsewhere", "but", "correct"),
)  # fmt: skip
ENDS_TOLD = frozenset(SUBJECTS["ends"])
INEXACT = TURNING | {"roughly"}
LESS = frozenset(("down", "below", "vague", "lost_after"))
LOCATED = {"located", "services_located"}
AIR = frozenset(SUBJECTS["air"])
HEAD = 3  # words of greeting that may open a text


def left_over(text: PreparedText, trench: str | None) -> list[str]:
    """The words, figures and marks that nothing accounts for."""
    pieces, clauses = text.pieces, text.clauses
    found: list[str] = []
    dug = any(piece.dug for piece in pieces)
    words = [piece.raw for piece in pieces[1:] if piece.kind == "word"]
    capitals = 2 * sum(word[:1].isupper() for word in words) > len(words)  # Every Word Has One
    told = [
        _Clause(clause, trench, text, head=at == 0, tail=at == len(clauses) - 1, dug=dug, capitals=capitals)
        for at, clause in enumerate(clauses)
    ]
    belong: set[str] = set().union(*[one.belong for one in told if one.reports])
    means = {
        said
        for piece in pieces
        if piece.told and piece.state == ""
        for said in piece.says
        if said.group == "done"
    }
    things = {name for piece in pieces if was_read(piece) and piece.tags.thing for name in piece.tags}
    asks_entry = any("entry" in one.belong for one in told)
    by_leave = [one for one in told if "entry" in one.belong and one.asks_by_leave]
    for one in told:
        # "can we go in? we are down there already": what is told beside the question
        one.aside_of_question = bool(by_leave) and one not in by_leave
        if asks_entry and not one.reports:  # "please say, may we go in?"
            one.beside |= {"entry"}
            one.belong |= {"entry"} if one.asks or one.opens else set()  # "status please", "can we?"
        if belong and not one.asks:  # what belongs to a report may be said again in a clause of its own
            one.beside |= belong
            one.things, one.means = things, means
            if one.reports or any(one.tells_again(piece) for piece in one.pieces):
                one.belong |= belong
        found.extend(one.left_over())
    found.extend(
        piece.raw
        for piece in pieces
        if piece.kind == "mark"
        and piece.text != "?"
        and piece.text not in PLAIN_MARKS
        and not was_read(piece)
    )
    return found


class _Clause(AgainstClause):
    """One clause: what is said in it, and so which other words belong to it."""

    def left_over(self) -> Iterator[str]:
        near = self.belong | self.beside
        self.inspects = not INSPECTING.isdisjoint(near)
        self.by_air = not self.inspects and not AIR.isdisjoint(near)
        self.by_rows = self.inspects or self.by_air or (self.shores and not self.taken_out)
        self.ends = not ENDS_TOLD.isdisjoint(near)
        self.by_rows |= self.ends
        companions = self.language.companions
        self.companions = tuple(
            companions[name]
            for name in self.belong
            if name in companions
            and not (self.done and name == "entry")  # "inspected before entry, safe then"
        )
        if self._tells:  # "can we go in, he is stuck": nothing was stuck in place
            self.manners = self.language.manners
        verdict = self.inspects and any("verdict" in piece.tags for piece in self.pieces)
        if self.questioned and ((self.reports and (self.done or not self.asks)) or verdict):
            yield "?"
        closing = self._closing()
        for at, piece in enumerate(self.pieces):
            if piece.kind == "ref":
                if piece.text.upper() != self.trench and not piece.used:
                    yield piece.raw
            elif (
                self._inside(at)
                or self._before_leave(at)
                or self._in_already(at)
                or self._part_only(at)
                or self._judged_by_others(at)
                or self._back_in(at)
                or self._order(at)
                or self._unheard(piece)
                or self._gives_way(at)
                or self._from_elsewhere(at)
                or self._of_a_part(at)
                or self._ladder_at_edge(at)
                or self._spaced(piece)
                or self._some_of(at)
                or self._of_meter(piece)
                or self._sign_of_figure(at)
                or self._some_lines(at)
                or self._number_alone(at)
                or self._for_water(at)
                or self._meant_for(at)
                or self._back_to(at)
                or self._by_nobody(at)
                or self._held_by(at)
                or self._too_short(at)
                or self._told_to_dig(at)
                or self._one_side(at)
                or self._falls_short(at)
                or ("entry" in self.belong and "doubting" in piece.tags)  # "did I say they could go in?"
                or ("spoil_t" in self.belong and "enter" in piece.tags)  # "spoil back in the hole"
                or ("wet" in piece.tags and "dry" in self.belong and not piece.state)
            ):
                yield piece.raw
            elif was_read(piece):
                yield from (word for word in piece.inside if not self._word(word) or self._other(word))
            elif at < closing and not self._belongs(at, piece):
                yield piece.raw

    def _belongs(self, at: int, piece: Span) -> bool:
        tags = piece.tags
        if self._hearsay(at) or (self.by_rows and self._one_row(piece)):
            return False
        if self.by_air and not BESIDE.isdisjoint(tags):
            return False  # of the air up there
        return (
            self._slight(piece)
            or self._aside(piece)
            or (self.asks and (self._asked_too(tags) or not ASKING.isdisjoint(tags)))
            or self._worded(piece)
            or (self.asks and self._lasts(piece))
            or (self.ends and self._sloped(piece))
            or (self.asks and (piece.text in self.crew or self._named_one(at)))
            or self._doer(at)
            or (LOCATED & self.belong and "line" in tags and piece.state == "")
            or (self.shores and not SHORES.isdisjoint(tags) and not self._no(at))
            or (self.dug and "dug" in tags)
            or ("verdict" in tags and (self._verdict(at) if self.inspects else self.verdict))
            or ("air_result" in tags and piece.state == "" and self.by_air)
            or (self.denied and not DENYING.isdisjoint(tags))
            or self._nothing(at)
            or self._is_so(at)
            or self._again(piece)
            or (bool(self.beside) and self._once_more(piece))
            or (not BEFORE_FIGURE.isdisjoint(tags) and self._figure_follows(at))
            or (bool(self.belong) and "throughout" in tags)
            or self._before_place(at)
            or self._of_street(at)
            or self._addressed(at)
            or (self.head and at < HEAD and "greeting" in tags and not self._subject(at))
            or (self.tail and "thanks" in tags)
            or ("entry" in self.belong and "calls" in tags and self._first_or_last(at))
        )

    def _sloped(self, piece: Span) -> bool:
        """ "battered to 45 degrees": how far the ends lean back. A steeper one is hardly battered."""
        degrees = piece.figure is not None and piece.figure.kind == "other" and self._lasts(piece)
        return (
            degrees
            and piece.figure is not None
            and 0 < piece.figure.value <= self.language.accepted.ends_slope_deg
        )

    def _length_read(self, piece: Span) -> bool:
        kinds = ("length",) if self.shores else ("length", "bare")
        return piece.figure is not None and piece.figure.kind in kinds and piece.used

    def _some_lines(self, at: int) -> bool:
        """ "one of the buried cables located", "two of the services": of all of them it says nothing."""
        figure = self.pieces[at].figure
        if figure is None or figure.kind != "bare" or not figure.whole or LOCATED.isdisjoint(self.belong):
            return False
        of_all = at > 0 and "all" in self.pieces[at - 1].tags
        lines = any(not {"line", "service"}.isdisjoint(after.tags) for after in self.pieces[at + 1 : at + 4])
        return lines and not of_all

    def _number_alone(self, at: int) -> bool:
        """ "no 7 inspected ok", "number 7 dug to 2.1": the number of a trench it may be, where no unit is
        spoken of."""
        figure = self.pieces[at].figure
        if figure is None or figure.kind != "bare" or at == 0 or "number" not in self.pieces[at - 1].tags:
            return False
        of_shores = any(
            not SHORES_TOLD.isdisjoint(one.tags) or (one.figure is not None and one.figure.kind == "pressure")
            for one in self.pieces
        )
        return self.reports and not of_shores

    def _told_to_dig(self, at: int) -> bool:
        """ "dig down to 1.6", "dig it to 1.6": an order, where "the dig is down to 1.6" tells."""
        if self.pieces[at].text not in self.language.vocabulary.orders or not self.dug:
            return False
        after = self.pieces[at + 1 : at + 2]
        linked = any(not {"link", "open", "exist"}.isdisjoint(one.tags) for one in after)
        return not linked and all(one.kind == "ref" for one in self.pieces[:at])

    def _one_side(self, at: int) -> bool:
        """ "spoil back 1.5 m on the road side": what is told of one side is not told of the other."""
        piece = self.pieces[at]
        one_side = "face_t" in piece.tags and not piece.text.endswith("s") and not was_read(piece)
        return one_side and any(not HEAP.isdisjoint(one.tags) for one in self.pieces)

    def _falls_short(self, at: int) -> bool:
        """ "ladder in, it's the short one": what lacks something, and is not said to lack nothing."""
        piece = self.pieces[at]
        if "lacking" not in piece.tags or piece.told or self.asks_leave or not self._tells:
            return False
        return not any("deny" in before.tags for before in self.pieces[max(at - 3, 0) : at])

    def _sign_of_figure(self, at: int) -> bool:
        """ "dug to 1.6-0.3", "dug to 1.6+", "-1.6": a sign beside a length that was read may change it."""
        if self.pieces[at].text not in SIGNS or was_read(self.pieces[at]):
            return False
        before = self.pieces[at - 1] if at else None
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        follows = (
            before is not None and self._length_read(before) and (after is None or after.figure is not None)
        )
        return follows or (after is not None and after.glued and self._length_read(after))

    def _first_or_last(self, at: int) -> bool:
        """ "may we go in T7 or not", "yes or no can we go in": what calls for an answer."""
        before, after = self.pieces[:at], self.pieces[at + 1 :]
        return any(
            all(one.kind in ("ref", "mark") or self._slight(one) for one in some) for some in (before, after)
        )

    def _doer(self, at: int) -> bool:
        """ "1.6 m, Donal checked it": who did what was told, by a name, beside the word for the doing. On
        whose word an inspection is made is another thing; and where a sentence begins each has a capital."""
        if not self._like_a_name(at) or (at == 0 and self.begins) or not INSPECTING.isdisjoint(self.belong):
            return False
        near = [self._next(at, 1)]
        if self.language.verb_first or (at and self.pieces[at - 1].text in self.language.sources):
            near.append(self._next(at, -1))
        words = [word for one in near if one is not None and one.kind == "word" for word in one.text.split()]
        did = any(self._word(word) and word.endswith(self.language.done_so) for word in words)
        return self._tells and (did or (at > 0 and self._beside_person(at)))

    def _worded(self, piece: Span) -> bool:
        """Whether each word of a piece is one of those that may stand here, and the piece turns nothing."""
        figure = piece.figure
        counts = figure is not None and (self.shores or not figure.spoken or figure.kind != "bare")
        if counts or not piece.text.replace(" ", "").replace("/", "").isalpha():
            return False  # "one" of "a good one" is a word
        if not (self.asks or "entry" in self.belong or TURNING.isdisjoint(piece.tags)):
            return False
        words = piece.text.split()
        if "people" in piece.tags and INSPECTING & self.belong and words[0] not in self.language.fillers:
            return all(self._companion(word) for word in words)  # on whose word?
        if len(words) == 1:
            return self._word(piece.text)
        placed = words[0] in self.language.before_places and len(words) > 2
        if piece.tags.asides and placed:
            return False  # "for the lads", "over the trench": beside another subject it would change nothing
        return bool(self.belong) and all(self._word(word) or self._place(word) for word in words)

    def _is_so(self, at: int) -> bool:
        """ "inspected, it is | safe": where "it is" alone would be a yes."""
        after = self.pieces[at + 1 : at + 2]
        judged = any("verdict" in one.tags for one in after) and self._verdict(at + 1)
        return self.inspects and "yes" in self.pieces[at].tags and judged

    def _nothing(self, at: int) -> bool:
        """ "no leaks", "nothing else": what may be denied beside any report, with its denial."""
        language = self.language
        if not self.belong:
            return False
        near = (
            self.pieces[at : at + 4]
            if "deny" in self.pieces[at].tags
            else self.pieces[max(at - 3, 0) : at + 1]
        )
        if not any("deny" in piece.tags for piece in near):
            return False
        words = [word for piece in near if "deny" not in piece.tags for word in piece.text.split()]
        said = [word for word in words if word in language.nothing_of]
        if "deny" in self.pieces[at].tags:
            ends = next((place for place, word in enumerate(words) if word in language.nothing_of), None)
            return ends is not None and all(self._word(word) or self._place(word) for word in words[:ends])
        return bool(said) and all(word in language.nothing_of for word in self.pieces[at].text.split())

    def _once_more(self, piece: Span) -> bool:
        """ "set, all of them", "inspected, shores, ends and ladder", "may we go in, alright?": beside what
        another clause tells."""
        if "entry" in self.beside and self.questioned and "greeting" in piece.tags:
            return True
        looked_at = not LOOKED_AT.isdisjoint(piece.tags) and piece.state == ""
        return "all" in piece.tags or (self.inspects and (piece.text in self.language.places or looked_at))

    def _again(self, piece: Span) -> bool:
        """ "ladder in, a good ladder": what was told of, named once more."""
        tags = piece.tags
        named = tags.thing and not (self.belong | self.beside).isdisjoint(tags & self.things)
        return (bool(named) and TURNING.isdisjoint(tags)) or self.tells_again(piece)

    def tells_again(self, piece: Span) -> bool:
        """ "located, spray marked": what was told, told once more; or how long a ladder is."""
        same = piece.state == "" and any(
            fact.means
            and self.means.issuperset(said for said in fact.means if said.group == "done")
            and any(said.group == "done" for said in fact.means)
            for fact in piece.tags.facts
        )
        return (same and TURNING.isdisjoint(piece.tags)) or self._of_ladder(piece)

    def _of_ladder(self, piece: Span) -> bool:
        """ "3 ft past the lip": a length of a ladder, beside a word that is said of ladders alone."""
        figure = piece.figure
        if figure is None or figure.kind != "length" or "ladder" not in self.belong | self.beside:
            return False
        own = (
            self.language.companions.get("ladder", frozenset())
            - self.language.manners
            - self.language.fillers
        )
        return any(
            (one.text in own and not self._place(one.text)) or "ladder" in one.tags.asides
            for one in self.pieces
            if one.figure is None
        )  # fmt: skip

    def _before_place(self, at: int) -> bool:
        """ "in T7", "along the full length", "to 1.6": a preposition of what is accounted for."""
        belong = self.belong | self.beside
        if not belong or self.pieces[at].text not in self.language.before_places:
            if not belong or self.pieces[at].text not in self.language.places or not at:
                return False
            return self._tells and self._after_preposition(at)
        for piece in self.pieces[at + 1 : at + 5]:
            if piece.kind == "ref":
                return piece.text.upper() == self.trench
            if piece.figure is not None:
                return self._figure_follows(at)
            if piece.text in self.language.before_places:
                continue  # "from up top"
            placed = piece.text in self.language.places
            said = self._companion(piece.text) and piece.text not in self.language.manners
            if piece.text in self.own or ((placed or said) and self._tells):
                return True
            if not self._slight(piece):
                return False  # "ladder to put in" is a plan
        return False

    def _of_street(self, at: int) -> bool:
        """ "Larch Street": the street that the sender's site is called after."""
        streets = self.language.vocabulary.beside.streets
        return at > 0 and self.pieces[at].text in streets and self.pieces[at - 1].text in self.own

    def _after_preposition(self, at: int) -> bool:
        """ "from the edge to the toe": a place with its preposition before it."""
        language = self.language
        for piece in reversed(self.pieces[max(at - 4, 0) : at]):
            if piece.text in language.before_places:
                return True
            if not (self._worded(piece) or piece.text in language.places):
                return piece.text.rsplit(" ", 1)[-1] in language.before_places
        return False

    def _closing(self) -> int:
        """The place where the words that close a clause and say nothing begin."""
        if not self.belong:
            return len(self.pieces)
        words = [piece.text for piece in self.pieces]
        text = " ".join(words)
        for said in self.language.closing:
            if text.endswith(said):
                size, at = said.count(" "), len(words)
                while size > 0:
                    at -= 1
                    size -= len(words[at].split())
                return at
        return len(self.pieces)

    def _figure_follows(self, at: int) -> bool:
        """Whether a figure that was read comes next, so that a preposition belongs to it: "at 40 bar", but
        neither "nearly 1.6" nor "under 40 bar"."""
        after = next((piece for piece in self.pieces[at + 1 : at + 4] if piece.figure is not None), None)
        tags = self.pieces[at].tags
        if after is None or after.figure is None or not was_read(after) or not INEXACT.isdisjoint(tags):
            return False
        if not (self.spread or ENDS.isdisjoint(tags)):
            return False  # the lowest of several, and what of the highest?
        return after.figure.kind != "pressure" or LESS.isdisjoint(tags)
