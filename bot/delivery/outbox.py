"""Texts waiting to go: replies on channels that answer later, and alerts. Written with their turn.

A text is sent at least once: it is marked as going, on the disk, before the request, its outcome after.
One that was going when the service died goes again, since twice is better than never. Every method runs
inside `Store.transaction()`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlite_utils import Database

from bot.channels.base import Channel, Receipt, Sent
from bot.message import Alert, Reply
from bot.storage.turns import moment

URGENT, ALERT, REPLY, EVENT = 0, 1, 2, 3  # what goes first
GIVE_UP_AFTER = timedelta(hours=24)
"""A text that did not go in this time is shown to the office as failed: on site it would only confuse."""
FIRST_WAIT_S, LONGEST_WAIT_S = 4, 900
EARLY_FOR = timedelta(hours=1)
"""How long a receipt is kept whose text has no such name yet: it was quicker than the provider's answer."""

_ORDERED = """
    SELECT key, channel, recipient, text, tries, one.sketch, svg FROM outbox AS one
    LEFT JOIN sketches ON sketches.exchange = one.sketch
    WHERE state = 'waiting' AND (due_at <= :now OR due_at > :latest) AND NOT EXISTS (
        SELECT 1 FROM outbox AS before
        WHERE before.channel = one.channel AND before.recipient = one.recipient
            AND before.rank <= one.rank AND before.place < one.place AND before.state IN ('waiting', 'going')
    )
    ORDER BY rank, place LIMIT :most
"""


@dataclass(frozen=True)
class QueuedText:
    """A text to be put in the outbox. `why` is "" for a reply, else what the alert is for.

    `sketch` is the exchange whose sketch it carries.
    """

    key: str
    channel: str
    reply: Reply
    rank: int
    why: str = ""
    sketch: int | None = None


@dataclass(frozen=True)
class OutgoingText:
    """A text taken out to be sent. `tries` counts this one.

    Where it carries a sketch, `sketch` is its exchange, and `svg` the drawing unless that is gone.
    """

    key: str
    channel: str
    reply: Reply
    tries: int
    sketch: int | None = None
    svg: str | None = None


def rows(
    name: str,
    reply: Reply | None,
    by: Channel,
    alerts: Iterable[tuple[Alert, Channel]],
    picture: QueuedText | None = None,
) -> list[QueuedText]:
    """The texts of one turn, each cut to what its channel carries.

    `name` is the turn's own, such as its exchange: the same turn again makes the same keys. A reply that
    goes back in the hook's answer, or None, makes no row. `picture` comes last, as a text of its own: should
    it not go, the words have gone.
    """
    made = [
        QueuedText(
            "", channel.name, Reply(to=alert.to, text=part), URGENT if alert.urgent else ALERT, alert.why
        )
        for alert, channel in alerts
        for part in channel.parts(alert.text)
    ]
    if reply and reply.text and not by.at_once(reply.text):
        made += [
            QueuedText("", by.name, Reply(to=reply.to, text=part), REPLY) for part in by.parts(reply.text)
        ]
    if picture:
        made.append(picture)
    return [replace(each, key=f"{name}-{n}") for n, each in enumerate(made, start=1)]


def wait_s(tries: int, jitter: float) -> float:
    """Seconds until the next try after `tries` that failed: doubling, and spread by `jitter` in 0 .. 1."""
    longest = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2 ** min(tries - 1, 20))
    return float(longest * (0.5 + 0.5 * jitter))


class Outbox:
    """The outbox of one database. `fresh` says whether a text was put in since it was last looked into."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self.fresh = False

    def put(self, texts: Iterable[QueuedText], now: datetime) -> int:
        """Let texts wait, due at once. One that is already there stays as it is. Returns how many are new."""
        new = 0
        for text in texts:
            self.fresh = True
            new += self._db.execute(
                "INSERT OR IGNORE INTO outbox"
                " (key, ref, channel, recipient, text, rank, why, made_at, due_at, sketch)"
                " VALUES (:key, :key, :channel, :to, :text, :rank, :why, :now, :now, :sketch)",
                {
                    "key": text.key,
                    "channel": text.channel,
                    "to": text.reply.to,
                    "text": text.reply.text,
                    "rank": text.rank,
                    "why": text.why,
                    "now": moment(now),
                    "sketch": text.sketch,
                },
            ).rowcount
        return new

    def recover(self) -> None:
        """At the start: what was going when the service stopped waits again."""
        self._db.execute("UPDATE outbox SET state = 'waiting' WHERE state = 'going'")

    def take(self, now: datetime, most: int = 20) -> list[OutgoingText]:
        """The texts that go now, marked as going and their attempts written down.

        Alerts come first. Texts of one rank to one number keep their order: one waits for the one before.
        A text due later than any wait is long was put there before the clock was set back: it goes now.
        """
        self.fresh = False
        latest = moment(now + timedelta(seconds=LONGEST_WAIT_S))
        found = self._db.execute(_ORDERED, {"now": moment(now), "latest": latest, "most": most}).fetchall()
        for key, _, _, _, tries, *_ in found:
            self._db.execute(
                "UPDATE outbox SET state = 'going', tries = ? WHERE key = ?",
                (tries + 1, key),
            )
            self._db.execute(
                "INSERT INTO attempts (key, number, began_at) VALUES (?, ?, ?)", (key, tries + 1, moment(now))
            )
        return [
            OutgoingText(key, channel, Reply(to=to, text=text), tries + 1, *drawn)
            for key, channel, to, text, tries, *drawn in found
        ]

    def ended(self, going: OutgoingText, sent: Sent, now: datetime, jitter: float) -> None:
        """Write down what became of an attempt: sent, failed for good, or due again later."""
        wait = min(max(wait_s(going.tries, jitter), sent.after_s or 0), LONGEST_WAIT_S)
        self._db.execute(
            "UPDATE attempts SET ended_at = ?, ok = ?, problem = ? WHERE key = ? AND number = ?",
            (moment(now), sent.ok, sent.why, going.key, going.tries),
        )
        # A receipt may have come before the answer to the request did: then the state is no longer 'going'.
        self._db.execute(
            "UPDATE outbox SET problem = :why, ref = :ref, due_at = :due, state = CASE"
            " WHEN :ok THEN 'sent' WHEN :permanent OR made_at <= :oldest THEN 'failed' ELSE 'waiting' END"
            " WHERE key = :key AND state = 'going'",
            {
                "key": going.key,
                "ok": sent.ok,
                "permanent": sent.permanent,
                "oldest": moment(now - GIVE_UP_AFTER),
                "due": moment(now + timedelta(seconds=wait)),
                "why": sent.why,
                "ref": sent.ref or going.key,
            },
        )
        if sent.ref:
            self._receive_early(going.channel, sent.ref, now)

    def receive(self, channel: str, receipt: Receipt, now: datetime) -> bool:
        """Note a delivery receipt. False where no text of this channel has that name.

        It is then kept a while: the provider's answer, which gives the text that name, may come after it.
        """
        changed = self._db.execute(
            "UPDATE outbox SET state = ?, problem = ? WHERE channel = ? AND ref = ?"
            " AND state IN ('going', 'sent', 'delivered')",
            ("delivered" if receipt.delivered else "failed", receipt.why, channel, receipt.ref),
        )
        if changed.rowcount:
            return True
        self._db.execute("DELETE FROM early_receipts WHERE at < ?", (moment(now - EARLY_FOR),))
        self._db.execute(
            "INSERT OR REPLACE INTO early_receipts (channel, ref, delivered, why, at) VALUES (?, ?, ?, ?, ?)",
            (channel, receipt.ref, receipt.delivered, receipt.why, moment(now)),
        )
        return False

    def _receive_early(self, channel: str, ref: str, now: datetime) -> None:
        name = (channel, ref)
        early = self._db.execute(
            "SELECT delivered, why FROM early_receipts WHERE channel = ? AND ref = ?", name
        ).fetchone()
        if early:
            self._db.execute("DELETE FROM early_receipts WHERE channel = ? AND ref = ?", name)
            self.receive(channel, Receipt(ref, bool(early[0]), early[1]), now)

    def failed(self, most: int = 50) -> list[dict[str, object]]:
        """The texts that never arrived, newest first, for the office."""
        columns = ("key", "channel", "recipient", "text", "why", "made_at", "tries", "problem")
        found = self._db.execute(
            f"SELECT {', '.join(columns)} FROM outbox WHERE state = 'failed' AND rank < ?"
            " ORDER BY place DESC LIMIT ?",
            (EVENT, most),
        )
        return [dict(zip(columns, row, strict=True)) for row in found]

    def counts(self) -> dict[str, int]:
        """How many texts, and events to programs, are in each state."""
        return dict(self._db.execute("SELECT state, count(*) FROM outbox GROUP BY state").fetchall())

    def events_behind(self, now: datetime) -> list[tuple[str, int, str, str]]:
        """Programs of the company that did not take what they were told in the last day: which, how many
        events, since when, and why not."""
        return self._db.execute(
            "SELECT recipient, count(*), min(made_at), max(problem)"
            " FROM outbox INDEXED BY outbox_events_behind"
            " WHERE rank = 3 AND state <> 'sent' AND problem <> '' AND made_at > ? GROUP BY recipient",
            (moment(now - GIVE_UP_AFTER),),
        ).fetchall()

    def erase(self, number: str) -> None:
        """Take the words and the number out of every text to `number`; one still waiting never goes."""
        self._db.execute(
            "UPDATE outbox SET text = '', recipient = '', problem = 'erased',"
            " state = CASE WHEN state IN ('waiting', 'going') THEN 'failed' ELSE state END"
            " WHERE recipient = ?",
            (number,),
        )
