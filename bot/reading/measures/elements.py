"""The labels, figures and correcting words of a message in a row, each with what joins it to the last."""

from dataclasses import dataclass

from bot.language.lexicon import Language
from bot.reading.text.spans import SaidFigure, Span


@dataclass(slots=True)
class Element:
    """A label, a figure or a correcting word in the run of a message. `dimension` is "" for a figure."""

    piece: Span
    at: int
    dimension: str = ""
    place: str = ""
    figure: SaidFigure | None = None
    correcting: bool = False
    of_object: str = ""  # a figure right after the name of an "object" ("boards 2.4 long") or "service"
    due: bool = False  # the label of a machine that is said to come: a figure may be the time
    placed: bool = False  # a figure after "at"
    joiner: str = ""  # what stands between it and the element before: "", x, and, or, /, ",", "|", "="


def elements_of(pieces: list[Span], language: Language) -> list[Element]:
    elements: list[Element] = []
    joiner = "|"
    vague = denied = in_range = named = False
    for at, piece in enumerate(pieces):
        figure = piece.figure
        if figure is not None:
            if figure.kind == "other":
                continue  # the weight of a digger does not part it from its distance
            if figure.merged:
                in_range = True
                continue
            if figure.spoken and _uncounted(pieces, at):
                continue
            in_range = False
            if piece.used or figure.kind not in ("length", "bare"):
                joiner = "|"
                continue
            if denied and not piece.used:
                piece.used = True  # "1.8 not 1.6"
                denied = False
                continue
            if vague:
                figure.at_least = at > 0 and "at_least" in pieces[at - 1].tags
                figure.doubt = not figure.at_least
            placed = at > 0 and "placing" in pieces[at - 1].tags
            owned = _of_object(pieces, at) or _same_object(elements, joiner)
            elements.append(Element(piece, at, figure=figure, joiner=joiner, of_object=owned, placed=placed))
            joiner, vague, named = "", False, False
            continue
        if in_range and not piece.tags.label:
            continue
        denied = "negation" in piece.tags
        if piece.kind == "mark":
            vague = piece.text in (">", "<")
            label_at = elements[-1].at if elements and elements[-1].dimension else -2
            joiner = "=" if piece.text == "-" and piece.glued and label_at == at - 1 else _sign(piece, joiner)
            continue
        if piece.kind == "ref" and elements and _of_trench(elements[-1], joiner):
            named = True
            continue  # "width of T7 0.9"
        label = None if piece.used else _label(piece)
        if "of" in piece.tags and label is None and _run_of(pieces, at):
            label = ("length", "after")  # "24 m of T7"
        if "stretch" in piece.tags and elements and _range_before(elements[-1]) and _figure(pieces, at + 1):
            elements.append(Element(piece, at, "length", "before", joiner="|"))  # "1.2 to 1.9 over 20 m"
            joiner = ""
            continue
        if label is not None:
            if "thickness" in piece.tags and not any(_paved(one) for one in pieces):
                label = ("other", "after")
            due = label[0] == "plant" and _due(pieces, piece.clause)
            if label[1] == "after" and label[0] in ("length", "width") and _owns(pieces, at + 1):
                label = ("other", "after")  # "3 m long ladder"
            elements.append(Element(piece, at, *label, due=due, joiner=joiner))
            joiner, named = "", False
            continue
        if "correct" in piece.tags and elements:
            elements.append(Element(piece, at, correcting=True, joiner=joiner))
            joiner = ""
            continue
        vague = "vague" in piece.tags and not _roofed(pieces, at)
        joiner = "|" if named and joiner == "," else _word(pieces, at, joiner, language.small)
    return elements


def _paved(piece: Span) -> bool:
    return "paved" in piece.tags or piece.tags.label == ("pavement", "before")


def _roofed(pieces: list[Span], at: int) -> bool:
    """ "silt under 150 mm of tarmac": what lies above, and not less than so much."""
    tags = pieces[at].tags
    follows = pieces[at + 1 : at + 4]
    if "over" not in tags or "at_least" in tags or not follows or follows[0].figure is None:
        return False
    return any(one.tags.label is not None and one.tags.label[0] == "pavement" for one in follows[1:])


def _of_trench(element: Element, joiner: str) -> bool:
    """Whether a trench named here is the one that the label before it speaks of."""
    return bool(element.dimension) and element.place == "before" and joiner in ("", "=")


def _run_of(pieces: list[Span], at: int) -> bool:
    """ "24 m of T7": so much of the trench, where nothing before it is told to stand so far from it."""
    if at + 1 >= len(pieces) or pieces[at + 1].kind != "ref" or not at:
        return False
    figure, clause = pieces[at - 1].figure, pieces[at].clause
    if figure is None or figure.kind != "length":
        return False
    before = (one for one in pieces[: at - 1] if one.clause == clause and one.kind == "word")
    placed = ("at", "placing")  # "1.8 m of T7" after "at" is a distance in more than one language
    return not any(one.tags.thing or one.tags.label or not one.tags.isdisjoint(placed) for one in before)


def _same_object(elements: list[Element], joiner: str) -> str:
    """ "plates 2.4 long 1.2 wide": the second figure is the object's too."""
    if len(elements) < 2 or joiner not in ("", "x") or elements[-1].place != "after":
        return ""
    return "object" if elements[-2].of_object == "object" else ""


def _wet(piece: Span) -> bool:
    """Water that a figure beside it may be the depth of."""
    return not {"water_t", "standing_water", "flooded"}.isdisjoint(piece.tags) and piece.state != "denied"


def _due(pieces: list[Span], clause: int) -> bool:
    return any("arriving" in one.tags for one in pieces if one.clause == clause)


def _owns(pieces: list[Span], at: int) -> bool:
    return at < len(pieces) and ("object" in pieces[at].tags or pieces[at].tags.service is not None)


def _range_before(element: Element) -> bool:
    return element.figure is not None and element.figure.other is not None


def _of_object(pieces: list[Span], at: int) -> str:
    for before in reversed(pieces[max(at - 3, 0) : at]):
        if "object" in before.tags:
            return "object"
        if before.tags.service is not None or (before is pieces[at - 1] and _wet(before)):
            return "service"
        if "meant_for" in before.tags:
            return ""
        if before.tags.label is not None and before.tags.label[0] == "plant":
            return "object"
        if before.kind != "word" or (before.tags and {"link", "upon"}.isdisjoint(before.tags)):
            return ""
    return ""


def _uncounted(pieces: list[Span], at: int) -> bool:
    """A spoken "one" or "two" that stands by no label and no other figure: "got one here",
    "send two down"."""
    figure = pieces[at].figure
    if figure is None or not (figure.spoken and figure.whole and figure.unit is None) or figure.value >= 100:
        return False
    after = pieces[at + 1] if at + 1 < len(pieces) else None
    before = pieces[at - 1] if at else None
    if after is not None and {"below", "dug"} <= after.tags:
        return True  # "down" is where they go, or lie
    joins = {"times", "range", "between", "link", "or", "vague", "correct"}
    for near in (before, after):
        if near is not None and (
            (near.kind == "mark" and near.text in (":", "=")) or joins & set(near.tags) or _label(near)
        ):
            return near is after and "link" in near.tags and not _label(near)
    return True


def _sign(piece: Span, joiner: str) -> str:
    text = piece.text
    if text in (".", "!", "?", ";", "|"):
        return "|"
    if text in (",", "\n", "(", ")", "[", "]", "-"):
        return joiner if joiner == "|" else ","
    if text == "/":
        return "/"
    if text in (":", "="):
        return "=" if joiner == "" else joiner
    if text in ("&", "+"):
        return "and"
    return "x" if text == "*" else joiner


def _figure(pieces: list[Span], at: int) -> bool:
    return 0 <= at < len(pieces) and pieces[at].figure is not None


def _word(pieces: list[Span], at: int, joiner: str, small: frozenset[str]) -> str:
    """What joins the elements, after one more word."""
    piece = pieces[at]
    tags = piece.tags
    if joiner in ("|", ","):
        return "|" if tags.parts or piece.kind == "ref" or piece.text not in small else joiner
    if not tags:
        return joiner
    between = _figure(pieces, at - 1) and _figure(pieces, at + 1)
    if "times" in tags and (between or "link" not in tags):  # Polish "na": "1,6 na 0,9", "deep na 1,6"
        return "x"
    if "plus" in tags:
        return "plus"
    if "and" in tags:
        return "and"
    if "or" in tags or "two_soils" in tags:
        return "or"
    if tags.parts or piece.kind == "ref":
        return "|"
    if "link" in tags and joiner == "":
        return "="
    return joiner


def _label(piece: Span) -> tuple[str, str] | None:
    return piece.tags.label
