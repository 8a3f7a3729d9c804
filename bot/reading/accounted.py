"""What of a text nothing accounts for. A report counts only where nothing of it is left over.

No list of what may spoil a report ends, and what is not understood is not nothing.

A part is accounted for as the thing or state of a fact, as a figure that was read, as a word that belongs to
such a fact ("ladder in and tied"), as a word of manner or of a place in the trench ("all along T7"), or as a
filler. Everything else is left over, in the order told.
"""

from collections.abc import Iterator
from itertools import takewhile, zip_longest

from bot.language.meanings import Meanings
from bot.language.said import Said
from bot.language.schema import SUBJECTS
from bot.reading.events.statements import TO_GO_IN
from bot.reading.intent.purpose import lack_asked, leave_asked, verdict_asked
from bot.reading.text.clauses import Clause
from bot.reading.text.prepare import PreparedText
from bot.reading.text.spans import Span

PLAIN_MARKS = frozenset(
    (",", ".", "-", ":", ";", "!", "\n", "(", ")", "&", "/", "=", "'", '"', "+", "|", "–", "¿", "¡")
)
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
    )
)
SHORES = frozenset(
    ("unit", "unit_t", "level", "all", "top", "bottom", "number", "gauge", "gauge_t", "set", "rest")
)
BEFORE_FIGURE = frozenset(
    ("at", "now", "link", "number", "along", "crossing", "down", "upon", "more", "range", "times", "between",
     "lowest", "highest"),
)  # fmt: skip
DENYING = frozenset(("deny", "none", "none_after"))
TURNING = frozenset(
    ("plan", "suppose", "may", "deny", "limit", "part", "part_after", "cloud", "undo_after", "except",
     "elsewhere", "but", "correct"),
)  # fmt: skip
OF_ENTRY = frozenset(("entry", "people", "persons", "men", "enter", "enter_alone", "leave"))
NEVER_WITH_ENTRY = frozenset(("help", "stop", "close"))
INSPECTING = {"inspected", "inspection"}
PEOPLE = frozenset(("people", "persons", "men"))
BEING = frozenset(("link", "open", "exist"))
ASKED_FOR = frozenset(("leave", "ask", "purpose.entry"))
CALLING = frozenset(
    ("leave", "ask", "people", "now", "verdict", "greeting", "thanks", "and", "or", "doing", "aside.entry")
)
LEAVE = frozenset(("ask", "leave", "sends", "open", "exist", "what_of"))
ENDS_TOLD = frozenset(SUBJECTS["ends"])
THROUGHOUT = frozenset(("dry", "water_t", "air_t", "air_tested", "inspected", "inspection", "dug"))
TESTED = frozenset(("air_t", "air_tested"))
METER = frozenset(("air_t",))
GOING = frozenset(("enter", "inwards"))
INEXACT = TURNING | {"roughly"}
LESS = frozenset(("down", "below", "vague", "lost_after"))
LOCATED = {"located", "services_located"}
BESIDE = frozenset(("close_to", "edge_t"))
ROWS = frozenset(("top", "bottom"))
AIR = frozenset(SUBJECTS["air"])
ENDS = frozenset(("lowest", "highest"))
SENTENCE_ENDS = frozenset((".", "!", "?", "\n"))
HEAD = 3  # words of greeting that may open a text


def asks(clause: Clause) -> bool:
    """Whether a clause asks for leave to go in, or what stands in its way."""
    return leave_asked(clause) or lack_asked(clause) or verdict_asked(clause)


def left_over(text: PreparedText, trench: str | None) -> list[str]:
    """The words, figures and marks that nothing accounts for."""
    pieces, clauses = text.pieces, text.clauses
    found: list[str] = []
    dug = any(piece.dug for piece in pieces)
    told = [
        _Clause(clause, trench, text, head=at == 0, tail=at == len(clauses) - 1, dug=dug)
        for at, clause in enumerate(clauses)
    ]
    belong: set[str] = set().union(*[one.belong for one in told if one.reports])
    means = {
        said
        for piece in pieces
        if piece.told and piece.state == ""
        for fact in piece.tags.facts
        for said in fact.means
        if said.group == "done"
    }
    things = {name for piece in pieces if _read(piece) and piece.tags.thing for name in piece.tags}
    asks_entry = any("entry" in one.belong for one in told)
    for one in told:
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
        if piece.kind == "mark" and piece.text != "?" and piece.text not in PLAIN_MARKS and not _read(piece)
    )
    return found


def _read(piece: Span) -> bool:
    return piece.told or (piece.used and not piece.aside)


class _Clause:
    """One clause: what is said in it, and so which other words belong to it."""

    def __init__(
        self, clause: Clause, trench: str | None, text: PreparedText, *, head: bool, tail: bool, dug: bool
    ) -> None:
        self.pieces = pieces = clause.pieces
        self.trench, self.language, self.head, self.tail = trench, text.language, head, tail
        self.own, self.crew = text.own, text.crew
        self.spread = text.present.issuperset(ENDS)
        enters = [piece for piece in pieces if piece.told and TO_GO_IN in piece.says]
        purposes = {name for piece in pieces if not piece.told for name in piece.tags.purposes}
        self.opens = all(self._slight(piece) or self._calls_for_answer(piece) for piece in pieces)
        opens = any(not LEAVE.isdisjoint(piece.tags) for piece in pieces)
        self.asks_leave = opens or "entry" in purposes or clause.question or asks(clause)
        purposes |= {"entry"} if enters or asks(clause) else set()
        self.asks = bool(purposes)
        self.enters = enters
        self.reports = any(_read(piece) and piece not in enters for piece in pieces)
        self.questioned = clause.question
        first = text.pieces.index(pieces[0]) if pieces else 0
        self.begins = first == 0 or text.pieces[first - 1].text in SENTENCE_ENDS
        self.done = any(said.group == "done" for piece in pieces for said in piece.says)
        self.denied = any(piece.told and piece.state == "denied" for piece in pieces)
        self.belong: set[str] = set(purposes)
        self.belong |= {name for piece in pieces if _read(piece) for name in piece.tags}
        self.shores = self.reports and any(
            {"unit_t", "level", "gauge", "gauge_t", "all", "rest"} & piece.tags
            or (_read(piece) and piece.figure is not None and piece.figure.kind == "pressure")
            or ("unit" in piece.tags and after is not None and after.figure is not None and _read(after))
            for piece, after in zip_longest(pieces, pieces[1:])
        )
        self.taken_out = any("taken_out" in piece.tags and piece.state == "" for piece in pieces)
        if self.shores:
            self.belong |= {"unit_t"}
        self.dug = dug and any("dug" in piece.tags or piece.dug for piece in pieces)
        if self.dug:
            self.belong |= {"dug"}
        self.verdict = all(self._slight(piece) or "verdict" in piece.tags for piece in pieces)
        self.companions: tuple[frozenset[str], ...] = ()
        self.manners: frozenset[str] = frozenset()
        self.inspects = self.by_air = self.by_rows = self.ends = False
        self.beside: set[str] = set()  # what the other clauses report
        self.things: set[str] = set()
        self.means: set[Said] = set()

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
                or self._order(at)
                or self._unheard(piece)
                or self._gives_way(at)
                or self._from_elsewhere(at)
                or self._of_a_part(at)
                or self._ladder_at_edge(at)
                or self._spaced(piece)
                or self._some_of(at)
                or self._of_meter(piece)
                or ("wet" in piece.tags and "dry" in self.belong and not piece.state)
            ):
                yield piece.raw
            elif _read(piece):
                yield from (word for word in piece.inside if not self._word(word) or self._other(word))
            elif at < closing and not self._belongs(at, piece):
                yield piece.raw

    @property
    def _tells(self) -> bool:
        """Whether it, or another clause, reports something: of a question to go in no place is told."""
        return self.reports or bool(self.beside - OF_ENTRY)

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
            or (self.asks and (piece.text in self.crew or self._named_one(at)))
            or self._doer(at)
            or (LOCATED & self.belong and "line" in tags and piece.state == "")
            or (self.shores and not SHORES.isdisjoint(tags) and not self._no(at))
            or (self.dug and "dug" in tags)
            or ("verdict" in tags and (self._verdict(at) if self.inspects else self.verdict))
            or ("air_result" in tags and piece.state == "" and self.by_air)
            or (self.denied and not DENYING.isdisjoint(tags))
            or self._nothing(at)
            or self._again(piece)
            or (bool(self.beside) and self._once_more(piece))
            or (not BEFORE_FIGURE.isdisjoint(tags) and self._figure_follows(at))
            or (bool(self.belong) and "throughout" in tags)
            or self._before_place(at)
            or self._of_street(at)
            or self._addressed(at)
            or (self.head and at < HEAD and "greeting" in tags and not self._subject(at))
            or (self.tail and "thanks" in tags)
        )

    def _verdict(self, at: int) -> bool:
        """ "inspected, it is fit": what was found. With anything after it, it may be what is to be done:
        "clear the trench", "clear out", "fit a new rail"."""
        if self.pieces[at].state:
            return False
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        if after is None or after.kind in ("mark", "ref") or not {"and", "now"}.isdisjoint(after.tags):
            return True
        return self._addressed(at + 1) and after.tags.isdisjoint(PEOPLE | {"all"})

    def _order(self, at: int) -> bool:
        """ "inspected, clear the lot", "why are they going in": what is no verdict and no question, whatever
        else it was read as."""
        tags = self.pieces[at].tags
        if "why" in self.belong and "enter" in tags:
            return True  # "why are they going in with no ladder" asks for no working
        return self.inspects and "verdict" in tags and tags.isdisjoint(INSPECTING) and not self._verdict(at)

    def _inside(self, at: int) -> bool:
        """ "can i go in and get him", "the lads are in": one who is spoken of after the going in, or said to
        be or go in where nobody asks for leave, may be in already. Nor is it a question what is said of
        anything there: "can we go in, the meter is off"."""
        piece = self.pieces[at]
        earlier = self.pieces[:at]
        told_in = piece in self.enters and self._of_others() and self.belong.isdisjoint(INSPECTING)
        if told_in and not self._led(at):
            return not self._aside(piece)
        before = earlier[-1] if earlier else piece
        meant = before.text in self.language.fillers and "now" not in before.tags  # "get the lad"
        if "entry" not in self.belong or (self._addressed(at) and not meant):
            return False
        being = self.language.meanings(piece.text.split(" ")[0])
        person = piece.text in self.crew or not PEOPLE.isdisjoint(piece.tags)
        said = (
            self.asks_leave
            and not person
            and not (piece.text in self.language.before_places and self._ref_follows(at))
            and not self._aside(piece)
            and not BEING.isdisjoint(being)
            and {"now", "ask"}.isdisjoint(being)
        )
        person = person and not self._goes_first(at)
        return (person or said) and any(not GOING.isdisjoint(one.tags) for one in earlier)

    def _calls_for_answer(self, piece: Span) -> bool:
        """ "can we?", "confirm pls", "yes or no": beside a question to go in, a word of that question that tells
        of no thing."""
        if piece.figure is not None or piece.told:
            return False
        if "people" in piece.tags and piece.text not in self.language.first_person:
            return False
        entry = self.language.companions.get("entry", frozenset())
        return bool(CALLING & piece.tags) or (
            not piece.tags and all(word in entry for word in piece.text.split())
        )

    def _named_one(self, at: int) -> bool:
        """ "can Bobby get in", "for me and Sean to go down": a name that nobody told us, of one who would go in.
        It is written as one, beside the word for leave, the going in, people or another name."""
        if not self._like_a_name(at):
            return False
        if self._goes_first(at):
            return True  # "para que entre Nando"
        if not any(self._goes(one) for one in self.pieces[at + 1 :]):
            return False
        near = (*self.pieces[max(at - 1, 0) : at], *self.pieces[at + 1 : at + 2])
        led = any(not (PEOPLE | {"leave", "ask"}).isdisjoint(one.tags) or self._goes(one) for one in near)
        return (led and at > 0) or self._beside_person(at)

    def _beside_person(self, at: int) -> bool:
        """ "me and Declan": joined with somebody."""
        joined = [two for one, two in ((at - 1, at - 2), (at + 1, at + 2)) if self._joins(one)]
        return any(0 <= two < len(self.pieces) and self._person(two) for two in joined)

    def _goes(self, piece: Span) -> bool:
        return not (GOING | {"enter_alone", "purpose.entry"}).isdisjoint(piece.tags)

    def _joins(self, at: int) -> bool:
        return 0 <= at < len(self.pieces) and "and" in self.pieces[at].tags

    def _person(self, at: int) -> bool:
        """One who is spoken of, or what stands as a name where no clause begins."""
        return not PEOPLE.isdisjoint(self.pieces[at].tags) or (at > 0 and self._like_a_name(at))

    def _like_a_name(self, at: int) -> bool:
        piece = self.pieces[at]
        return piece.kind == "word" and not piece.tags and piece.raw.isalpha() and piece.raw.istitle()

    def _doer(self, at: int) -> bool:
        """ "1.6 m, Donal checked it": who did what was told, by a name, beside the word for the doing. On whose
        word an inspection is made is another thing; and where a sentence begins every word has a capital."""
        if not self._like_a_name(at) or (at == 0 and self.begins) or not INSPECTING.isdisjoint(self.belong):
            return False
        near = (*self.pieces[max(at - 2, 0) : at], *self.pieces[at + 1 : at + 3])
        words = [word for one in near if one.kind == "word" for word in one.text.split()]
        did = any(self._word(word) and word.endswith(self.language.done_so) for word in words)
        return self._tells and (did or (at > 0 and self._beside_person(at)))

    def _of_others(self) -> bool:
        """Whether it is somebody else who is said to go in: "lads are in"; "going in now" is the sender."""
        words = {word for piece in self.enters for word in piece.text.split()} - self.language.first_person
        return any(not PEOPLE.isdisjoint(self.language.meanings(word)) for word in words)

    def _led(self, at: int) -> bool:
        """Whether leave is asked for the going in that is spoken of here: "can the lads | go in", and no "can
        we go in, the lads | are down there"."""
        words = [self.language.meanings(word) for word in self.pieces[at].text.split()]
        earlier, after = self.pieces[:at], self.pieces[at + 1 :]
        person = any(not PEOPLE.isdisjoint(tags) for tags in words)
        if person and any("enter" in one.tags for one in earlier) and not self._goes_first(at):
            return False
        asked = any(not LEAVE.isdisjoint(one.tags) or "purpose.entry" in one.tags for one in earlier)
        goes = any("enter" in one.tags for one in after)
        before_going = takewhile(lambda one: "enter" not in one.tags, after)
        wanted = goes and any(not ASKED_FOR.isdisjoint(one.tags) for one in before_going)
        within = any(not (LEAVE - BEING).isdisjoint(tags) for tags in words)  # not "lads are in"
        return asked or wanted or within

    def _goes_first(self, at: int) -> bool:
        """ "podem entrar dois homens": who would go in is named right after it, and nothing is said of them."""
        before = next(
            (one for one in reversed(self.pieces[:at]) if one.figure is None and not self._article(one)), None
        )
        rest = self.pieces[at + 1 :]
        plain = all(
            one.kind in ("ref", "mark") or self._slight(one) or one.text in self.language.before_places
            for one in rest
        )
        return before is not None and self._goes(before) and plain

    def _gives_way(self, at: int) -> bool:
        """ "dry, walls down", "set, one off": that something is down, off or out, of a thing and no doing.
        What is tied off or marked out is done, and what is down to the bottom reaches it."""
        language, piece = self.language, self.pieces[at]
        if piece.text not in language.losses or _read(piece) or not (self.belong | self.beside):
            return False
        if self.asks_leave and not piece.tags.isdisjoint(("inwards", "lacking")):
            return False  # "can i send two down", "anything left"
        before = next((one for one in reversed(self.pieces[:at]) if not self._article(one)), None)
        if before is None or before.kind != "word" or before.text in language.manners:
            return False
        if _read(before) and not before.tags.thing:
            return False
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        ends = after is None or after.kind == "mark" or after.text in language.losses
        ends = ends or (self.shores and after is not None and after.figure is None)
        ends = ends or not {"and", "in", "at"}.isdisjoint(after.tags if after else ())
        return ends and not before.text.endswith(language.participles or " ")

    @property
    def _measured(self) -> bool:
        return any(one.figure is not None and one.figure.kind == "length" for one in self.pieces)

    def _ref_follows(self, at: int) -> bool:
        after = next(
            (one for one in self.pieces[at + 1 :] if one.kind == "ref" or not self._article(one)), None
        )
        return after is not None and after.kind == "ref"

    def _edge_follows(self, at: int) -> bool:
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        return after is not None and any(word in self.language.edges for word in after.text.split())

    def _of_a_part(self, at: int) -> bool:
        """ "no water above the boards", "dug to 1.6 below the rail": where only some of it is so."""
        piece = self.pieces[at]
        near = self.belong | self.beside
        return piece.text in self.language.beyond and not _read(piece) and not THROUGHOUT.isdisjoint(near)

    def _ladder_at_edge(self, at: int) -> bool:
        """ "ladder stood by the edge": it is in the trench where it is told how far it stands over it."""
        piece = self.pieces[at]
        if "ladder" not in self.belong | self.beside or self._measured or _read(piece):
            return False
        placed = piece.text in self.language.before_places and "measured_from" not in piece.tags
        return not BESIDE.isdisjoint(piece.tags) or (placed and self._edge_follows(at))

    def _spaced(self, piece: Span) -> bool:
        """ "all set 2 m apart": a spacing told is compared with none."""
        near = self.belong | self.beside
        spaced = self.shores and "unit_t" in near and "spoil_t" not in near and not (self.dug or piece.dug)
        return spaced and piece.figure is not None and piece.figure.kind == "length"

    def _some_of(self, at: int) -> bool:
        """ "40 bar on the good ones": of some units, told by what they are."""
        if at < 2 or not self.shores or "unit_t" not in self.pieces[at].tags:
            return False
        article, quality = self.pieces[at - 2 : at]
        such = (
            quality.text in self.language.manners - self.language.fillers and "throughout" not in quality.tags
        )
        return such and article.kind == "word" and "all" not in article.tags and self._article(article)

    def _of_meter(self, piece: Span) -> bool:
        """ "gas meter ok": of the meter, not of the air. "Monitor reads clear", "monitor been down" are."""
        if "meters" not in piece.tags or not _read(piece) or not self.by_air:
            return False
        return not any(
            "inwards" in one.tags
            or ("air_result" in one.tags and " " in one.text)
            or (
                one is not piece
                and _read(one)
                and (one.figure is not None or not TESTED.isdisjoint(one.tags - METER))
            )
            for one in self.pieces
        )

    def _from_elsewhere(self, at: int) -> bool:
        """ "spoil 2 m from the road", "along the edge": how far from what is no edge, or right at it."""
        piece = self.pieces[at]
        if "spoil_t" not in self.belong or _read(piece) or piece.text not in self.language.before_places:
            return False
        after = next(
            (one for one in self.pieces[at + 1 :] if not self._slight(one) or one.kind == "ref"), None
        )
        if after is None or after.kind in ("mark", "figure"):
            return False
        edge = after.kind == "ref" or any(word in self.language.edges for word in after.text.split())
        if "measured_from" in piece.tags:
            return not edge
        figure = at and self.pieces[at - 1].figure is not None and "range" in piece.tags  # "2 m to the edge"
        return edge and after.kind != "ref" and not figure and "of" not in piece.tags

    def _unheard(self, piece: Span) -> bool:
        """ "can we go in at 20 bar": a pressure that is no reading, of which nobody would hear again."""
        pressure = piece.figure is not None and piece.figure.kind == "pressure"
        return pressure and "entry" in self.belong and piece.state != ""

    def _asked_too(self, tags: Meanings) -> bool:
        """What else is asked for; but who asks to go in to help somebody asks for no help of ours."""
        return bool({*tags.purposes} - NEVER_WITH_ENTRY if "entry" in self.belong else tags.purposes)

    def _hearsay(self, at: int) -> bool:
        """ "the lads inspected it", "inspected by Sol's lad", "ok from a photo": what makes an inspection
        somebody else's. Who is spoken to is none of it."""
        piece = self.pieces[at]
        if INSPECTING.isdisjoint(self.belong):
            return False
        if piece.text in self.own and piece.raw[-2:].lower() in ("'s", "’s"):
            return True
        if piece.text in self.language.sources:
            return not self._own_source(at)
        return not PEOPLE.isdisjoint(piece.tags) and self._others(at)

    def _others(self, at: int) -> bool:
        led = at > 0 and self.pieces[at - 1].text in self.language.sources
        if self._addressed(at) and not led:
            return False
        return any(self._other(word) for word in self.pieces[at].text.split())

    def _own_source(self, at: int) -> bool:
        """ "by me", "by Sol" of Sol, "from end to end"."""
        after = next((one for one in self.pieces[at + 1 :] if not self._article(one)), None)
        if after is None:
            return False
        mine = after.text in self.own or after.text in self.language.first_person - {"my", "our"}
        there = after.kind == "ref" or after.figure is not None or "trench" in after.tags
        return mine or there or after.text.split()[0] in self.language.places or "throughout" in after.tags

    def _article(self, piece: Span) -> bool:
        """A filler that names nobody."""
        return self._slight(piece) and piece.text not in self.language.first_person and piece.kind != "ref"

    def _other(self, word: str) -> bool:
        """Whether a word names somebody else than the sender, beside an inspection."""
        if INSPECTING.isdisjoint(self.belong) or word in self.language.first_person:
            return False
        return not PEOPLE.isdisjoint(self.language.meanings(word))

    def _aside(self, piece: Span) -> bool:
        """ "as planned" of any report, "before we dig" of services; nothing skipped within."""
        said, belong = piece.tags.asides, self.belong | self.beside
        may = "aside" in said or any(not belong.isdisjoint(SUBJECTS[one]) for one in said if one in SUBJECTS)
        return may and all(word in self.language.fillers for word in piece.inside)

    def _one_row(self, piece: Span) -> bool:
        """ "the upper ones at 40 bar", "battered at the bottom": of one row alone, though none was read."""
        words = [self.language.meanings(word) for word in piece.text.split()]
        one = bool(ROWS & piece.tags) or (self.ends and any(ROWS & tags for tags in words))
        return one and not all(self._named(row) for row in ROWS)

    def _no(self, at: int) -> bool:
        """ "no gauges at 40 bar" denies; "no 9 at 40 bar" is a number, "14 no. units" a count."""
        if at and self.pieces[at - 1].figure is not None and self.pieces[at].state == "":
            return False
        after = self.pieces[at + 1].figure if at + 1 < len(self.pieces) else None
        return "deny" in self.pieces[at].tags and (after is None or after.kind != "bare")

    def _named(self, meaning: str) -> bool:
        return any(meaning in piece.tags for piece in self.pieces)

    def _slight(self, piece: Span) -> bool:
        filler = piece.figure is None and piece.text in self.language.fillers
        return piece.kind in ("mark", "ref") or filler

    def _word(self, word: str) -> bool:
        slight = word in self.language.fillers or word in self.own or word in self.manners
        return slight or self._companion(word)

    def _companion(self, word: str) -> bool:
        return any(word in words for words in self.companions)

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
        return bool(self.belong) and all(self._word(word) or self._place(word) for word in words)

    def _lasts(self, piece: Span) -> bool:
        """ "for 5 mins": how long one would be in, of who asks to go in."""
        return piece.figure is not None and self._companion(
            piece.raw.lower().split()[-1].lstrip("0123456789")
        )

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
        """ "set, all of them", "inspected, shores and ends", "may we go in, alright?": beside what another
        clause tells."""
        if "entry" in self.beside and self.questioned and "greeting" in piece.tags:
            return True
        return "all" in piece.tags or (self.inspects and piece.text in self.language.places)

    def _again(self, piece: Span) -> bool:
        """ "ladder in, a good ladder": what was told of, named once more."""
        tags = piece.tags
        named = tags.thing and not (self.belong | self.beside).isdisjoint(tags & self.things)
        return (bool(named) and TURNING.isdisjoint(tags)) or self.tells_again(piece)

    def tells_again(self, piece: Span) -> bool:
        """ "located, spray marked": what was told, told once more; or how long a ladder is."""
        same = piece.state == "" and any(
            fact.means and self.means.issuperset(fact.means) and not self.things.isdisjoint(fact.thing)
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
            one.text in own and not self._place(one.text)
            for one in self.pieces
            if one.figure is None
        )  # fmt: skip

    def _place(self, word: str) -> bool:
        return word in self.language.places or word in self.language.before_places

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
        if after is None or after.figure is None or not _read(after) or not INEXACT.isdisjoint(tags):
            return False
        if not (self.spread or ENDS.isdisjoint(tags)):
            return False  # the lowest of several, and what of the highest?
        return after.figure.kind != "pressure" or LESS.isdisjoint(tags)

    def _addressed(self, at: int) -> bool:
        """ "all set boss": one at the end of a clause is spoken to, and has done nothing."""
        if self.pieces[at].text not in self.language.addressed:
            return False
        return all(self._slight(one) or "thanks" in one.tags for one in self.pieces[at + 1 :])

    def _subject(self, at: int) -> bool:
        """ "boss checked it": one who is addressed, or who did it?"""
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        return "thanks" in self.pieces[at].tags and after is not None and after.tags.said
