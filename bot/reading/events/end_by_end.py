"""The two ends of a trench told one after the other: "north end battered, south end boarded and propped".

What is told of one end is told of a part. Where each of the two is told done, both are.
"""

from itertools import pairwise

from bot.language.lexicon import Language
from bot.reading.text.clauses import Clause
from bot.reading.text.spans import Span

DONE = ("battered", "supported")
IN_PART = frozenset(("part", "part_after", "limit", "except", "elsewhere", "cloud", "undo_after", "not_done"))


def join_ends(clauses: list[Clause], language: Language) -> bool:
    """Where both ends are told, each is read as the ends are, else nothing changes; whether they are."""
    pieces = [piece for clause in clauses for piece in clause.pieces]
    named = [at for at, piece in enumerate(pieces) if "one_end" in piece.tags]
    if len(named) != 2 or not _opposite(pieces, named[0], named[1], language):
        return False
    apart = pieces[named[1]]
    if pieces[named[0]].clause != apart.clause:  # "road end sloped, same at the other end"
        apart = clauses[apart.clause].pieces[0]
    parted = next(at for at, piece in enumerate(pieces) if piece is apart)
    told = [pieces[:parted], pieces[parted:]]
    involved = {pieces[at].clause for at in named}
    if not all(_done(one, again=at == 1) for at, one in enumerate(told)):
        return False
    if any(clauses[at].limited or clauses[at].question for at in involved):
        return False
    if any(_of_a_thing(pieces, at) for at in named):
        return False  # "back end of the digger"
    others = [piece for at, piece in enumerate(pieces) if at not in named]
    if any(not IN_PART.isdisjoint(piece.tags) for piece in others):
        return False
    for at in named:
        pieces[at].tags = language.meanings(next(iter(language.said("end_t"))))
    for at in involved:
        clauses[at].partly = False
    same = next((piece for piece in told[1] if "same" in piece.tags), None)
    if same is not None and not any(_says(piece) for piece in told[1]):
        same.tags = next(piece.tags for piece in told[0] if _says(piece))
    return True


def _of_a_thing(pieces: list[Span], at: int) -> bool:
    """Whether an end is said to be that of something which is no trench."""
    after = pieces[at + 1 : at + 4]
    led = bool(after) and "of" in after[0].tags
    return led and any(one.tags.thing and "trench" not in one.tags for one in after[1:])


def _says(piece: Span) -> bool:
    return not piece.state and any(one in piece.tags for one in DONE)


def _done(pieces: list[Span], *, again: bool) -> bool:
    """Whether an end is told battered or supported, and nothing else of it is denied, planned or asked."""
    if any(piece.state for piece in pieces):
        return False
    return any(_says(piece) or (again and "same" in piece.tags) for piece in pieces)


def _name(text: str, language: Language) -> str:
    """ "at the south end": the south end."""
    if any(text in pair for pair in language.vocabulary.opposite_ends):
        return text
    return " ".join(word for word in text.split() if word not in language.before_places | language.fillers)


def _opposite(pieces: list[Span], first: int, last: int, language: Language) -> bool:
    """ "north end" and "south end", "road end" and "the other end", or two of which "both ends" is said."""
    one, two = (_name(pieces[at].text, language) for at in (first, last))
    if one == two:
        return False
    pairs = language.vocabulary.opposite_ends
    if any({one, two} == {*pair} for pair in pairs) or two in language.said("other_end"):
        return True
    return any("both" in a.tags and "end_t" in b.tags for a, b in pairwise(pieces)) or any(
        "end_t" in piece.tags and piece.text.startswith("both") for piece in pieces
    )
