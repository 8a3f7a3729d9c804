"""Answers to what was asked: a bare figure, "none", "the first", read for the field that was asked about."""

from dataclasses import dataclass
from typing import Any

from bot.reading.intent.references import named
from bot.reading.measures import beside, lengths, ranges, soil
from bot.reading.measures.lengths import MeasuredLengths, metres
from bot.reading.text.prepare import PreparedText
from bot.reading.text.spans import Span
from knowledge.names import STATES_OF
from knowledge.reading import LENGTHS, Beside, Soil

FIGURES = {field: dimension for dimension, field in LENGTHS.items()}
ENDS = {"opened": "open", "battered": "battered", "supported": "supported"}


@dataclass(slots=True)
class Question:
    """What the sender was asked: fields, the most wanted first, and the text that they were asked about."""

    asked: tuple[str, ...]
    earlier: PreparedText | None = None


def answer(
    text: PreparedText, question: Question, measured: MeasuredLengths, ground: soil.SoilTold
) -> dict[str, Any]:
    """What an answer gives beyond what it says by itself: values by field."""
    asked = question.asked
    values: dict[str, Any] = {}
    choice = _choice(question.earlier) if question.earlier is not None else []
    if "soil" in asked and ground.soil is None:
        if question.earlier is not None:
            _complete(ground, question.earlier)
        said = [piece for piece in text.pieces if piece.kind != "mark"]
        if len(said) == 1 and said[0].text in ("a", "b", "c"):
            said[0].used = True
            ground.soil = Soil.model_validate({"type": said[0].text.upper()})
    values.update(_which(text.pieces, asked, choice))
    if asked[0] == "beside" and (thing := _stands_off(measured, question, text.imperial)) is not None:
        values["beside"] = (thing,)
    if not values:
        field = _bare(measured, asked, text.imperial)
        if (
            field == "depth_m"
            and asked[:2] == ("depth_m", "width_m")
            and measured.values.get("depth") in choice
        ):
            depth = measured.values["depth"]
            values["width_m"] = choice[1] if depth == choice[0] else choice[0]
    for field in asked:
        word = _word(text, field)
        if word is not None:
            values.setdefault(field, word)
    return values


def _choice(earlier: PreparedText) -> list[float]:
    """The two figures of an earlier "1.6 x 0.9" that no label claimed; none where there were not two."""
    named(earlier)
    ranges.merge(earlier.pieces, earlier.language.small)
    loose = lengths.measure(earlier.pieces, earlier.language, earlier.imperial).loose
    found = [
        lengths.plain_metres(piece.figure, earlier.imperial) for piece in loose if piece.figure is not None
    ]
    known = [round(value, 3) for value in found if value is not None]
    return known if len(known) == 2 else []


def _complete(ground: soil.SoilTold, earlier: PreparedText) -> None:
    """ "firm", of the clay told before."""
    kind = soil.told(earlier.pieces, earlier.language).soil if ground.state_only is not None else None
    if ground.soil is None and kind is not None and ground.state_only in STATES_OF.get(kind.kind or "", ()):
        ground.soil = Soil.model_validate({"kind": kind.kind, "state": ground.state_only})
        ground.doubt = False


def _bare(measured: MeasuredLengths, asked: tuple[str, ...], imperial: bool) -> str | None:
    """Gives the one figure that nothing claims to the length that was asked for. Its field, where it did.

    Only the first question was put: "0.8 m" after "how firm is the clay?" is no width.
    """
    wanted = [field for field in asked if field in FIGURES] if asked[0] in FIGURES else []
    loose = [piece for piece in measured.loose if not piece.used]
    if not wanted or not loose or FIGURES[wanted[0]] in measured.claimed:
        return None
    dimension = FIGURES[wanted[0]]
    figure = loose[0].figure
    value = metres(figure, dimension, imperial) if figure is not None and len(loose) == 1 else None
    if figure is None or value is None:
        measured.doubts.add(dimension)
        return wanted[0]
    loose[0].used = True
    measured.values[dimension] = value
    measured.unit = figure.unit or ("mm" if figure.value >= 100 else "m")
    return wanted[0]


def _stands_off(measured: MeasuredLengths, question: Question, imperial: bool) -> Beside | None:
    """The one thing beside the trench whose distance was asked, now that the one figure told gives it."""
    loose = [piece for piece in measured.loose if not piece.used]
    if question.earlier is None or len(loose) != 1 or loose[0].figure is None:
        return None
    earlier = question.earlier
    untold = [
        one
        for one in beside.told(earlier.pieces, earlier.language, earlier.imperial).things
        if one.at_m is None
    ]
    value = lengths.plain_metres(loose[0].figure, imperial)
    if len(untold) != 1 or value is None or not 0 <= value <= beside.FARTHEST_M:
        return None
    loose[0].used = True
    return untold[0].model_copy(update={"at_m": round(value, 3)})


def service_asked(question: Question) -> str | None:
    """The one service of the earlier text, where it was asked where it lies: "at 3 m 0.6 down" is of it."""
    if question.asked[:1] != ("services",) or question.earlier is None:
        return None
    named = {piece.tags.service for piece in question.earlier.pieces if piece.tags.service is not None}
    known = named - {"unknown"} or named
    return known.pop() if len(known) == 1 else None


def _which(pieces: list[Span], asked: tuple[str, ...], choice: list[float]) -> dict[str, float]:
    """ "the first" of two earlier figures for the depth: then the other is the width."""
    wanted = [field for field in asked if field in ("depth_m", "width_m")]
    if len(wanted) != 2 or not choice:
        return {}
    place = next((int(piece.tags.ordinal) for piece in pieces if piece.tags.ordinal), None)
    if place is None and any("last_one" in piece.tags for piece in pieces):
        place = 2
    if place not in (1, 2):
        return {}
    return {wanted[0]: choice[place - 1], wanted[1]: choice[2 - place]}


def _word(text: PreparedText, field: str) -> str | bool | None:
    """A word that answers a field by itself: "none" for water, "yes" for traffic, "battered" for the ends."""
    present = text.present
    denied = not present.isdisjoint(("deny", "none"))
    if field == "water" and denied:
        return "dry"
    if field == "traffic" and (denied or "yes" in present):
        return not denied
    if field == "ends" and not text.figures:  # "one battered" leaves the other end untold
        return next((end for meaning, end in ENDS.items() if meaning in present), None)
    return "stands" if field == "face" and "stands" in present else None
