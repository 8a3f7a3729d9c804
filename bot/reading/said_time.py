"""A time said for what is told: "inspected ok at 0930". The rest of the text is read without it."""

import re
from functools import lru_cache

from bot.language.lexicon import Lexicon
from bot.language.tokens import bare

_AFTER_AT = (
    r"(?:(?P<h1>[01]?\d|2[0-3])[:.h](?P<m1>[0-5]\d)h?|(?P<h2>[01]\d|2[0-3])(?P<m2>[0-5]\d)h?"
    r"|(?P<h3>1[0-2]|0?[1-9])(?:[:.](?P<m3>[0-5]\d))? ?(?P<half>am|pm)|(?P<h4>[01]?\d|2[0-3]) ?h)"
)
_ALONE = (
    r"(?:(?P<h1>[01]?\d|2[0-3])[:.h](?P<m1>[0-5]\d)(?: ?(?P<half>am|pm))?"
    r"|(?P<h2>[01]\d|2[0-3])(?P<m2>[0-5]\d)h?|(?P<h3>1[0-2]|0?[1-9]) ?(?P<half3>am|pm))"
)
_DIGIT = re.compile(r"\d")
_ENDS = r"(?=$|[\s,;!]|\.(?:\s|$))"


def split(text: str, words: Lexicon) -> tuple[str, str] | None:
    """The text without the one time said in it, and that time as "09:30"; None where there is none, or two.

    A time stands after a word such as "at", or by itself, one of four figures at the head or before a mark.
    What else a figure may be the caller sees: it reads the text with it and without.
    """
    if not _DIGIT.search(text):
        return None
    plain = bare(text.lower())
    if len(plain) != len(text):
        return None  # a few letters change length
    found = [_cut(text, match) for match in _after_at(words.before_time).finditer(plain)]
    if not found:
        found = [
            _cut(text, match)
            for match in re.finditer(rf"(?:(?<=[\s,(])|^){_ALONE}{_ENDS}", plain)
            if not match["h2"] or _at_an_end(plain, match)
        ]
    return found[0] if len(found) == 1 and found[0][0].strip() else None


@lru_cache(maxsize=8)
def _after_at(said: frozenset[str]) -> re.Pattern[str]:
    joined = "|".join(re.escape(one) for one in sorted(said, key=len, reverse=True))
    return re.compile(rf"(?:(?<=\s)|^)(?:{joined})\s*{_AFTER_AT}{_ENDS}", re.IGNORECASE)


def _at_an_end(plain: str, match: re.Match[str]) -> bool:
    """Four figures are a time at the head or the tail of what a mark parts alone: in "trench 1600 ladder in"
    they name."""
    before, after = plain[: match.start()].strip(), plain[match.end() :].strip()
    return not before or not after or after[0] in ",.;!"


def _cut(text: str, match: re.Match[str]) -> tuple[str, str]:
    groups = match.groupdict()
    hour = int(next(groups[name] for name in ("h1", "h2", "h3", "h4") if groups.get(name)))
    minute = next((groups[name] for name in ("m1", "m2", "m3") if groups.get(name)), None) or "00"
    if half := groups.get("half") or groups.get("half3"):
        hour = hour % 12 + (12 if half.lower() == "pm" else 0)
    rest = f"{text[: match.start()].rstrip()} {text[match.end() :].lstrip()}".strip()
    return rest, f"{hour:02}:{minute}"
