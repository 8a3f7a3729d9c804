"""The sender's own name in a text, with what stands beside it: "inspected by Sol", "Sol, supervisor"."""

import re
from collections.abc import Iterable
from functools import lru_cache

from bot.language.lexicon import Lexicon
from bot.language.tokens import bare


def without(text: str, own: str, words: Lexicon) -> str | None:
    """The text without its sender's name as it stands on the crew list; None where it is not in it."""
    plain, names = bare(text.lower()), frozenset(bare(own.lower()).split())
    if not names or len(plain) != len(text):  # a few letters change length
        return None
    signing = frozenset(one for language in words.languages.values() for one in language.vocabulary.signing)
    match = _signed(names, signing).search(plain)
    if match is None:
        return None
    return f"{text[: match.start()].rstrip()} {text[match.end() :].lstrip()}".strip()


@lru_cache(maxsize=256)
def _signed(names: frozenset[str], signing: frozenset[str]) -> re.Pattern[str]:
    name, word = _one_of(names), _one_of(signing)
    initial = r"(?:[a-z]\.? )?"
    return re.compile(
        rf"(?<![\w])(?:(?:{word})[\s,.:]+)*{initial}(?:{name})(?:\s+(?:{name}))*(?:[\s,]+(?:{word}))*(?!['\w])"
    )


def _one_of(words: Iterable[str]) -> str:
    return "|".join(re.escape(one) for one in sorted(words, key=len, reverse=True))
