"""What of a text nothing accounts for. A report counts only where nothing is left over.

No list of what may spoil a report ends, and what is not understood is not nothing.

A part is accounted for as the thing or state of a fact, as a figure that was read, as a word that belongs to
such a fact ("ladder in and tied"), or as a filler. Everything else is left over, in the order told.
"""

from collections.abc import Iterator

from bot.language.lexicon import Language, beside
from bot.reading.text.clauses import Clause
from bot.reading.text.spans import Span

PLAIN_MARKS = frozenset(
    (",", ".", "-", ":", ";", "!", "\n", "(", ")", "&", "/", "=", "'", '"', "+", "|", "–")
)
ASKING = frozenset(("ask", "open", "exist", "people", "persons", "men", "enter", "enter_alone"))
SHORES = frozenset(
    ("unit", "unit_t", "level", "all", "top", "bottom", "number", "gauge", "gauge_t", "set", "rest")
)
BEFORE_FIGURE = frozenset(
    ("at", "now", "link", "number", "along", "crossing", "down", "upon", "more", "range")
)
ENTERING = frozenset(("enter", "enter_alone"))
DENYING = frozenset(("deny", "none", "none_after"))
HEAD = 3  # words of greeting that may open a text


def left_over(pieces: list[Span], clauses: list[Clause], trench: str | None, language: Language) -> list[str]:
    """The words, figures and marks that nothing accounts for."""
    found: list[str] = []
    dug = any(piece.dug for piece in pieces)
    for at, clause in enumerate(clauses):
        own = _Clause(clause, trench, language, head=at == 0, tail=at == len(clauses) - 1, dug=dug)
        found.extend(own.left_over())
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
        self, clause: Clause, trench: str | None, language: Language, *, head: bool, tail: bool, dug: bool
    ) -> None:
        self.pieces = pieces = clause.pieces
        self.trench, self.language, self.head, self.tail = trench, language, head, tail
        enters = [piece for piece in pieces if piece.told and not ENTERING.isdisjoint(piece.tags)]
        purposes = {name for piece in pieces if not piece.told for name in piece.tags.purposes}
        purposes |= {"entry"} if enters else set()
        self.asks = bool(purposes)
        self.reports = any(_read(piece) and piece not in enters for piece in pieces)
        self.questioned = clause.question
        self.denied = any(piece.told and piece.state == "denied" for piece in pieces)
        self.belong = {beside(name) for name in purposes}
        self.belong |= {beside(name) for piece in pieces if _read(piece) for name in piece.tags}
        if self.reports and any(
            {"unit_t", "level", "gauge", "gauge_t", "all"} & piece.tags for piece in pieces
        ):
            self.belong |= SHORES | {beside("unit_t")}
        if dug and any("dug" in piece.tags for piece in pieces):
            self.belong |= {"dug", beside("dug")}
        if all(self._slight(piece) or "verdict" in piece.tags for piece in pieces):
            self.belong.add("verdict")  # a verdict alone

    def left_over(self) -> Iterator[str]:
        if self.questioned and self.reports:
            yield "?"
        for at, piece in enumerate(self.pieces):
            if piece.kind == "ref":
                if piece.text.upper() != self.trench:
                    yield piece.raw
            elif _read(piece):
                yield from (word for word in piece.inside if word not in self.language.fillers)
            elif not self._belongs(at, piece):
                yield piece.raw

    def _belongs(self, at: int, piece: Span) -> bool:
        tags = piece.tags
        return (
            self._slight(piece)
            or (self.asks and (bool(tags.purposes) or not ASKING.isdisjoint(tags)))
            or not self.belong.isdisjoint(tags)
            or (self.denied and not DENYING.isdisjoint(tags))
            or (not BEFORE_FIGURE.isdisjoint(tags) and self._figure_follows(at))
            or (self.head and at < HEAD and "greeting" in tags)
            or (self.tail and "thanks" in tags)
        )

    def _slight(self, piece: Span) -> bool:
        filler = piece.figure is None and piece.text in self.language.fillers
        return piece.kind in ("mark", "ref") or filler

    def _figure_follows(self, at: int) -> bool:
        """Whether a figure that was read comes next, so that a preposition belongs to it."""
        after = next((piece for piece in self.pieces[at + 1 : at + 3] if piece.figure is not None), None)
        return after is not None and _read(after)
