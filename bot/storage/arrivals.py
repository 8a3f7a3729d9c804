"""What the network does to texts on their way in: pieces of a long one alone, and one text delivered twice.

Every method runs inside `Store.transaction()`.
"""

from datetime import timedelta

from sqlite_utils import Database

from bot.channels.base import SmsPart
from bot.message import Message
from bot.storage.turns import moment

TOGETHER = timedelta(minutes=10)
"""Pieces further apart are never joined: a phone counts references to 255 and begins again, and a part of
one text joined to a part of another would be a text that nobody wrote."""


class Arrivals:
    """The pieces held in one database."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def piece(self, piece: SmsPart) -> Message | bool:
        """The whole message once its last piece is there; until then whether its sender is to be told that a
        part came alone, which is said once for a message.

        The whole message has the id of its first part, so that a piece which comes again makes it again.
        """
        one = piece.message
        name = {
            "channel": one.channel,
            "sender": one.sender,
            "ref": piece.ref,
            "total": piece.total,
            "since": moment(one.received_at - TOGETHER),
            "until": moment(one.received_at + TOGETHER),
        }
        held = self._held(name)
        # The first to come stays, so that what was joined once is joined in the same way again.
        if piece.number not in held:
            self._db.execute(
                "INSERT INTO pieces (channel, sender, ref, total, number, id, text, sent_at, received_at)"
                " VALUES (:channel, :sender, :ref, :total, :number, :id, :text, :sent_at, :received_at)",
                name
                | {"number": piece.number, "id": one.id, "text": one.text}
                | {"sent_at": moment(one.sent_at), "received_at": moment(one.received_at)},
            )
            first = not held
            held[piece.number] = (one.id, one.text)
        else:
            first = False
        if len(held) < piece.total:
            return first
        return one.model_copy(update={"id": held[1][0], "text": "".join(held[n][1] for n in sorted(held))})

    def _held(self, name: dict[str, object]) -> dict[int, tuple[str, str]]:
        found = self._db.execute(
            "SELECT number, id, text FROM pieces WHERE channel = :channel AND sender = :sender"
            " AND ref = :ref AND total = :total AND received_at BETWEEN :since AND :until ORDER BY number",
            name,
        )
        return {number: (id_, text) for number, id_, text in found}

    def repeat_of(self, message: Message, within_s: float) -> str | None:
        """The id of an answered text that this one repeats under a new id, None where it is a new one.

        A repeat has the same channel, sender and words, and came within `within_s` seconds; 0 for
        channels whose ids can be trusted. Who asks for the last answer "again" means it each time.
        """
        if within_s <= 0:
            return None
        # Both ways: after the clock was set back, what is from its future is no repeat.
        within = timedelta(seconds=within_s)
        since, until = moment(message.received_at - within), moment(message.received_at + within)
        found = self._db.execute(
            "SELECT message_id FROM turns WHERE sender = ? AND channel = ? AND text = ?"
            " AND received_at BETWEEN ? AND ? AND json_extract(reading, '$.again') IS NULL"
            " ORDER BY exchange DESC LIMIT 1",
            (message.sender, message.channel, message.text, since, until),
        ).fetchone()
        return found[0] if found else None

    def erase(self, number: str) -> None:
        """Forget the pieces of a sender."""
        self._db.execute("DELETE FROM pieces WHERE sender = ?", (number,))
