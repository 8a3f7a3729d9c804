"""Text to tokens: one linear pass over a message, after its signs are brought to one form."""

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

LONGEST = 400  # tokens, and characters, that a message may have and still be acted on (see read.py)
LONGEST_TEXT = 2_000
MOST_DIGITS = 5  # of a trench's number, as the service gives them too: six are a job number or a telephone
MOST_NAMED = 8  # trenches that one text is taken to name
TAIL = 100  # a longer one is looked through for dangers in pieces that overlap by so many tokens

_SIGNS = {
    **dict.fromkeys("’‘ʼ´`′‛＇", "'"),
    **dict.fromkeys("“”„‟″＂", '"'),
    **dict.fromkeys("‐‑‒–—―−﹣－⁃", "-"),
    **dict.fromkeys("×✕⨯∗", " x "),
    **dict.fromkeys("❌✖✗✘👎🚫", " no ; "),
    **dict.fromkeys("✔✓✅☑👍", " ; "),
    **dict.fromkeys("•◦▪●", " ; "),
    "·": ".",
    **dict.fromkeys("→⇒➜➡", " to "),
    **dict.fromkeys("⁄∕", "/"),
    **dict.fromkeys("\u00a0\u2007\u202f\u2009\t", " "),
    **dict.fromkeys("≈~", " about "),
    "…": " . ",
    "½": " 1/2",
    "¼": " 1/4",
    "¾": " 3/4",
    "⅓": " 1/3",
    "⅔": " 2/3",
    "⅛": " 1/8",
    "⅜": " 3/8",
    "⅝": " 5/8",
    "⅞": " 7/8",
    "\ufe0f": None,
    "\u20e3": None,
    "\u200b": None,
    "\u200d": None,
    "\u200e": None,
    "\u200f": None,
    "\ufeff": None,
    "\r": "\n",
}
_TABLE = str.maketrans(_SIGNS)

# Digits that are no measure: telephone numbers, clock times, dates, money, post codes, long references.
_NOISE = r"""
    (?P<noise> \+\d{10,14}\b
      | \+\d{1,3}[\ \-]?(?:\(0\)[\ \-]?)?\d{2,5}[\ \-]?\d{3}[\ \-]?\d{3,4}(?!\d|[.,]\d)
      | (?<![\d.,])0\d{2,4}[\ \-]?\d{3}[\ \-]?\d{3,4}(?!\d|[.,]\d) | (?<![\d.,])0\d{5,}
      | \(?\d{3}\)?[\ \-]\d{3}-\d{4} | \d{3}-0\d{3}\b | \d{6,}(?![.,]\d)
      | (?<![\w.])[lio]\.\d+ | (?<![\w.])\d+\.[a-z?](?![a-z]) | \d{1,2}\.\d{1,2}\.\d{2,4}
      | \d{1,2}:\d{2}(?::\d{2})? (?!\d) | \d{1,2}:\d (?!\d) | \d{1,2}/\d{1,2}/\d{2,4} | \d{4}-\d{2}-\d{2}
      | [£$€]\ ?\d[\d.,]* | \d+(?:[.,]\d+)?\ ?%
      | \b[a-z]{1,2}\d{1,2}[a-z]?\ \d(?!ft|in|mm|cm|dp|wd|lg|m\b)[a-z]{2}\b
      | https?://\S+ | [\w.+\-]{1,64}@[\w.\-]{1,99} )"""
_PATTERN = re.compile(
    # Blanks, then most words and figures, without a look at noise.
    r"""[ ]*+ (?: (?P<word> [a-z]++ ) (?! [\w'@:] | \.\d ) |"""
    r"""(?P<figure> (?!0\d) \d{1,4}+ (?: \.\d{1,3}+ )?+ ) (?! [\d:/%?\-] | [.,]\d | \.[a-z?] | \ [%\d] ) |"""
    + _NOISE
    + r"""
    | (?P<number> \d+,\d+ (?![.,]?\d) | \d+(?:\.\d+)? | \.\d+ )
    | (?P<late> [^\W\d_]+ (?: '[^\W\d_]+ )* )
    | (?P<mark> \n | [^\s\w] ) )
    """,
    re.VERBOSE,
)
_ACCENTED = {
    code: base
    for code in (*range(0xE0, 0x250), *range(0x1E00, 0x1F00))
    if (base := unicodedata.normalize("NFD", chr(code))[0]).isascii()
} | {ord("ł"): "l", ord("đ"): "d", ord("ı"): "i"}
_REFERENCE = re.compile(rf"\b([A-Za-z]{{1,2}})-?(\d{{1,{MOST_DIGITS}}})([A-Ea-e]?)\b")
_POSSESSIVE = re.compile(r"'(?:s|ll|re|ve|m|d)$")
_DROPPED = frozenset(("So", "Sk", "Cn", "Co", "Cf", "Cc"))


@dataclass(slots=True)
class Token:
    """A piece of the text: `text` lower case without accents, `raw` as written, `glued` to the one before."""

    kind: Literal["number", "word", "mark", "noise"]
    text: str
    raw: str
    glued: bool


def normalised(text: str) -> str:
    """The text with one form for each sign: quotes, dashes, fractions, full-width letters; no emoji."""
    if text.isascii():
        return text.replace("\t", " ").replace("\r", "\n").replace("`", "'").replace("~", " about ")
    text = unicodedata.normalize("NFKC", text.translate(_TABLE)).translate(_TABLE)
    return "".join(
        " " if not char.isascii() and unicodedata.category(char) in _DROPPED else char for char in text
    )


def reference(letters: str, digits: str, suffix: str = "") -> str:
    """A trench reference as it is kept: "t-07b", and "T٠٧B" as other scripts write it, are T7B."""
    return f"{letters}{int(digits)}{suffix}".upper()


def one_form(name: str) -> str:
    """A name that is on record as a reference is kept now; one that is no reference stays as it is."""
    match = re.fullmatch(r"([A-Za-z]{1,2})-?(\d{1,20})([A-Ea-e]?)", name)
    return reference(*match.groups()) if match else name


def references(text: str, longest: int = LONGEST_TEXT) -> list[str]:
    """Every trench reference of a text as it is kept, wherever it stands, each once, a few at most."""
    found = (reference(*match) for match in _REFERENCE.findall(text[:longest]))
    return list(dict.fromkeys(found))[:MOST_NAMED]


def pictures(text: str) -> list[str]:
    """The emoji and signs of a text that `normalised` drops without a word: what they say is not known."""
    if text.isascii():
        return []
    plain = unicodedata.normalize("NFKC", text.translate(_TABLE))
    return [char for char in plain if not char.isascii() and unicodedata.category(char) in ("So", "Co", "Cn")]


def bare(text: str) -> str:
    """Lower-case text with its letters bare of accents, as many crews type them; as long as it was."""
    return text if text.isascii() else text.translate(_ACCENTED)


def tokenise(text: str) -> list[Token]:
    """All tokens of a text in order. Linear in its length; never raises."""
    plain = normalised(text)
    lower = plain.lower()
    if len(lower) != len(plain):  # a few letters change length; raw then shows the lower case
        plain = lower
    lower = bare(lower)
    if lower == plain:
        plain = lower
    tokens: list[Token] = []
    end = 0
    for match in _PATTERN.finditer(lower):
        kind = match.lastgroup
        start, stop = match.span(kind)  # type: ignore[arg-type]
        said = lower[start:stop]
        raw = said if plain is lower else plain[start:stop]
        if kind == "late":
            kind = "word"
        elif kind == "figure":
            kind = "number"
        if kind == "word" and "'" in said:
            said = _POSSESSIVE.sub("", said).replace("'", "")
        tokens.append(Token(kind, said, raw, start == end and start > 0))  # type: ignore[arg-type]
        end = stop
    return tokens
