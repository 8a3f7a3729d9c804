"""Answers to what was asked: a bare figure, "none", "the first", read for the field that was asked about."""

from bot.reading.figures import Piece
from bot.reading.lengths import FIELDS, Measured, metres

FIGURES = {field: dimension for dimension, field in FIELDS.items()}


def bare(pieces: list[Piece], measured: Measured, asked: tuple[str, ...], imperial: bool) -> str | None:
    """Gives the one figure that nothing claims to the first length asked about. Its field, where it did."""
    wanted = [field for field in asked if field in FIGURES]
    loose = [piece for piece in measured.loose if not piece.used]
    if not wanted or not loose:
        return None
    dimension = FIGURES[wanted[0]]
    if dimension in measured.claimed:
        return None
    if len(loose) > 1 or loose[0].figure is None:
        measured.doubts.add(dimension)
        return wanted[0]
    loose[0].used = True
    value = metres(loose[0].figure, dimension, imperial)
    if value is None:
        measured.doubts.add(dimension)
    else:
        measured.values[dimension] = value
        measured.unit = loose[0].figure.unit or ("mm" if loose[0].figure.value >= 100 else "m")
    return wanted[0]


def which(pieces: list[Piece], asked: tuple[str, ...], earlier: list[float]) -> dict[str, float]:
    """"the first" (or one of the two figures again) for the depth of an earlier "1.6 x 0.9": then the other is the width."""
    wanted = [field for field in asked if field in ("depth_m", "width_m")]
    if len(wanted) != 2 or len(earlier) != 2:
        return {}
    place = next((int(piece.tags.ordinal) for piece in pieces if piece.tags.ordinal), None)
    if place is None and any("last_one" in piece.tags for piece in pieces):
        place = 2
    if place not in (1, 2):
        return {}
    return {wanted[0]: earlier[place - 1], wanted[1]: earlier[2 - place]}


def said_of(pieces: list[Piece], field: str) -> str | bool | None:
    """A word that answers a field by itself: "none" for water, "yes" for traffic, "battered" for the ends."""
    tags = {tag for piece in pieces for tag in piece.tags}
    if field == "water" and ("deny" in tags or "none" in tags):
        return "dry"
    if field == "traffic" and ("deny" in tags or "none" in tags):
        return False
    if field == "traffic" and "yes" in tags:
        return True
    if field == "ends":
        return next((end for end, tag in (("open", "opened"), ("battered", "battered"), ("supported", "supported")) if tag in tags), None)
    if field == "face" and "stands" in tags:
        return "stands"
    return None
