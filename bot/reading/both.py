"""The two readers of a text: the grammar, which alone says what is reported, and the second reader beside it.

The second reader never ticks anything. Where it hears danger that no phrase names, entry is held back; where
the grammar understands nothing, it says whether the text is chat.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from bot.language.lexicon import Language, Lexicon
from bot.language.tokens import bare
from bot.message import Heard
from bot.reading import moves, said_time, signature
from bot.reading.read import read
from bot.reading.second.hearing import SecondHearing, SecondReader, load_reader
from bot.reading.second.thresholds import Thresholds, load_thresholds
from knowledge.reading import LOOKING, Details, Reading, details_of

ASKING = ("entry", *LOOKING)
MAY_ASK = (*ASKING, "unclear")
MOST_WAIT = 128  # texts whose reading is kept until they are answered
LONGEST_ASKED = 240  # characters of a text that asks and tells nothing
MOST_ASKED = 4  # questions in one text
PARTINGS = (
    re.compile(r"[?!;\n]+|\.(?!\d)"),
    re.compile(r"[?!;\n,:]+|\.(?!\d)|\s[-–]\s|\bor\b", re.IGNORECASE),
)
_MEASURE = re.compile(r"\d[.,]\d")


Grammar = Callable[..., Heard]  # of a text, and the language it is in


@dataclass(frozen=True)
class Second:
    """The second reader, and from which probability on it is listened to."""

    reader: SecondReader
    thresholds: Thresholds

    @classmethod
    def load(cls) -> "Second":
        """As it came with the program. Raises DataError that names file, key and reason."""
        reader = load_reader()
        return cls(reader, load_thresholds(reader.stamp))


@dataclass(frozen=True)
class Readers:
    """Both, as every text is read by."""

    words: Lexicon
    second: Second = field(default_factory=Second.load)

    def read(
        self,
        text: str,
        asked: tuple[str, ...] = (),
        earlier: str = "",
        language: str = "en",
        *,
        supervisor: bool = False,
        own: str = "",
        site: str = "",
        crew: tuple[str, ...] = (),
    ) -> Heard:
        """What a text says; see `read`. A text of a `supervisor` is harder to dismiss as chat; `own` is the
        sender's name as it stands on the crew list, `site` that of their site, `crew` the names on it."""
        return self._of_late(text, asked, earlier, language, supervisor, own, site, crew)

    @cached_property
    def _of_late(self) -> Callable[..., Heard]:
        """Of the last texts, as long as many wait: whether one is urgent is asked before it is answered."""
        return lru_cache(MOST_WAIT)(self._read)

    def _read(
        self,
        text: str,
        asked: tuple[str, ...],
        earlier: str,
        language: str,
        supervisor: bool,
        own: str,
        site: str,
        crew: tuple[str, ...],
    ) -> Heard:
        names = frozenset(bare(name.lower()) for name in own.split())
        names |= frozenset(one for one in bare(site.lower()).split() if not self.words.knows(one))
        others = frozenset(
            one for name in crew for one in bare(name.lower()).split() if not self.words.knows(one)
        )

        def heard_as(asked: tuple[str, ...], earlier: str, text: str = text) -> Heard:
            def grammar(text: str, spoken: str = language) -> Heard:
                return moves.over(
                    read(text, self.words, asked, earlier, spoken, names, others), text, self.words, asked
                )

            heard = _of_each(grammar, grammar(text), moves.one_of_several(text, self.words))
            unsigned = signature.without(text, own, self.words) if own and not heard.reading.whole else None
            for each in (text, unsigned):
                if each is not None:
                    heard = _simpler(grammar, heard, each, "") if each == unsigned else heard
                    heard = _at_a_time(grammar, heard, said_time.split(each, self.words))
            return heard

        heard = _asks_only(
            heard_as(asked, earlier), text, self.words, lambda part: heard_as((), "", part), names
        )
        in_doubt = heard.reading.purpose == "size" or heard.reading.questions
        if asked and in_doubt and _by_itself(alone := heard_as((), "").reading):
            heard = heard.model_copy(update={"reading": alone})
        second = self.second.reader.hear(text)
        limits = self.second.thresholds
        reading = _judged(heard.reading, second, limits, asked=bool(asked), supervisor=supervisor)
        unlike = reading.purpose == "size" and (reading.agreed or 0.0) < limits.fact.sizing_below
        if not reading.whole or unlike:
            reading = reading.model_copy(update=self._beyond(text, second, unlike))
        return heard.model_copy(update={"reading": reading})

    def _beyond(self, text: str, second: SecondHearing, unlike: bool) -> dict[str, object]:
        """What the second reader makes of a text that the grammar does not account for, or may misread: a
        question, or a report and of which fact. It ticks nothing, but says how to answer."""
        limits = self.second.thresholds
        calm = second.danger < limits.danger.open_text
        asks = sum(second.purpose.get(each, 0.0) for each in ASKING) >= limits.fact.taught
        if not (calm and second.purpose.get("report", 0.0) >= limits.fact.taught):
            return {} if calm and asks else {"asks": None}
        about = self.second.reader.about(text)
        best = max(about, key=about.__getitem__)
        enough = limits.fact.against_sizing if unlike else limits.fact.taught
        return {"asks": None, "about": best if about[best] >= enough else None}


def _by_itself(reading: Reading) -> bool:
    """Whether it says all that it has to say by itself: then no figure in it, a time of day say, answers a
    question."""
    told = reading.purpose == "size" or (reading.purpose == "report" and bool(reading.done))
    return reading.whole and not reading.questions and (told or reading.answer in ("ignore", "seen"))


def _asks_only(heard: Heard, text: str, words: Lexicon, grammar: Grammar, own: frozenset[str]) -> Heard:
    """A text that is nothing but questions whether anybody may go in: "all ticked off, or is something still
    missing? can we go in?". Each by itself must be one, and one at least be listed whole."""
    old = heard.reading
    if old.whole or old.hazards or old.undone or old.purpose not in MAY_ASK or len(text) > LONGEST_ASKED:
        return heard
    if not text.rstrip().endswith("?"):
        return heard  # "all in? yes", "the lot gone in"
    language = words.languages[heard.manner.language]
    places = own | {*language.vocabulary.beside.streets, *language.said("trench")} | language.fillers
    for parting in PARTINGS:
        parts = [part for part in parting.split(text) if any(char.isalpha() for char in part)]
        parts = [
            part
            for part in parts
            if not moves.opens_or_ends(part, language)
            and not moves.opens_or_ends(f"or {part}", language)
            and not places.issuperset(bare(part.lower()).split())
        ]
        if not 0 < len(parts) <= MOST_ASKED:
            continue
        listed = [moves.moved(f"{part} ?", words, heard.manner.language) for part in parts]
        told = [
            one[2].get("trench") if one is not None and one[0] in moves.QUESTIONS else None for one in listed
        ]
        asks = [one is not None and one[0] in moves.QUESTIONS for one in listed]
        for at, part in enumerate(parts):
            if not asks[at] and any(asks) and _leads(part, language):
                by_itself = grammar(f"{part} ?").reading
                plain = by_itself.whole and not (by_itself.hazards or by_itself.questions)
                asks[at] = plain and by_itself.purpose == "entry"
                told[at] = by_itself.trench
        named = {ref for ref in told if ref is not None}
        if all(asks) and len(named) <= 1:
            reading = Reading(purpose="entry", trench=next(iter(named), None), asks=True)
            return heard.model_copy(update={"reading": reading, "doubtful": ()})
    return heard


def _leads(part: str, language: Language) -> bool:
    """Whether a part begins as a question for leave does: "can we", "are they ok to", "have I"."""
    first = next(iter(re.findall(r"[^\W\d]+", bare(part.lower()))), "")
    return not language.phrases.names(first).isdisjoint(("ask", "open", "leave"))


def _of_each(grammar: Grammar, heard: Heard, several: tuple[str, tuple[str, ...]] | None) -> Heard:
    """An inspection of several trenches named one after another: what is said is said of each of them."""
    old = heard.reading
    if several is None or old.hazards or old.purpose != "report":
        return heard
    if "trench" not in old.questions and old.same_as not in several[1]:
        return heard
    new = grammar(several[0])
    told = new.reading
    inspects = "inspection" in told.done or told.verdict is not None
    alone = {*told.done} <= {"inspection"} and details_of(told) == Details()
    if not (inspects and alone and told.whole and told.trench and not told.questions):
        return heard
    return new.model_copy(update={"reading": told.model_copy(update={"also": several[1]})})


def _at_a_time(grammar: Grammar, heard: Heard, said: tuple[str, str] | None) -> Heard:
    """A report with the time that is said in it. A figure that was read for something else is no time; one
    that was read for nothing is left over."""
    if said is None:
        return heard
    found, old = _simpler(grammar, heard, *said), heard.reading
    unread = details_of(old) == Details() and not (old.gauges or old.air or old.hazards or old.heads)
    if found is heard and old.done and old.whole and old.said_at is None and unread:
        reading = old.model_copy(update={"left_over": (said[1],), "done": (), "proposed": old.done})
        return heard.model_copy(update={"reading": reading})
    return found


def _simpler(grammar: Grammar, heard: Heard, text: str, said_at: str) -> Heard:
    """A report as it reads without something that stands in it; what is none without it stays as it was."""
    old = heard.reading
    if old.hazards or old.purpose not in ("report", "unclear"):
        return heard
    new = grammar(text, heard.manner.language)  # what is left of it is in the same language
    told = new.reading
    same = details_of(told) == details_of(old) and (told.gauges, told.air) == (old.gauges, old.air)
    if not (told.whole and told.purpose == "report" and not told.questions and same):
        return heard
    return new.model_copy(update={"reading": told.model_copy(update={"said_at": said_at or old.said_at})})


def _judged(
    reading: Reading, second: SecondHearing, thresholds: Thresholds, *, asked: bool, supervisor: bool
) -> Reading:
    """The reading with what the second reader hears. A hazard that the grammar names needs no opinion."""
    limits = thresholds.danger
    best = max(second.purpose.values())
    agreed = second.purpose.get(reading.purpose, 0.0) / best
    update: dict[str, object] = {"danger": round(second.danger, 2), "agreed": round(agreed, 2)}
    free = reading.purpose == "note" or reading.place is not None  # in words of their own
    told = (
        reading.whole
        and not free
        and (reading.purpose not in ("unclear", "chat") or reading.same_as is not None)
    )
    enough = limits.accounted_for if told else limits.possible
    if not reading.hazards and reading.purpose != "answer" and second.danger >= enough:
        update["possible_hazard"] = True
    elif free and not reading.hazards and second.danger >= limits.open_text:
        update |= {"purpose": "unclear", "left_over": (reading.place or "note",), "place": None}
    elif _is_chat(reading, second, thresholds, supervisor) and not asked:
        update["purpose"] = "chat"
    elif _is_entry(reading, second, thresholds):
        update |= {"purpose": "entry", "agreed": 1.0}
    return reading.model_copy(update=update)


def _is_entry(reading: Reading, second: SecondHearing, thresholds: Thresholds) -> bool:
    """Whether a text that the grammar does not understand most likely asks whether anybody may go in.

    With its words left over it is answered, and never with `may`.
    """
    asks = reading.purpose == "unclear" and not reading.whole and not reading.proposed
    likely = second.purpose.get("entry", 0.0) == max(second.purpose.values())
    return asks and likely and second.danger < thresholds.danger.open_text


def _is_chat(reading: Reading, second: SecondHearing, thresholds: Thresholds, supervisor: bool) -> bool:
    """Whether a text is surely about no trench: no trench named, and nothing that the grammar knows in it,
    nor a figure that may be a measure. A supervisor who says no may refuse."""
    measured = any(_MEASURE.search(word) for word in (*reading.left_over, *reading.unread))
    known = (
        reading.trench or reading.of_works or reading.not_so or reading.proposed or reading.again or measured
    )
    enough = thresholds.chat.supervisor if supervisor else thresholds.chat.sender
    return (
        reading.purpose == "unclear"
        and not (known or (supervisor and reading.denies))
        and second.danger < thresholds.danger.open_text
        and second.purpose.get("chat", 0.0) >= enough
    )
