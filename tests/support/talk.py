"""A service in memory whose clock the test sets, and texts that are sent and come in when the test says."""

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from complete_day import DAY, PEOPLE, START, Said

from bot.channels.base import Channel
from bot.clock import MachineClock
from bot.config.basis import Basis
from bot.config.people import People, PeopleFile
from bot.message import Message
from bot.service import Service
from bot.storage.turns import Store


class SetClock:
    """The time is what the test says."""

    def __init__(self, at: datetime = START) -> None:
        self.at = at

    def now(self, message: Message | None = None) -> datetime:
        return self.at

    def believed(self, message: Message) -> datetime:
        return MachineClock().believed(message)


class Talk:
    """Texts at one site; each comes in `minutes` after the last, and says that it was sent `ago` minutes
    before it came."""

    def __init__(
        self,
        basis: Basis,
        channels: Mapping[str, Channel] | None = None,
        channel: str = "chat",
        file: Path | str = ":memory:",
        **service: Any,
    ) -> None:
        rows = [
            {"number": number, "name": name, "role": role, "site": "bar"}
            for number, name, role in PEOPLE.values()
            if name
        ]
        self.people = People.of(PeopleFile.model_validate({"person": rows}))
        self.store = Store(file)
        self.clock = SetClock()
        self.channel = channel
        self.service = Service(self.store, self.people, basis, self.clock, channels, **service)
        self._count = 0

    def message(self, who: str, text: str, ago: float = 0, id: str = "") -> Message:
        self._count += 1
        return Message(
            id=id or f"m{self._count}",
            channel=self.channel,
            sender=PEOPLE[who][0],
            text=text,
            sent_at=self.clock.at - timedelta(minutes=ago),
            received_at=self.clock.at,
        )

    def say(self, who: str, text: str, minutes: float = 2, ago: float = 0, id: str = "") -> Said:
        self.clock.at += timedelta(minutes=minutes)
        return self.give(self.message(who, text, ago, id))

    def give(self, message: Message) -> Said:
        with self.store.transaction():
            answered = self.service.answer(message)
        return Said(json.loads(answered.outcome), answered.reply)

    def day(self) -> "Talk":
        """All that a crew tells until nothing is missing at T7."""
        for _, who, text in DAY:
            said = self.say(who, text)
            if "YES" in said.reply:
                self.say(who, "YES")
        assert self.entry() == "may"
        return self

    def entry(self, ref: str = "T7") -> str | None:
        """What stands on record of entry now, as the supervisor is told it."""
        return self.say("S", f"may they go in {ref}?", minutes=0).entry

    def outbox(self) -> list[tuple[str, str, str]]:
        """Every text put in the outbox: to whom, why, and its words."""
        found = self.store.db.execute("SELECT recipient, why, text FROM outbox ORDER BY place")
        return [tuple(row) for row in found]  # type: ignore[misc]

    def close(self) -> None:
        self.store.close()
