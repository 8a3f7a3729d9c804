"""One message made ready: its pieces with their meanings, its clauses, what is said of what."""

from dataclasses import dataclass, field
from itertools import pairwise

from bot.language.lexicon import Language
from bot.language.tokens import Token
from bot.reading.events import statements
from bot.reading.events.end_by_end import join_ends
from bot.reading.events.statements import Found
from bot.reading.measures import lengths
from bot.reading.text.clauses import Clause, clauses_of
from bot.reading.text.figures import pieces_of
from bot.reading.text.phrases import mended, tagged
from bot.reading.text.spans import Span


@dataclass(slots=True)
class PreparedText:
    """What every stage works from. `present` holds the meanings that occur anywhere in the message."""

    language: Language
    pieces: list[Span]
    clauses: list[Clause]
    found: Found
    imperial: bool
    present: set[str] = field(default_factory=set)
    figures: bool = False
    by_end: bool = False  # both ends are told, one after the other
    own: frozenset[str] = frozenset()  # the names of the sender, with which texts are signed
    crew: frozenset[str] = frozenset()  # the names of the others on the site, of whom leave may be asked


def text_of(tokens: list[Token], language: Language) -> PreparedText:
    """The message in one language; figures that measure nothing are set aside."""
    pieces = tagged(pieces_of(mended(tokens, language), language), language)
    present: set[str] = set().union(*[piece.tags for piece in pieces])
    clauses = clauses_of(pieces, present, language)
    by_end = "one_end" in present and join_ends(clauses, language)
    found = statements.find(clauses)
    figures = any(piece.figure is not None for piece in pieces)
    text = PreparedText(
        language, pieces, clauses, found, figures and lengths.is_imperial(pieces), present, figures,
        by_end,
    )  # fmt: skip
    if figures:
        _set_aside(pieces)
        if "flaw" in present:
            for clause in clauses:
                _set_flaws_aside(clause.pieces)
    return text


def _set_aside(pieces: list[Span]) -> None:
    """Marks figures that measure nothing: counts, job numbers, times, weights."""
    for at, piece in enumerate(pieces):
        figure = piece.figure
        if figure is None:
            continue
        if figure.kind in ("noise", "other"):
            piece.used = piece.aside = True
        elif figure.kind == "bare":
            after = pieces[at + 1].tags if at + 1 < len(pieces) else ()
            counted = "count" in after and "unit_t" not in after
            piece.used = piece.aside = counted or _referred(pieces, at)


def _set_flaws_aside(pieces: list[Span]) -> None:
    """Marks what measures a crack or a fall and not the trench: "crack 2 m long", "a 20 mm wide crack"."""
    flaws = [at for at, piece in enumerate(pieces) if "flaw" in piece.tags]
    if not flaws:
        return
    named = False  # "crack along the edge, depth 1.6": what follows is the trench's again
    for at, (piece, after) in enumerate(pairwise(pieces)):
        label = piece.tags.label
        named = named or (label is not None and label[1] == "before" and at > flaws[0])
        if piece.figure is None or after.tags.label is None or after.tags.label[1] != "after":
            continue
        if (at > flaws[0] and not named) or at + 2 in flaws:
            piece.used = after.used = piece.aside = after.aside = True


def _referred(pieces: list[Span], at: int) -> bool:
    """Whether a figure is the number of something: "job no. 1600"."""
    before = at - 1
    while (
        before >= 0
        and at - before < 4
        and (pieces[before].text in (":", ".", "-", "#") or "number" in pieces[before].tags)
    ):
        before -= 1
    return before >= 0 and "reference" in pieces[before].tags


def set_elsewhere_aside(text: PreparedText) -> None:
    """Figures and soil of another trench, another day, a question or a supposition are not of this one."""
    if text.present.isdisjoint(("elsewhere", "exist", "suppose")):
        return
    for clause in text.clauses:
        away = any("elsewhere" in piece.tags for piece in clause.pieces)
        queried = any("exist" in piece.tags for piece in clause.pieces[:4])
        for piece in clause.pieces:
            ground = bool(piece.tags.ground or piece.tags.mixed or piece.tags.state)
            if (piece.figure is not None or ground) and (away or piece.state == "supposed"):
                piece.used = piece.aside = piece.figure is not None
                piece.state = "supposed"
            elif queried and ground:
                piece.state = "supposed"
