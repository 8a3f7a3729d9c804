"""An air test by its figures: oxygen, flammable gas, carbon monoxide, hydrogen sulphide."""

import re

from bot.reading.text.spans import Span
from knowledge.reading import Air

GASES = {
    "oxygen": "oxygen_pct",
    "lel": "lel_pct",
    "carbon_monoxide": "co_ppm",
    "hydrogen_sulphide": "h2s_ppm",
}
NAMED = (*GASES, "air_t", "air_tested")
NIL = frozenset(("none", "none_after"))
BESIDE = 3  # places between the name of a gas and its figure


def read(pieces: list[Span]) -> Air | None:
    """The figures that stand beside the name of a gas, each used; None where none does.

    The figure after a name is its own, else the one before it: "O2 20.9, LEL 0", "20.9 O2 and zero LEL".
    Units are not looked at: oxygen and flammable gas are told in per cent, the others in parts per million.
    """
    found: dict[str, float] = {}
    named = [
        (at, name)
        for at, piece in enumerate(pieces)
        for tag, name in GASES.items()
        if tag in piece.tags and not ("ask" in piece.tags and _asks(pieces, at))
    ]
    leads = bool(named) and bool(_figure(pieces, named[0][0], -1)) and not _figure(pieces, named[-1][0], 1)
    for at, name in named:
        if name != "oxygen_pct" and name not in found and _nil(pieces, at):
            found[name] = 0.0
            continue
        before, after = _figure(pieces, at, -1), None if leads else _figure(pieces, at, 1)
        if name == "oxygen_pct" and _value(before) and _value(after) == 0:
            after = None  # "20.9 oxy zero gas": no air that anybody breathes holds none
        piece = after or before
        value = _value(piece)
        if piece is None or value is None or name in found:
            continue
        found[name] = value
        piece.used = pieces[at].used = True
        piece.aside = False
    if "oxygen_pct" not in found and (alone := _alone(pieces)) is not None:
        found["oxygen_pct"], alone.aside = _value(alone), False  # type: ignore[assignment]
        for piece in pieces:
            piece.used = piece.used or piece is alone or "air_t" in piece.tags
    if found:
        _zeros(pieces)
    return Air(**found) if found else None


def _zeros(pieces: list[Span]) -> None:
    """ "20.9 oxygen, 0 0 0", "gas 0", "zero methane": nothing of the gases that the meter shows beside."""
    for at, piece in enumerate(pieces):
        before = next((one for one in reversed(pieces[:at]) if one.kind != "mark"), None)
        near = [one for one in (before, *pieces[at + 1 : at + 2]) if one is not None]
        beside = before is not None and before.used and before.figure is not None
        beside |= any(not one.tags.isdisjoint(("gas_t", "gas_alarm")) for one in near)
        if beside and not piece.used and _value(piece) == 0:
            piece.used, piece.aside = True, False


def _asks(pieces: list[Span], at: int) -> bool:
    """Whether a word that names a gas and asks ("co" in Polish) names none: no figure comes right after it,
    and nothing else says that a gas is meant: another gas, ppm, capitals."""
    after = pieces[at + 1 : at + 3]
    if not after or after[0].figure is None:
        return True
    others = any(tag in one.tags for one in pieces if "ask" not in one.tags for tag in GASES)
    ppm = "ppm" in (after[0].raw.lower()[-3:], after[-1].text)
    return not (others or ppm or pieces[at].raw.isupper())


def _alone(pieces: list[Span]) -> Span | None:
    """ "air good, 20.9": the one figure of an air test that is of no gas named, with a decimal, is oxygen's.

    Were it of flammable gas it would be as bad as so little oxygen: either way nobody goes in.
    """
    figures = [
        piece
        for piece in pieces
        if piece.figure is not None and piece.figure.kind != "ordinal" and _value(piece) != 0
    ]
    if len(figures) != 1 or figures[0].used or figures[0].figure is None:
        return None
    figure = figures[0].figure
    tested = any("air_t" in piece.tags or "air_tested" in piece.tags for piece in pieces)
    beside = [piece for piece in pieces if piece.clause == figures[0].clause]
    if not tested or any(piece.tags.label is not None for piece in beside):
        return None
    value = _value(figures[0])
    clock = re.fullmatch(r"(1?\d|2[0-3])[.:][0-5]\d", figures[0].raw) is not None  # "tested 10.30"
    decimal = value is not None and value % 1 > 0 and not figure.doubt and not clock
    return figures[0] if decimal and not figures[0].state else None


def _nil(pieces: list[Span], at: int) -> bool:
    """ "CO nil, H2S none": a gas of which there is nothing, told in a word right after its name."""
    after = next((piece for piece in pieces[at + 1 : at + 3] if "link" not in piece.tags), None)
    if after is None or after.figure is not None or NIL.isdisjoint(after.tags):
        return False
    after.used = pieces[at].used = True
    return True


def _figure(pieces: list[Span], at: int, step: int) -> Span | None:
    for place in range(at + step, at + step * (BESIDE + 1), step):
        if not 0 <= place < len(pieces):
            return None
        piece = pieces[place]
        if piece.figure is not None:
            glued = piece.glued and abs(place - at) == 1  # "CO2" is another gas
            return piece if (not piece.used or piece.aside) and not glued else None
        if any(tag in piece.tags for tag in GASES) or piece.text in (",", ".", "\n"):
            return None
    return None


def _value(piece: Span | None) -> float | None:
    """The number as written; a sign of per cent or ppm after it changes nothing."""
    if piece is None or piece.figure is None:
        return None
    if piece.figure.spoken and not piece.figure.doubt and piece.figure.kind == "bare":
        return piece.figure.value  # "LEL zero"
    written = re.fullmatch(r"(\d+(?:[.,]\d+)?) ?(?:%|ppm|pc|percent|per cent|vol)?", piece.raw.lower())
    return float(written[1].replace(",", ".")) if written else None
