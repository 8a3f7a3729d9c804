"""What a text costs as SMS: the GSM 7-bit alphabet, UCS-2, and how a long text falls into parts.

Source: 3GPP TS 23.038 version 16 (6.2.1, 6.2.1.1) for the alphabets, TS 23.040 (9.2.3.24.1) for the parts.
"""

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

BASIC = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞ\x1bÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""The default alphabet; a character's place is its code. ESC is no character of its own."""

EXTENSION = "\f^{}\\[~]|€"
"""Reached by ESC: two septets each."""

GSM_ONE, GSM_PART = 160, 153  # septets in a text of one part, and in each of several (8-bit reference)
UCS_ONE, UCS_PART = 70, 67  # the same in UTF-16 units

_GSM = frozenset(BASIC + EXTENSION) - {"\x1b"}

# What a trench text is likely to hold, in plain signs that mean the same.
_PLAIN = {
    "×": "x", "·": ".", "÷": "/", "−": "-", "±": "+/-", "≤": "<=", "≥": ">=", "≈": "~", "≠": "not ",
    "°": " deg", "µ": "u", "μ": "u", "φ": "phi", "γ": "gamma", "→": "->", "←": "<-", "✓": "ok",
    "‐": "-", "‑": "-", "‒": "-", "–": "-", "—": "-", "―": "-", "‘": "'", "’": "'", "‚": "'", "′": "'",
    "`": "'", "´": "'", "“": '"', "”": '"', "„": '"', "″": '"', "«": '"', "»": '"', "•": "-",
    "⁄": "/", "\t": " ", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i",
}  # fmt: skip


@dataclass(frozen=True)
class SmsCount:
    """A text as SMS. `units` are septets (GSM) or UTF-16 units (UCS-2)."""

    coding: Literal["GSM", "UCS-2"]
    units: int
    parts: int


def is_gsm(text: str) -> bool:
    """True where every character is in the default alphabet or its extension."""
    return _GSM.issuperset(text)


def count(text: str) -> SmsCount:
    """Coding, units and parts. An empty text still takes one part."""
    gsm = is_gsm(text)
    return SmsCount("GSM" if gsm else "UCS-2", _units(text, gsm), len(split(text)))


def split(text: str) -> tuple[str, ...]:
    """The text in parts as a gateway sends them; no escaped character or surrogate pair is torn."""
    gsm = is_gsm(text)
    one, part = (GSM_ONE, GSM_PART) if gsm else (UCS_ONE, UCS_PART)
    total = _units(text, gsm)
    if total <= one:
        return (text,)
    if total == len(text):
        return tuple(text[at : at + part] for at in range(0, total, part))
    parts, room = [""], part
    for char in text:
        units = _units(char, gsm)
        if units > room:
            parts.append("")
            room = part
        parts[-1] += char
        room -= units
    return tuple(parts)


def pages(text: str, most_parts: int) -> tuple[str, ...]:
    """The text cut into texts of at most `most_parts` parts each, at a line or a blank where there is one.

    Nothing is lost but the blanks at the cuts. Raises ValueError where `most_parts` is less than one.
    """
    if most_parts < 1:
        raise ValueError("a text takes at least one part")
    return cut(text, lambda rest: "".join(split(rest)[:most_parts]))


def cut(text: str, head: Callable[[str], str]) -> tuple[str, ...]:
    """The text in pieces, each no longer than what `head` takes from the start of the rest."""
    found = []
    while (piece := head(text)) != text:
        at = max(piece.rfind("\n"), piece.rfind(" "))
        # A cut far back would waste most of the room; better tear a word.
        piece = piece[:at] if at > len(piece) // 2 else piece
        found.append(piece)
        text = text[len(piece) :].lstrip(" \n")
    return (*found, text)


def to_gsm(text: str) -> str:
    """The text in the GSM alphabet, each other sign put plainly where that keeps its meaning.

    A text with a letter that has no plain form (Cyrillic, Arabic, an emoji) comes back with that letter as
    it was: the text then goes out as UCS-2, dearer but not wrong.
    """
    text = unicodedata.normalize("NFC", text)
    if is_gsm(text):
        return text
    put = ""
    for char in text:
        put += char if char in _GSM else _plain(char, after_digit=put[-1:].isdigit())
    return put


def _plain(char: str, after_digit: bool) -> str:
    parted = "".join(_PLAIN.get(each, each) for each in unicodedata.normalize("NFKD", _PLAIN.get(char, char)))
    plain = "".join(each for each in parted if not unicodedata.combining(each))
    if not plain or not is_gsm(plain):
        return char
    if after_digit and unicodedata.category(char) == "No":
        # "1½" must not come out as "11/2", nor "10²" as "102".
        return f" {plain}" if "/" in plain else f"^{plain}"
    return plain


def _units(text: str, gsm: bool) -> int:
    return len(text) + (sum(map(text.count, EXTENSION)) if gsm else sum(char > "\uffff" for char in text))
