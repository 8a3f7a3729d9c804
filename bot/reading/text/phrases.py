"""Words to meanings: typing slips set right, glued words parted, the longest phrase at each place."""

import re
from collections.abc import Iterator
from dataclasses import replace

from bot.language.lexicon import A_REF, Language
from bot.language.meanings import Meanings
from bot.language.phrases import PhraseBranch
from bot.language.tokens import Token
from bot.reading.text.spans import Span

MOST_INSIDE = 3  # small words within a phrase
LENGTHS = ("m", "mm", "cm", "ft")
LENGTH = "{length}"
CONSONANT = "{consonant}"
BEGINS = re.compile(r"[bcdfgjkpqrstvwyz][a-z]*[aeiouy][a-z]*$")


def mended(tokens: list[Token], language: Language) -> list[Token]:
    """The tokens with typing slips set right and glued words ("mdeepx") parted, where that is certain."""
    out: list[Token] = []
    tokens = written_out(tokens, language)
    for at, token in enumerate(tokens):
        if (
            token.kind == "number"
            and token.glued
            and token.text[0] == "."
            and out
            and "number" in language.meanings(out[-1].text)
        ):
            token = replace(token, text=token.text[1:])  # "no.1"
        if token.kind != "word" or token.text in language.words:
            if not (token.text == "." and token.glued and out and _shortened(tokens, at, language)):
                out.append(token)
            continue
        if (letters := _letters(token, language)) is not None:
            out.extend(letters)
            continue
        parts = _parted(token, language) if token.glued and out and out[-1].kind == "number" else None
        if parts is not None:
            out.extend(parts)
            continue
        near = language.nearest(token.text)
        out.append(token if near is None else replace(token, text=near))
    return out


def written_out(tokens: list[Token], language: Language) -> list[Token]:
    """The tokens with what is typed or said short as the words that it stands for: "nd", "b4", "t'hole"."""
    out: list[Token] = []
    at = 0
    while at < len(tokens):
        token, stop = tokens[at], at + 1
        after = tokens[stop] if stop < len(tokens) else None
        if after is not None and after.glued and token.kind == "word":
            next_one = tokens[stop + 1] if stop + 1 < len(tokens) else None
            apart = not token.glued and (next_one is None or not next_one.glued or next_one.kind == "mark")
            joined = token.text + after.text
            if (apart or after.text == "'") and joined in language.short_for:  # "b4", "o' T7"
                token, stop = Token("word", joined, token.raw + after.raw, False), at + 2
        means = _stands_for(token, out, tokens[stop : stop + 2], language)
        if means is not None:
            token = replace(token, kind="word", text=means)
        elif token.kind == "word" and "'" in token.raw:
            token = _unclipped(token, language)
        out.append(token)
        at = stop
    return out


def _stands_for(token: Token, out: list[Token], rest: list[Token], language: Language) -> str | None:
    """The word that a token stands for between those beside it."""
    if token.kind not in ("word", "number") or (token.glued and out and out[-1].kind == "number"):
        return None  # "2nd"
    after = rest[0].text if rest and rest[0].kind != "mark" else ""
    measured = len(rest) > 1 and "." in after and language.units.get(rest[1].text) in LENGTHS
    return stands_for(token.text, out[-1].text if out else "", LENGTH if measured else after, language)


def stands_for(word: str, before: str, after: str, language: Language) -> str | None:
    """The word that a word stands for between the one before and the one after; "" is the end of a clause."""
    for one in language.short_for.get(word, ()):
        plain = [each.means for each in language.short_for.get(after, ()) if not (each.after or each.before)]
        beside = not one.before or after in one.before or any(each in one.before for each in plain)
        beside = beside or (CONSONANT in one.before and BEGINS.match(after) is not None)
        if beside and (not one.after or before in one.after):
            return one.means
    return None


def _unclipped(token: Token, language: Language) -> Token:
    """ "t'hole", "th'edge": the word without the article that is clipped to it."""
    article, _, rest = token.raw.lower().partition("'")
    known = article in language.vocabulary.clipped and rest in language.words
    return replace(token, text=rest) if known else token


def _shortened(tokens: list[Token], at: int, language: Language) -> bool:
    """Whether the full stop here only shortens the word before it: "approx.", "no. 3"."""
    word, after = tokens[at - 1].text, tokens[at + 1 : at + 2]
    number = "number" in language.meanings(word) and bool(after) and after[0].text.isdigit()
    return number or word in language.abbreviated


def _letters(token: Token, language: Language) -> list[Token] | None:
    """ "DxWxL" as its labels."""
    parts = token.text.split("x")
    if len(parts) < 2 or not all(len(part) == 1 and part in language.letters for part in parts):
        return None
    said = [Token("word", part, part, False) for part in parts]
    return [one for part in said for one in (Token("word", "x", "x", False), part)][1:]


def _parted(token: Token, language: Language) -> list[Token] | None:
    text = token.text
    for cut in range(1, min(len(text), 8)):
        head, tail = text[:cut], text[cut:]
        if head not in language.words:
            continue
        rest = [Token("word", tail, tail, True)] if tail in language.words else None
        if rest is None and len(tail) <= 8:
            rest = _parted(Token("word", tail, tail, True), language)
        if rest is not None:
            return [Token("word", head, head, True), *rest]
    return None


def tagged(pieces: list[Span], language: Language) -> list[Span]:
    """The pieces with their meanings; the words of one phrase become one piece."""
    out: list[Span] = []
    at = 0
    count = len(pieces)
    while at < count:
        piece = pieces[at]
        if piece.kind == "ref":
            piece.tags = A_REF
            out.append(piece)
            at += 1
            continue
        digits = piece.figure is not None and piece.raw.isdigit() and piece.figure.unit is None
        if piece.figure is not None and not (piece.figure.spoken or digits):
            out.append(piece)
            at += 1
            continue
        found = _longest(pieces, at, language)  # "4 gas monitor" begins with a figure
        if found is not None and digits and "air_t" not in found[1]:
            found = None
        if found is None or (piece.figure is not None and found[0] == at + 1):
            out.append(piece)
            at += 1
            continue
        end, tags, phrase = found
        if end > at + 1:
            said = [part for part in pieces[at:end] if part.kind != "ref"]
            text = " ".join(part.text for part in said)
            raw = " ".join(part.raw for part in said)
            piece = Span("word", text, raw, piece.glued)
            piece.inside = _inside(said, phrase)
        piece.tags = tags
        out.append(piece)
        refs = [part for part in pieces[at + 1 : end] if part.kind == "ref"]
        for ref in refs:
            ref.tags = A_REF
        out.extend(refs)
        at = end
    return out


def _inside(said: list[Span], phrase: tuple[str, ...]) -> tuple[str, ...]:
    """What was said inside a phrase and is no part of it."""
    left = list(phrase)
    inside = []
    for part in said:
        if left and part.text == left[0]:
            left.pop(0)
        else:
            inside.append(part.text)
    return tuple(inside)


def _longest(pieces: list[Span], at: int, language: Language) -> tuple[int, Meanings, tuple[str, ...]] | None:
    """The phrase of most words that starts here: the piece after it, its meanings, its words. Small words may
    stand inside it."""
    first = pieces[at].text
    branch = language.phrases.get(first)
    if branch is None:
        return None
    best: tuple[int, Meanings, tuple[str, ...]] | None = None
    if branch.alone is not None:
        best = at + 1, branch.alone, (first,)
    for found in _longer(pieces, at + 1, branch, (first,), language.skipped, MOST_INSIDE):
        if best is None or len(found[2]) > len(best[2]):
            best = found
    return best


def _longer(
    pieces: list[Span], at: int, branch: PhraseBranch, said: tuple[str, ...], small: frozenset[str], most: int
) -> Iterator[tuple[int, Meanings, tuple[str, ...]]]:
    """Every phrase that goes on from here with the words `said`, with `most` small words inside at most."""
    while branch.goes_on and at < len(pieces):
        piece = pieces[at]
        after = branch.then(piece.text)
        at += 1
        if after is not None and not _measures(piece):
            words = (*said, piece.text)
            if after.alone is not None:
                yield at, after.alone, words
            yield from _longer(pieces, at, after, words, small, most)
        if not most or not _skipped(piece, small):
            return
        most -= 1


def _skipped(piece: Span, small: frozenset[str]) -> bool:
    return piece.text in small if piece.kind == "word" else piece.kind == "ref"


def _measures(piece: Span) -> bool:
    return piece.figure is not None and piece.figure.kind in ("length", "pressure", "noise")
