"""The ground as described: kinds with their states, the weaker of two layers, soil types."""

from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

from bot.language.lexicon import Language
from bot.reading.measures.layers import Layer, holds, layers_of, other_matter
from bot.reading.text.spans import Span
from knowledge.names import GROUNDS, STATES_OF
from knowledge.reading import Soil, SoilType

_TYPE = "soil.type"


@dataclass(slots=True)
class SoilTold:
    """What a message says of the ground, and what local words were taken to mean."""

    soil: Soil | None = None
    doubt: bool = False
    taken: list[tuple[str, str]] = field(default_factory=list)
    state_only: str | None = None


def told(pieces: list[Span], language: Language) -> SoilTold:
    """The soil of a message. Of layers the weaker; a state without a kind is only kept aside."""
    said = SoilTold()
    if not any(
        piece.tags.ground or piece.tags.mixed or piece.tags.state or _TYPE in piece.tags for piece in pieces
    ):
        return said
    layers, loose, said.taken = layers_of(pieces, language)
    type_, type_doubt = _type(pieces)
    if len(layers) > 1:
        layers = _same(_corrected(layers, pieces))
    if not layers and loose and len(set(loose)) == 1:
        said.state_only = loose[0]
    if layers and _queried(pieces, layers[0].at):
        said.doubt = True
        layers[0].states = []
    if layers and _denied_after(pieces, layers[-1]):
        said.doubt = True
        layers[-1].states = []
    either = len(layers) > 1 and _either(layers, pieces)
    if either or type_doubt:
        said.doubt = True
        layers = []
    if layers:
        weakest = min(layers, key=_weakness) if len(layers) > 1 else layers[0]
        weakest.states += loose if weakest.states else []  # "firm clay turning soft lower down"
        state = weakest.state
        said.soil = _soil(weakest.kind, state, type_)
        said.doubt = said.doubt or (weakest.kind in STATES_OF and state is None and type_ is None)
        states = {one for layer in layers for one in layer.states}
        for piece in pieces:
            piece.used = piece.used or bool(piece.tags.mixed) or piece.tags.state in states
    elif type_ is not None:
        said.soil = _soil(None, None, type_)
    return said


@cache
def _soil(kind: str | None, state: str | None, type_: str | None) -> Soil:
    return Soil.model_validate({"kind": kind, "state": state, "type": type_})


def _denied_after(pieces: list[Span], layer: Layer) -> bool:
    """ "firm clay no soft clay": a correction, or none of the other?"""
    for at in range(layer.at + 1, min(layer.at + 5, len(pieces))):
        piece = pieces[at]
        if piece.tags.ground == layer.kind and piece.state == "denied":
            return any("correct" in one.tags for one in pieces[layer.at + 1 : at])
    return False


def _queried(pieces: list[Span], at: int) -> bool:
    """ "stiff clay?", "is this stiff clay?": nothing else is in the question."""
    if pieces[at].state != "asked":
        return False
    asked = (one for at_, one in enumerate(pieces) if one.state == "asked" or at_ < at)
    return not any(one.figure or one.tags.purposes or one.tags.label or one.tags.service for one in asked)


def _corrected(layers: list[Layer], pieces: list[Span]) -> list[Layer]:
    """A soil said after a correcting word takes the place of the one before."""
    kept: list[Layer] = []
    for layer in layers:
        start = kept[-1].at if kept else layer.at
        gap = pieces[start + 1 : layer.at]
        if kept and any("correct" in one.tags for one in gap) and len(gap) <= 6 and not other_matter(gap):
            kept.pop()
        kept.append(layer)
    return kept


def _same(layers: list[Layer]) -> list[Layer]:
    """The same kind named twice, once without its state, is one soil."""
    known = {layer.kind for layer in layers if layer.state is not None}
    return [layer for layer in layers if layer.state is not None or layer.kind not in known or layer.doubt]


def _either(layers: list[Layer], pieces: list[Span]) -> bool:
    """ "clay or sand": one of the two, and not said which."""
    for one, two in pairwise(layers):
        if any("two_soils" in piece.tags for piece in pieces[one.at + 1 : two.at]):
            return True
    return False


def _weakness(layer: Layer) -> tuple[int, bool]:
    """Its place among all grounds. Untold, the state is taken for the weakest that can be dug in."""
    states = STATES_OF.get(layer.kind, (None,))
    weakest = states[1] if states[0] == "very soft" else states[0]
    state = layer.state or weakest
    return GROUNDS.index((layer.kind, state)), layer.state is not None


def _type(pieces: list[Span]) -> tuple[SoilType | None, bool]:
    """The 29 CFR 1926 Subpart P type named, and whether two were."""
    found: list[SoilType] = []
    ranged = False
    for at, piece in enumerate(pieces):
        if _TYPE not in piece.tags or not holds(piece):
            continue
        for one in pieces[at + 1 : at + 6]:
            if one.kind == "word" and one.text in ("a", "b", "c") and not one.used:
                if not one.raw.isupper() and found and one.text == "a":
                    break
                found.append(one.text.upper())  # type: ignore[arg-type]
                one.used = piece.used = True
            elif "range" in one.tags or one.text == "/":
                ranged = True
            elif one.text not in ("-", ":", "=", "or", "is"):
                break
    distinct = set(found)
    if len(distinct) > 1 and not ranged:
        return None, True
    return (max(distinct) if distinct else None), False
