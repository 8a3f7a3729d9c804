"""The job as it moves: runs, units, people, hours. Each is read from a text that one pattern fits whole.

What no pattern fits is read as any other text, so that nothing of a move counts by half.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from typing import Any

from bot.language.lexicon import Language, Lexicon
from bot.language.patterns import Pattern, WordedText, said
from bot.language.tokens import bare, pictures
from bot.message import Heard
from bot.reading.text.phrases import stands_for
from bot.reading.told_clause import PEOPLE
from knowledge.reading import Details, Reading, details_of
from knowledge.units import M_PER_FT

QUESTIONS = frozenset(("asks_entry", "asks_entry_plainly"))
ASKED = QUESTIONS | {"due", "handover", "in_the_ground", "van", "strip"}  # may end with a question mark
FREE = frozenset(("note", "place"))  # hold words of the sender's own, in which danger is still heard
_LENGTH = re.compile(r"(\d+(?:[.,]\d+)?) ?(\S*)")
_CORRECTED = re.compile(r"[^\W\d]+[,;:.!?] *[A-Za-z]{1,2}-?\d{1,4}\W*$")  # "T4 no, T3" is T3, and not T4
_REF = re.compile(r"[a-z]{1,2}\d{1,4}")
_HOUSE = re.compile(r"\d{1,4}[A-Za-z]? ([^\W\d]+)")
# Hazards that a part of such a text sounds like, and that the whole of it says nothing of: "everyone out, 2"
# is a count, "moved one unit from T3 to T4" no movement of the ground, "abriendo por tramos" no crack.
MISHEARD = {"all_out": ("other",), "carried": ("movement",), "runs_of": ("crack",)}
MOST_IN = 8  # heads told by a bare "2 in": more are units, or inches (common practice, no source)
Values = dict[str, Any]


def over(heard: Heard, text: str, words: Lexicon, asked: tuple[str, ...] = ()) -> Heard:
    """The reading of a text that one pattern fits whole, in place of what was read of its parts.

    A hazard that was heard in it stands, and outranks what else it says; so does a stop.
    """
    found = moved(text, words, heard.manner.language)
    if found is None:
        return heard
    name, code, values = found
    old = heard.reading
    if asked and values.get("trench") is None and name in ("heads_in", "heads_out", "van"):
        return heard  # "8 in" answers how wide
    misheard = old.hazards == MISHEARD.get(name)
    if old.hazards and not misheard and name not in FREE and name != "intruders":
        return heard
    if name in FREE and _tells(old):
        return heard  # "note T7 is 1.9 deep now" is more than a note
    if name in QUESTIONS and (
        old.purpose == "stop" or (old.whole and old.purpose not in ("unclear", "close"))
    ):
        return heard
    if old.purpose == "stop" and name in ("all_out", "heads_out"):
        values |= {"purpose": "stop"}
    if name in FREE:
        values |= {"hazards": old.hazards, "undone": old.undone}
        values |= {"purpose": "report"} if old.hazards else {}
    told = Reading.model_validate({"purpose": "report", **values})
    return heard.model_copy(
        update={"reading": told, "doubtful": (), "manner": heard.manner.model_copy(update={"language": code})}
    )


def _tells(reading: Reading) -> bool:
    """Whether something of the trench is told, spoken of or asked about: no words of one's own hide that.

    One word of a trench is no saying: "road shut till 1600".
    """
    told = (
        reading.gauges,
        reading.units_set,
        reading.air,
        reading.questions,
        reading.proposed,
        reading.not_so,
    )
    details = details_of(reading)
    worse = details != Details() and details != Details(traffic=False)
    return any(told) or len(reading.site_words) > 1 or worse


def moved(text: str, words: Lexicon, spoken: str) -> tuple[str, str, Values] | None:
    """The name of the pattern that fits a text, its language, and the fields of the reading; None where no
    pattern does, or those of two languages fit in different ways."""
    heard = said(text)
    if heard is None or pictures(text):
        return None
    written = {code: _written_out(heard, language) for code, language in words.languages.items()}
    spelt = {word for one in written.values() for word in one.words.split()}
    likely = {each for word in spelt for each in words.move_keys.get(word, ())}
    found: dict[str, tuple[str, Values]] = {}
    for code, language in words.languages.items() if likely else ():
        patterns = [language.moves[at] for at in sorted(at for one, at in likely if one == code)]
        told = _told(written[code], patterns, language) or _told_round(written[code], patterns, language)
        if told is not None and not (told[0] == "not_at" and _CORRECTED.search(text)):
            found[code] = told
    if not found:
        return None
    code = next((each for each in (spoken, "en") if each in found), next(iter(found)))
    if code != spoken and any(each != found[code] for each in found.values()):
        return None
    return found[code][0], code, found[code][1]


def one_of_several(text: str, words: Lexicon) -> tuple[str, tuple[str, ...]] | None:
    """A text that names several trenches one after another, with only the first of them left in, and the
    others: "inspected T5 and T6, both ok" is "inspected T5, both ok". None where it names no such list."""
    plain = bare(text.lower())
    found = list(_listed(words.joining).finditer(plain))
    if len(found) != 1 or len(plain) != len(text):
        return None
    first, *others = re.findall(r"[A-Za-z]{1,2}-?\d{1,4}", found[0][0])
    refs = tuple(dict.fromkeys(each.upper().replace("-", "") for each in others))
    return f"{text[: found[0].start()]}{first}{text[found[0].end() :]}", refs


@lru_cache(maxsize=8)
def _listed(joining: frozenset[str]) -> re.Pattern[str]:
    ref = r"\b[A-Za-z]{1,2}-?\d{1,4}\b"
    words = "|".join(re.escape(one) for one in sorted(joining, key=len, reverse=True))
    return re.compile(rf"{ref}(?:(?:\s*[,/&+]\s*|\s+)(?:(?:{words})\s+)?{ref})+", re.IGNORECASE)


def _told_round(
    heard: WordedText, likely: Iterable[Pattern], language: Language
) -> tuple[str, Values] | None:
    """The same where the trench is named in the middle: "barriers up at T7 both ends"."""
    spoken = heard.words.split()
    at = [place for place, word in enumerate(spoken) if _REF.fullmatch(word)]
    if len(at) != 1 or not 0 < at[0] < len(spoken) - 1:
        return None
    first = at[0] - (spoken[at[0] - 1] in language.before_places)
    told = _told(heard.without(first, at[0] + 1), likely, language)
    if told is not None and told[0] in QUESTIONS and _within(heard, language):
        return None
    if told is None or told[1].get("trench") is not None or told[0] in FREE or told[1].get("to"):
        return None
    return told[0], {**told[1], "trench": spoken[at[0]].upper()}


def _written_out(heard: WordedText, language: Language) -> WordedText:
    """The text with what is typed short written out, word by word."""
    spoken = heard.words.split()
    if language.short_for.keys().isdisjoint(spoken):
        return heard
    out: list[str] = []
    for at, word in enumerate(spoken):
        rest = spoken[at + 1] if at + 1 < len(spoken) else "?"
        rest = "t" if _REF.fullmatch(rest) else rest  # "evrythin 4 t7"
        out.append(stands_for(word, out[-1] if out else "", rest, language) or word)
    return replace(heard, words=f"{' '.join(out)} ")


def opens_or_ends(text: str, language: Language) -> bool:
    """Whether a text is no more than what stands before a question or after it: "tell us now", "or not"."""
    heard = said(text)
    return heard is not None and bool(
        language.beside_questions.fullmatch(_written_out(heard, language).words)
    )


def _told(heard: WordedText, likely: Iterable[Pattern], language: Language) -> tuple[str, Values] | None:
    spoken = frozenset(heard.words.split())
    for pattern in likely:
        if not pattern.may_fit(spoken) or (heard.question and pattern.name not in ASKED):
            continue
        if pattern.name == "asks_entry" and not heard.question:
            continue  # "all ticked off" tells, and "all ticked off?" asks
        if pattern.name in QUESTIONS and _of_people(heard, language):
            continue  # "we are all in T7, ok?"
        match = pattern.fits.fullmatch(heard.words)
        if match is not None and pattern.name in QUESTIONS and "within" not in match.re.groupindex:
            match = None if _within(heard, language) else match
        if match is None or (values := _values(pattern.name, heard, match, language)) is None:
            continue
        return pattern.name, values
    return None


def _within(heard: WordedText, language: Language) -> bool:
    """Whether it is said that somebody or something is in the trench: "down in T7 now, is everything in?"."""
    spoken = heard.words.split()
    return any(
        _REF.fullmatch(word) and at and "inwards" in language.meanings(spoken[at - 1])
        for at, word in enumerate(spoken)
    )


def _of_people(heard: WordedText, language: Language) -> bool:
    """Whether a text begins with somebody of whom it tells: it is no mere question."""
    first = next((word for word in heard.words.split() if not _REF.fullmatch(word)), "")
    return not PEOPLE.isdisjoint(language.meanings(first))


class _Slots:
    """What stands in the slots of a text."""

    def __init__(self, heard: WordedText, match: re.Match[str], language: Language) -> None:
        self._heard, self._match, self.language = heard, match, language
        self.refs = [ref for slot in ("before", "ref", "after") if (ref := self._ref(slot))]

    def words(self, slot: str) -> str:
        return self._heard.of(self._match, slot)

    def _ref(self, slot: str) -> str:
        said = self.words(slot).upper().replace("-", "")
        return f"T{said.split()[-1]}" if " " in said else said

    @property
    def ref(self) -> str | None:
        return self.refs[0] if self.refs else None

    @property
    def to(self) -> str | None:
        return self._ref("to") or None

    def number(self, slot: str = "n") -> int | None:
        said = bare(self.words(slot).lower())
        if said.lstrip("u").isdigit():
            return int(said.lstrip("u"))
        numbers = self.language.vocabulary.numbers
        return {**dict.fromkeys(numbers.one, 1), **numbers.small, **numbers.ordinal}.get(said)

    @property
    def metres(self) -> float | None:
        length = _LENGTH.fullmatch(self.words("m").lower())
        if length is None:
            return None
        unit = self.language.units.get(length[2], "m")
        return round(float(length[1].replace(",", ".")) * (M_PER_FT if unit == "ft" else 1.0), 3)

    @property
    def until(self) -> str | None:
        days = self.language.vocabulary.moves.days
        day = bare(self.words("day").lower())
        return next((str(at) for at, names in enumerate(days) if day in names), self.words("time") or None)

    @property
    def expires(self) -> str | None:
        """ "permit to dig 0417 to 1600": the last time of day that a note says something holds to."""
        till = "|".join(re.escape(word) for word in self.language.vocabulary.moves.till)
        found = re.findall(rf"\b(?:{till}) ([01]?\d|2[0-3])[:.h]?([0-5]\d)\b", self._heard.words)
        return f"{int(found[-1][0]):02}:{found[-1][1]}" if found else None


def _values(name: str, heard: WordedText, match: re.Match[str], language: Language) -> Values | None:
    slots = _Slots(heard, match, language)
    if len(set(slots.refs)) > 1:
        return None
    values = _MADE[name](slots)
    if values is None:
        return None
    values.setdefault("trench", slots.ref)
    return {key: value for key, value in values.items() if value is not None}


def _units(how: str) -> Callable[[_Slots], Values | None]:
    def made(slots: _Slots) -> Values | None:
        n, unit = slots.number(), slots.number("unit")
        if n == 0 or unit == 0:
            return None
        moved = {"how": how, "n": n if unit is None else 1, "unit": unit}
        return {"purpose": "report", "moved": moved, "to": slots.to}

    return made


def _heads(way: str, *, whole: bool = False) -> Callable[[_Slots], Values | None]:
    def made(slots: _Slots) -> Values | None:
        n = slots.number()
        return (
            None
            if n is None or n > MOST_IN
            else {"purpose": "report", "heads": {way: n}, "all_out": whole or None}
        )

    return made


def _purpose(purpose: str) -> Callable[[_Slots], Values | None]:
    return lambda slots: {"purpose": purpose, "until": slots.until}


def _joins(slots: _Slots) -> Values | None:
    *site, name = slots.words("words").split()
    if first := slots.words("name"):
        site, name = [*site, name], first
    said = slots.language
    while site and bare(site[0].lower()) in said.before_places:
        site.pop(0)
    while site and bare(site[-1].lower()) in said.fillers | said.before_places:
        site.pop()
    if any(char.isdigit() for char in name):
        return None
    return {"purpose": "join", "to": name, "place": " ".join(site)} if site else None


def _place(slots: _Slots) -> Values | None:
    """A house number or the name of a street makes it a place; "outside edge cracked" is none."""
    words = slots.words("words")
    first, _, rest = words.partition(" ")
    if "number" in slots.language.meanings(first.lower()) and rest[:1].isdigit():
        words = rest
    streets = slots.language.vocabulary.beside.streets
    house = _HOUSE.match(words)
    named = any(word.lower() in streets for word in words.split()) or bool(
        house and bare(house[1].lower()) not in slots.language.words  # "22 Larch", but not "2 now"
    )
    return {"purpose": "report", "place": words} if named else None


_MADE: dict[str, Callable[[_Slots], Values | None]] = {
    "not_at": lambda slots: {"purpose": "report", "trench": slots.to, "not_at": slots.ref},
    "moved": lambda slots: {"purpose": "moved", "run_m": slots.metres},
    "runs_of": lambda slots: {"purpose": "report", "run_m": slots.metres},
    "run_filled": lambda slots: {"purpose": "report", "run": slots.number("unit"), "done": ("backfill",)},
    "carried": _units("carried"),
    "arrived": _units("arrived"),
    "changed": _units("changed"),
    "damaged": _units("damaged"),
    "cleared": _units("cleared"),
    "replaced": _units("replaced"),
    "in_the_ground": lambda slots: {"purpose": "kit", "ask": "in the ground"},
    "van": lambda slots: {"purpose": "van", "van": slots.number()},
    "heads_in": _heads("in"),
    "heads_out": _heads("out"),
    "all_out": _heads("out", whole=True),
    "strip": _purpose("strip"),
    "place": _place,
    "note": lambda slots: {"purpose": "note", "until": slots.expires},
    "parked": lambda slots: {"purpose": "parked", "until": slots.until, "guarded": "fence and lights"},
    "parked_bare": _purpose("parked"),
    "guarded": lambda slots: {"purpose": "report", "guarded": "fence and lights"},
    "fenced": lambda slots: {"purpose": "report", "guarded": "fence"},
    "intruders": lambda slots: {"purpose": "report", "hazards": ("other",)},
    "handover": _purpose("handover"),
    "handed": lambda slots: {"purpose": "handover", "to": slots.words("name"), "until": slots.until},
    "take": _purpose("take"),
    "coming": lambda slots: {"purpose": "answer", "answer": "coming"},
    "due": _purpose("due"),
    "merge": lambda slots: {"purpose": "merge", "to": slots.to},
    "join": _joins,
    "level_out": lambda slots: {
        "purpose": "report",
        "done": ("units out",),
        "units_set": {"level": slots.number("unit")},
    },
    "asks_entry": lambda slots: {"purpose": "entry", "asks": True},
    "asks_entry_plainly": lambda slots: {"purpose": "entry", "asks": True},
    "not_yet_filled": lambda slots: {"purpose": "report", "not_so": ("backfill",)},
}
