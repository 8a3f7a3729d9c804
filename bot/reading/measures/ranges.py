"""Two figures that a word or sign makes one range: "1.2 to 1.8", "1.2 deep falling to 1.8"."""

from bot.reading.text.spans import SaidFigure, Span

LENGTHS = ("length", "bare")
FARTHEST = 10  # pieces from one end to the other: "1.2 deep at the gate end falling to 1.9"


def merge(pieces: list[Span], small: frozenset[str]) -> None:
    """Puts the two ends of each range into its second figure; the first is then used."""
    last: int | None = None
    for at, piece in enumerate(pieces):
        if piece.figure is None or piece.used:
            continue
        if piece.figure.kind not in LENGTHS:
            last = None
            continue
        if last is not None and _joined(pieces, last, at, small):
            first, second = pieces[last].figure, piece.figure
            assert first is not None
            dash = at == last + 2 and pieces[last + 1].text == "-"
            _merge(first, second, dash)
            second.falling = any("falls" in one.tags for one in pieces[max(last - 3, 0) : at])
            pieces[last].used = first.merged = True
        last = at


def _joined(pieces: list[Span], last: int, at: int, small: frozenset[str]) -> bool:
    """Whether what stands between two figures makes them a range."""
    falls = any("falls" in piece.tags for piece in pieces[last + 1 : at]) if at - last < FARTHEST else False
    if at - last > (FARTHEST if falls else 6):
        return False
    before = pieces[last - 1] if last else None
    between = before is not None and "between" in before.tags
    mended = before is not None and "correct" in before.tags  # "1.6 deep - sorry 1.8 - 0.9 wide"
    makes = ends = False
    labelled = ""
    for piece in pieces[last + 1 : at]:
        tags = piece.tags
        if labelled and "at" in tags and _of_service(pieces, last):
            return False  # "gas a 0,6 de profundidad a 4 m": how deep, and where
        if "range" in tags or (piece.kind == "mark" and piece.text == "-"):
            if mended and piece.text == "-" and not piece.glued:
                return False
            makes = True
        elif "end_of_range" in tags:
            ends = True
        elif "and" in tags or piece.text in (",", "&"):
            if not (between or ends or "and" in tags):
                return False
            makes = makes or between or ends
        elif tags.label is not None and tags.label[1] == "after":
            labelled = tags.label[0]
        elif piece.text not in small and (piece.kind != "word" or piece.tags.parts or not falls):
            return False  # "1.2 at the gate end falling to 1.8": where it falls is no other thing
    after = pieces[at + 1].tags.label if at + 1 < len(pieces) else None
    return makes and (not labelled or after is None or after[0] == labelled)


def _of_service(pieces: list[Span], at: int) -> bool:
    clause = pieces[at].clause
    return any(one.tags.service is not None and one.clause == clause for one in pieces[max(at - 4, 0) : at])


def _merge(first: SaidFigure, second: SaidFigure, dash: bool) -> None:
    if first.unit is None and second.unit is not None and first.value < 10 * max(second.value, 1):
        first.unit, first.kind = second.unit, second.kind
    if dash and first.unit is None and first.whole and second.whole and second.value < 12:
        second.doubt = True  # "5-3": feet and inches, or a range?
    if first.other is not None:
        first = max(first, first.other, key=lambda one: one.value)
    second.other = first
