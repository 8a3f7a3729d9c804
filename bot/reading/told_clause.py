"""One clause of a text: what is said in it, and so which other words belong to it."""

from itertools import zip_longest

from bot.language.said import Said
from bot.language.schema import SUBJECTS
from bot.reading.events.statements import TO_GO_IN
from bot.reading.intent.purpose import lack_asked, leave_asked, verdict_asked
from bot.reading.text.clauses import Clause
from bot.reading.text.prepare import PreparedText
from bot.reading.text.spans import Span

OF_ENTRY = frozenset(("entry", "people", "persons", "men", "enter", "enter_alone", "leave"))
INSPECTING = {"inspected", "inspection"}
PEOPLE = frozenset(("people", "persons", "men"))
ASKED_FOR = frozenset(("leave", "ask", "purpose.entry"))
CALLING = frozenset(
    ("leave", "ask", "calls", "people", "now", "verdict", "greeting", "thanks", "and", "or", "doing",
     "aside.entry")
)  # fmt: skip
HEAP = frozenset(("spoil_t", "label.spoil.before"))
LEAVE = frozenset(("ask", "leave", "sends", "open", "exist", "what_of"))
GOING = frozenset(("enter", "inwards"))
ENDS = frozenset(("lowest", "highest"))
SENTENCE_ENDS = frozenset((".", "!", "?", "\n"))


def asks(clause: Clause) -> bool:
    """Whether a clause asks for leave to go in, or what stands in its way."""
    return leave_asked(clause) or lack_asked(clause) or verdict_asked(clause)


def was_read(piece: Span) -> bool:
    """Whether a fact or a figure was taken from it."""
    return piece.told or (piece.used and not piece.aside)


class ToldClause:
    """What is said in a clause, and what of it is known."""

    def __init__(
        self,
        clause: Clause,
        trench: str | None,
        text: PreparedText,
        *,
        head: bool,
        tail: bool,
        dug: bool,
        capitals: bool,
    ) -> None:
        self.pieces = pieces = clause.pieces
        self.trench, self.language, self.head, self.tail = trench, text.language, head, tail
        self.own, self.crew = text.own, text.crew
        self.spread = text.present.issuperset(ENDS)
        enters = [piece for piece in pieces if piece.told and TO_GO_IN in piece.says]
        purposes = {name for piece in pieces if not piece.told for name in piece.tags.purposes}
        led = (at for at, piece in enumerate(pieces) if not ASKED_FOR.isdisjoint(piece.tags))
        self.lead = next(led, 0)
        self.asks_by_leave = any(not ASKED_FOR.isdisjoint(piece.tags) for piece in pieces)
        self.aside_of_question = False
        self.opens = any(
            not ASKED_FOR.isdisjoint(piece.tags) or "calls" in piece.tags for piece in pieces
        ) and all(self._slight(piece) or self._calls_for_answer(piece) for piece in pieces)
        opens = any(not LEAVE.isdisjoint(piece.tags) for piece in pieces)
        self.asks_leave = opens or "entry" in purposes or clause.question or asks(clause)
        purposes |= {"entry"} if enters or asks(clause) else set()
        self.asks = bool(purposes)
        self.enters = enters
        self.reports = any(was_read(piece) and piece not in enters for piece in pieces)
        self.questioned = clause.question
        self.capitals = capitals
        first = text.pieces.index(pieces[0]) if pieces else 0
        self.begins = first == 0 or text.pieces[first - 1].text in SENTENCE_ENDS
        self.done = any(said.group == "done" for piece in pieces for said in piece.says)
        self.denied = any(piece.told and piece.state == "denied" for piece in pieces)
        self.belong: set[str] = set(purposes)
        self.belong |= {name for piece in pieces if was_read(piece) for name in piece.tags}
        self.shores = self.reports and any(
            {"unit_t", "level", "gauge", "gauge_t", "all", "rest"} & piece.tags
            or (was_read(piece) and piece.figure is not None and piece.figure.kind == "pressure")
            or ("unit" in piece.tags and after is not None and after.figure is not None and was_read(after))
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

    @property
    def _tells(self) -> bool:
        """Whether it, or another clause, reports something: of a question to go in no place is told."""
        return self.reports or bool(self.beside - OF_ENTRY)

    def _verdict(self, at: int) -> bool:
        """ "inspected, it is fit": what was found. With anything after it, it may be what is to be done:
        "clear the trench", "clear out", "fit a new rail"."""
        if self.pieces[at].state:
            return False
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        if after is None or after.kind in ("mark", "ref") or not {"and", "now"}.isdisjoint(after.tags):
            return True
        return self._addressed(at + 1) and after.tags.isdisjoint(PEOPLE | {"all"})

    def _calls_for_answer(self, piece: Span) -> bool:
        """ "can we?", "confirm pls", "yes or no": beside a question to go in, words that ask for its answer,
        and tell of nothing."""
        if piece.figure is not None or piece.told:
            return False
        if "people" in piece.tags and piece.text not in self.language.first_person:
            return False
        return bool(CALLING & piece.tags)

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
        plain = piece.kind == "word" and not piece.tags and piece.raw.isalpha() and piece.raw.istitle()
        return plain and not self.capitals

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

    def _next(self, at: int, step: int) -> Span | None:
        """The piece before or after, but for articles and the name of the trench."""
        rest = self.pieces[at + 1 :] if step > 0 else self.pieces[:at][::-1]
        return next((one for one in rest if one.kind != "ref" and not self._article(one)), None)

    def _place(self, word: str) -> bool:
        return word in self.language.places or word in self.language.before_places

    def _addressed(self, at: int) -> bool:
        """ "all set boss": one at the end of a clause is spoken to, and has done nothing."""
        if self.pieces[at].text not in self.language.addressed:
            return False
        return all(self._slight(one) or "thanks" in one.tags for one in self.pieces[at + 1 :])

    def _subject(self, at: int) -> bool:
        """ "boss checked it": one who is addressed, or who did it?"""
        after = self.pieces[at + 1] if at + 1 < len(self.pieces) else None
        return "thanks" in self.pieces[at].tags and after is not None and after.tags.said
