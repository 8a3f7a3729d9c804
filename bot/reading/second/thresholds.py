"""The thresholds of the second reader, and the curve that they were chosen from."""

from datetime import date
from pathlib import Path

from pydantic import Field, model_validator

from knowledge.sourced import DataError, DataRow, parse

SHIPPED = Path(__file__).parent / "thresholds.toml"

Share = float  # of one


class DangerThresholds(DataRow):
    """Probabilities of danger, each at least the one before."""

    open_text: Share = Field(gt=0, lt=1)
    possible: Share = Field(gt=0, lt=1)
    lifted_by_sender: Share = Field(gt=0, lt=1)
    accounted_for: Share = Field(gt=0, lt=1)


class ChatThresholds(DataRow):
    """Probabilities of chat: a supervisor's text is harder to dismiss, and one without any word of a trench
    in it easier."""

    sender: Share = Field(gt=0, lt=1)
    supervisor: Share = Field(gt=0, lt=1)


class FactThresholds(DataRow):
    """Probability of one fact of entry among all. A sizing `sizing_below` as likely as what is likeliest is
    none where a fact is heard `against_sizing`."""

    taught: Share = Field(gt=0, lt=1)
    against_sizing: Share = Field(gt=0, lt=1)
    sizing_below: Share = Field(gt=0, lt=1)


class DangerPoint(DataRow):
    """At a threshold: the share of dangers heard, and of other texts that are taken for danger.

    `hard` is of the texts that were written for this reader, near misses and all; `plain` of all others.
    """

    at: Share
    hard_recall: Share
    hard_false: Share
    plain_recall: Share
    plain_false: Share


class ChatPoint(DataRow):
    """Shares of three kinds of text that pass for chat: chat from a probability on, danger below another."""

    chat: Share
    danger_below: Share
    dangers: Share
    chats: Share
    others: Share


class FactPoint(DataRow):
    """At a threshold: in how many texts a fact is heard, and in how many of those the right one."""

    at: Share
    heard: Share
    right: Share


class Thresholds(DataRow):
    """All thresholds. `trained` is the stamp of the weights that the curve was measured with."""

    source: str
    at: str
    checked: date
    trained: str
    danger: DangerThresholds
    chat: ChatThresholds
    fact: FactThresholds
    danger_curve: tuple[DangerPoint, ...]
    chat_curve: tuple[ChatPoint, ...]
    fact_curve: tuple[FactPoint, ...]

    @model_validator(mode="after")
    def _ordered_and_measured(self) -> "Thresholds":
        danger = list(self.danger.model_dump().values())
        if danger != sorted(danger):
            raise ValueError(f"danger: {danger} do not rise in the order of their names")
        chat = list(self.chat.model_dump().values())
        if chat != sorted(chat):
            raise ValueError(f"chat: {chat} do not rise in the order of their names")
        unmeasured = set(danger) - {point.at for point in self.danger_curve}
        if unmeasured:
            raise ValueError(f"danger: {sorted(unmeasured)} are not on danger_curve")
        for each in (self.fact.taught, self.fact.against_sizing):
            if each not in {point.at for point in self.fact_curve}:
                raise ValueError(f"fact: {each} is not on fact_curve")
        points = {(point.chat, point.danger_below) for point in self.chat_curve}
        for each in chat:
            if (each, self.danger.open_text) not in points:
                raise ValueError(
                    f"chat: {each} with danger below {self.danger.open_text} is not on chat_curve"
                )
        return self


def load_thresholds(stamp: str, file: Path = SHIPPED) -> Thresholds:
    """The thresholds for the weights of a stamp. Raises DataError, naming file, key and reason."""
    found = parse(file, Thresholds)
    if found.trained != stamp:
        raise DataError(f"{file.name}: trained: {found.trained}, but the weights have the stamp {stamp}")
    return found
