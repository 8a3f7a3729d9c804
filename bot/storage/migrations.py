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
            purpose TEXT,
            kind TEXT NOT NULL,
            error TEXT NOT NULL,
            stamp TEXT NOT NULL,
            took_us INTEGER NOT NULL,
            salt TEXT,
            body TEXT NOT NULL,
            previous TEXT NOT NULL,
            hash TEXT NOT NULL,
            -- The long ones last: what stands behind them is only reached through them.
            text TEXT,
            reply TEXT,
            reading TEXT,
            manner TEXT,
            alerts TEXT,
            outcome TEXT
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
    """What was told about each trench, and where each sender's conversation stands."""
    db.executescript(
        """
        CREATE TABLE trenches (
            site TEXT NOT NULL,
            ref TEXT NOT NULL,
            rulebook TEXT NOT NULL,
            kit TEXT NOT NULL,
            events TEXT NOT NULL,
            open INTEGER NOT NULL,
            exchange INTEGER NOT NULL,
            number INTEGER,  -- of a reference that the service could have given: T7 has 7
            PRIMARY KEY (site, ref)
        );
        CREATE INDEX trenches_number ON trenches (site, number);
        CREATE INDEX trenches_open ON trenches (open, site);
        CREATE TABLE threads (sender TEXT PRIMARY KEY, state TEXT NOT NULL, exchange INTEGER NOT NULL);
        """
    )


@steps()
def outbox(db: Database) -> None:
    """Texts to send with every attempt made, and the pieces of long texts that came without the rest.

    A text's state goes from waiting to going to sent to delivered; it ends as failed, or waits again.
    """
    db.executescript(
        """
        CREATE TABLE outbox (
            place INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            ref TEXT NOT NULL,
            channel TEXT NOT NULL,
            recipient TEXT NOT NULL,
            text TEXT NOT NULL,
            rank INTEGER NOT NULL,
            why TEXT NOT NULL,
            made_at TEXT NOT NULL,
            due_at TEXT NOT NULL,
            state TEXT NOT NULL DEFAULT 'waiting',
            tries INTEGER NOT NULL DEFAULT 0,
            problem TEXT NOT NULL DEFAULT ''
        );
        CREATE INDEX outbox_unsent ON outbox (channel, recipient, place) WHERE state IN ('waiting', 'going');
        CREATE INDEX outbox_state ON outbox (state, due_at);
        CREATE INDEX outbox_ref ON outbox (channel, ref);
        CREATE INDEX outbox_recipient ON outbox (recipient);
        CREATE TABLE attempts (
            key TEXT NOT NULL,
            number INTEGER NOT NULL,
            began_at TEXT NOT NULL,
            ended_at TEXT,
            ok INTEGER,
            problem TEXT,
            PRIMARY KEY (key, number)
        ) WITHOUT ROWID;
        CREATE TABLE pieces (
            channel TEXT NOT NULL,
            sender TEXT NOT NULL,
            ref INTEGER NOT NULL,
            total INTEGER NOT NULL,
            number INTEGER NOT NULL,
            id TEXT NOT NULL,
            text TEXT NOT NULL,
            sent_at TEXT NOT NULL,
            received_at TEXT NOT NULL
        );
        CREATE INDEX pieces_of ON pieces (channel, sender, ref, received_at);
        """
    )


@steps()
def office(db: Database) -> None:
    """Who may sign in to the office, and what finding in a long log needs."""
    db.executescript(
        """
        CREATE TABLE office_users (
            name TEXT PRIMARY KEY,
            role TEXT NOT NULL,
            password TEXT NOT NULL,
            made_at TEXT NOT NULL
        );
        CREATE TABLE office_sessions (
            digest TEXT PRIMARY KEY,
            user TEXT NOT NULL REFERENCES office_users (name),
            ends_at TEXT NOT NULL
        );
        CREATE INDEX turns_ref ON turns (trench, exchange);
        CREATE INDEX turns_site ON turns (site, exchange);
        CREATE INDEX turns_rulebook ON turns (rulebook, exchange);
        CREATE INDEX turns_kind_sent ON turns (kind, sent_at);
        CREATE INDEX turns_site_sent ON turns (site, sent_at);
        CREATE INDEX trenches_latest ON trenches (open, exchange);
        """
    )
    # By their stems, "struts" finds "strut": looking for beginnings would go through every turn that has one.
    words = "porter unicode61 remove_diacritics 2"
    db.table("turns").enable_fts(["text", "reply"], create_triggers=True, tokenize=words)
    # New turns are taken in by the store, all of a transaction at once.
    db.execute("DROP TRIGGER turns_ai")


@steps()
def early_receipts(db: Database) -> None:
    """Receipts that came before the provider had said how it names the text."""
    db.executescript(
        """
        CREATE TABLE early_receipts (
            channel TEXT NOT NULL,
            ref TEXT NOT NULL,
            delivered INTEGER NOT NULL,
            why TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (channel, ref)
        ) WITHOUT ROWID;
        """
    )


@steps()
def sketches(db: Database) -> None:
    """The sketches that were asked for, and which texts in the outbox carry one."""
    db.executescript(
        """
        CREATE TABLE sketches (exchange INTEGER PRIMARY KEY, svg TEXT NOT NULL, made_at TEXT NOT NULL);
        ALTER TABLE outbox ADD COLUMN sketch INTEGER;  -- the exchange whose sketch goes with the text
        """
    )


@steps()
def changes(db: Database) -> None:
    """What the office changed: the whole text of a file from then on, empty where the file is gone.

    The rows are a chain of their own. `shipped` is the digest of the file as it came with the program then,
    `after` the last hash of the log. Old texts may be erased, since they name people; the chain stays.
    """
    db.executescript(
        """
        CREATE TABLE changes (
            change INTEGER PRIMARY KEY,
            at TEXT NOT NULL,
            user TEXT NOT NULL,
            file TEXT NOT NULL,
            shipped TEXT NOT NULL,
            why TEXT,
            text TEXT,
            salt TEXT,
            body TEXT NOT NULL,
            after TEXT NOT NULL,
            previous TEXT NOT NULL,
            hash TEXT NOT NULL UNIQUE
        );
        CREATE INDEX changes_file ON changes (file, change);

        CREATE TRIGGER changes_stay BEFORE DELETE ON changes
        BEGIN SELECT RAISE(ABORT, 'changes are only added'); END;

        CREATE TRIGGER changes_hold BEFORE UPDATE ON changes
        WHEN NEW.salt IS NOT NULL OR NEW.hash IS NOT OLD.hash OR NEW.previous IS NOT OLD.previous
            OR NEW.body IS NOT OLD.body OR NEW.change IS NOT OLD.change
        BEGIN SELECT RAISE(ABORT, 'a change is never altered, old texts are only erased'); END;
        """
    )


@steps()
def refused(db: Database) -> None:
    """What could not be taken, for a few days: it is no part of the log, and goes when somebody was rung."""
    db.executescript(
        """
        CREATE TABLE refused (
            channel TEXT NOT NULL,
            sender TEXT NOT NULL,
            why TEXT NOT NULL,
            at TEXT NOT NULL,
            times INTEGER NOT NULL,
            PRIMARY KEY (channel, sender, why)
        );
        """
    )


@steps()
def guests(db: Database) -> None:
    """Who asked by text to join a site, and who may text there until when."""
    db.executescript(
        """
        CREATE TABLE guests (
            number TEXT PRIMARY KEY,
            name TEXT NOT NULL,
            site TEXT NOT NULL,
            asked TEXT NOT NULL,
            until TEXT,
            by TEXT NOT NULL
        );
        """
    )


@steps()
def versions(db: Database) -> None:
    """A name for each version of a trench's record, new whenever it is written, so that who has one at hand
    knows whether it still stands."""
    db.execute("ALTER TABLE trenches ADD COLUMN version TEXT NOT NULL DEFAULT ''")


@steps()
def acknowledged(db: Database) -> None:
    """What somebody in the office has seen to: an alarm that reached nobody, words that hold entry back.

    It changes nothing on the record of a trench. `what` names it without anybody's number.
    """
    db.executescript(
        """
        CREATE TABLE acknowledged (
            what TEXT PRIMARY KEY,
            user TEXT NOT NULL,
            at TEXT NOT NULL,
            note TEXT NOT NULL
        ) WITHOUT ROWID;
        CREATE INDEX outbox_alarms ON outbox (place)
            WHERE rank = 0 AND why NOT IN ('', 'code') AND state NOT IN ('sent', 'delivered');
        """
    )


@steps()
def log_about(db: Database) -> None:
    """What people look for on the log, found by indexes of the very conditions in `log.ABOUT`."""
    db.executescript(
        """
        CREATE INDEX turns_about_hazard ON turns (exchange) WHERE
            (reading ->> '$.hazards' IS NOT NULL OR coalesce(outcome ->> '$.hazards', '[]') <> '[]'
            OR reading ->> '$.possible_hazard' IS NOT NULL);
        CREATE INDEX turns_about_stop ON turns (exchange) WHERE
            (purpose = 'stop' OR (kind = 'unclear' AND outcome ->> '$.why' = 'stopped'));
        CREATE INDEX turns_about_let_in ON turns (exchange) WHERE
            (reading ->> '$.code' IS NOT NULL AND outcome ->> '$.allowed_by' IS NOT NULL);
        CREATE INDEX turns_about_inspection ON turns (exchange) WHERE
            (reading ->> '$.verdict' IS NOT NULL OR reading ->> '$.done' LIKE '%"inspection"%');
        """
    )


@steps()
def attached(db: Database) -> None:
    """Whether something came with a text that nobody here sees: a picture, a file, a voice."""
    db.execute("ALTER TABLE turns ADD COLUMN attached INTEGER NOT NULL DEFAULT 0")


@steps()
def records(db: Database) -> None:
    """What the records of trenches came to by a turn, as digests that its hash covers; NULL before there were
    any."""
    db.executescript(
        """
        ALTER TABLE turns ADD COLUMN records TEXT;
        DROP TRIGGER turns_hold;
        CREATE TRIGGER turns_hold BEFORE UPDATE ON turns
        WHEN NEW.salt IS NOT NULL OR NEW.hash IS NOT OLD.hash OR NEW.previous IS NOT OLD.previous
            OR NEW.body IS NOT OLD.body OR NEW.exchange IS NOT OLD.exchange
            OR NEW.records IS NOT OLD.records
        BEGIN SELECT RAISE(ABORT, 'the log is never changed, words are only erased'); END;
        """
    )


@steps()
def pictures(db: Database) -> None:
    """Pictures that came with texts: those still to be fetched, and what became of each.

    The rows of `pictures` are a chain of their own, as those of `changes` are; `body` covers the picture's
    digest, so that erasing can take the picture and leave the chain whole.
    """
    db.executescript(
        """
        CREATE TABLE pictures (
            picture INTEGER PRIMARY KEY,
            exchange INTEGER NOT NULL,
            number INTEGER NOT NULL,
            at TEXT NOT NULL,
            why TEXT NOT NULL,
            wide INTEGER,
            high INTEGER,
            sender TEXT,
            salt TEXT,
            body TEXT NOT NULL,
            after TEXT NOT NULL,
            previous TEXT NOT NULL,
            hash TEXT NOT NULL UNIQUE,
            jpeg BLOB
        );
        CREATE INDEX pictures_exchange ON pictures (exchange);
        CREATE INDEX pictures_sender ON pictures (sender, at);
        CREATE TABLE pictures_due (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            exchange INTEGER NOT NULL,
            number INTEGER NOT NULL,
            channel TEXT NOT NULL,
            sender TEXT NOT NULL,
            place TEXT NOT NULL,
            due_at TEXT NOT NULL,
            tries INTEGER NOT NULL DEFAULT 0
        );

        CREATE TRIGGER pictures_stay BEFORE DELETE ON pictures
        BEGIN SELECT RAISE(ABORT, 'what became of a picture is only added'); END;

        CREATE TRIGGER pictures_hold BEFORE UPDATE ON pictures
        WHEN NEW.salt IS NOT NULL OR NEW.hash IS NOT OLD.hash OR NEW.previous IS NOT OLD.previous
            OR NEW.body IS NOT OLD.body OR NEW.picture IS NOT OLD.picture
        BEGIN SELECT RAISE(ABORT, 'a picture is never altered, it is only erased'); END;
        """
    )


@steps()
def told_leaves(db: Database) -> None:
    """The trenches of which programs of the company were told last that people are let in, and since when."""
    db.executescript(
        """
        CREATE TABLE told_leaves (
            site TEXT NOT NULL,
            trench TEXT NOT NULL,
            at TEXT NOT NULL,
            PRIMARY KEY (site, trench)
        ) WITHOUT ROWID;
        CREATE INDEX outbox_events_behind ON outbox (recipient, made_at)
            WHERE rank = 3 AND state <> 'sent' AND problem <> '';
        """
    )


@steps()
def trenches_stand(db: Database) -> None:
    """How the open trenches of each site stand, from the index alone: the records themselves are long."""
    db.executescript(
        """
        DROP INDEX trenches_open;
        CREATE INDEX trenches_open ON trenches (open, site, exchange);
        """
    )
