"""The database's shape, one step after another. A step that was released is never changed: add one."""

from sqlite_utils import Database, Migrations

steps = Migrations("trenchword")


@steps()
def turns(db: Database) -> None:
    """The log. Rows are added, never changed; the words of a person may be erased, the chain stays.

    `body` is the salted digest of everything a person said or was told; `hash` covers `body`, the
    columns beside it and the hash before. Erasing takes the words and the salt away and keeps both.
    """
    db.executescript(
        """
        CREATE TABLE turns (
            exchange INTEGER PRIMARY KEY,
            channel TEXT NOT NULL,
            message_id TEXT,
            sender TEXT,
            name TEXT,
            role TEXT,
            site TEXT,
            rulebook TEXT,
            trench TEXT,
            sent_at TEXT NOT NULL,
            received_at TEXT NOT NULL,
            answered_at TEXT NOT NULL,
            text TEXT,
            purpose TEXT,
            reading TEXT,
            kind TEXT NOT NULL,
            outcome TEXT,
            reply TEXT,
            manner TEXT,
            alerts TEXT,
            error TEXT NOT NULL,
            stamp TEXT NOT NULL,
            took_us INTEGER NOT NULL,
            salt TEXT,
            body TEXT NOT NULL,
            previous TEXT NOT NULL,
            hash TEXT NOT NULL UNIQUE
        );
        CREATE UNIQUE INDEX turns_message ON turns (channel, sender, message_id);
        CREATE INDEX turns_trench ON turns (site, trench, exchange);
        CREATE INDEX turns_sender ON turns (sender, exchange);
        CREATE INDEX turns_kind ON turns (kind, exchange);
        CREATE INDEX turns_sent ON turns (sent_at);

        CREATE TRIGGER turns_stay BEFORE DELETE ON turns
        BEGIN SELECT RAISE(ABORT, 'the log only grows'); END;

        CREATE TRIGGER turns_hold BEFORE UPDATE ON turns
        WHEN NEW.salt IS NOT NULL OR NEW.hash IS NOT OLD.hash OR NEW.previous IS NOT OLD.previous
            OR NEW.body IS NOT OLD.body OR NEW.exchange IS NOT OLD.exchange
        BEGIN SELECT RAISE(ABORT, 'the log is never changed, words are only erased'); END;
        """
    )


@steps()
def states(db: Database) -> None:
    """Where each trench and each sender's conversation stands: worked from the turns, kept for speed."""
    db.executescript(
        """
        CREATE TABLE trenches (
            site TEXT NOT NULL,
            ref TEXT NOT NULL,
            open INTEGER NOT NULL,
            state TEXT NOT NULL,
            exchange INTEGER NOT NULL,
            PRIMARY KEY (site, ref)
        );
        CREATE INDEX trenches_open ON trenches (open, site);
        CREATE TABLE threads (sender TEXT PRIMARY KEY, state TEXT NOT NULL, exchange INTEGER NOT NULL);
        """
    )
