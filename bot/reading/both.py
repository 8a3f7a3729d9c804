"""The two readers of a text: the grammar, which alone says what is reported, and the second reader beside it.

The second reader never ticks anything. Where it hears danger that no phrase names, entry is held back; where
the grammar understands nothing, it says whether the text is chat.
"""

from dataclasses import dataclass, field

from bot.language.lexicon import Lexicon
from bot.language.tokens import bare
from bot.message import Heard
from bot.reading import moves
from bot.reading.read import read
from bot.reading.second.hearing import SecondHearing, SecondReader, load_reader
from bot.reading.second.thresholds import Thresholds, load_thresholds
from knowledge.reading import Reading


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
    ) -> Heard:
        """What a text says; see `read`. A text of a `supervisor` is harder to dismiss as chat; `own` is the
        sender's name as it stands on the crew list."""
        names = frozenset(bare(name.lower()) for name in own.split())
        heard = moves.over(read(text, self.words, asked, earlier, language, names), text, self.words, asked)
        second = self.second.reader.hear(text)
        reading = _judged(
            heard.reading, second, self.second.thresholds, asked=bool(asked), supervisor=supervisor
        )
        return heard.model_copy(update={"reading": reading})


def _judged(
    reading: Reading, second: SecondHearing, thresholds: Thresholds, *, asked: bool, supervisor: bool
) -> Reading:
    """The reading with what the second reader hears. A hazard that the grammar names needs no opinion."""
    limits = thresholds.danger
    best = max(second.purpose.values())
    agreed = second.purpose.get(reading.purpose, 0.0) / best
    update: dict[str, object] = {"danger": round(second.danger, 2), "agreed": round(agreed, 2)}
    told = reading.whole and (reading.purpose not in ("unclear", "chat") or reading.same_as is not None)
    enough = limits.accounted_for if told else limits.possible
    if not reading.hazards and reading.purpose != "answer" and second.danger >= enough:
        update["possible_hazard"] = True
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
    """Whether a text is surely about no trench: no trench named, and nothing that the grammar knows in it."""
    known = reading.trench or reading.not_so or reading.proposed or reading.again
    enough = thresholds.chat.supervisor if supervisor else thresholds.chat.sender
    return (
        reading.purpose == "unclear"
        and not known
        and second.danger < thresholds.danger.open_text
        and second.purpose.get("chat", 0.0) >= enough
    )
