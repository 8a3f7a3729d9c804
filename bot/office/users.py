"""Who may sign in to the office, and who is signed in. The first user is made by a command."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from typing import Literal

from sqlite_utils import Database

from bot.office import passwords
from bot.storage.turns import moment

OfficeRole = Literal[
    "reader", "keeper"
]  # a keeper may also change what is kept, and take the whole file away
LASTS = timedelta(hours=12)  # a session: one long working day


@cache
def _nobody() -> str:
    """The password of an unknown name is compared with this, so that it takes as long as a known one."""
    return passwords.hashed(secrets.token_hex(16))


class UserError(ValueError):
    """A user cannot be made or changed. The text says why."""


@dataclass(frozen=True)
class User:
    """Somebody who may sign in."""

    name: str
    role: OfficeRole


def add(db: Database, name: str, role: OfficeRole, password: str, now: datetime) -> None:
    """Make a user. Raises UserError where the name is taken or the password is weak."""
    if not name.strip() or len(name) > 80:
        raise UserError("a name has 1 to 80 characters")
    if why := passwords.weak(password):
        raise UserError(why)
    made = db.execute(
        "INSERT OR IGNORE INTO office_users (name, role, password, made_at) VALUES (?, ?, ?, ?)",
        (name, role, passwords.hashed(password), moment(now)),
    )
    if not made.rowcount:
        raise UserError(f"there is a user {name!r} already")


def remove(db: Database, name: str) -> None:
    """Take a user away and end their sessions. Raises UserError where there is none."""
    db.execute("DELETE FROM office_sessions WHERE user = ?", (name,))
    if not db.execute("DELETE FROM office_users WHERE name = ?", (name,)).rowcount:
        raise UserError(f"there is no user {name!r}")


def every(db: Database) -> list[User]:
    """All users by name."""
    return [User(*row) for row in db.execute("SELECT name, role FROM office_users ORDER BY name")]


def find(db: Database, name: str) -> tuple[User | None, str]:
    """The user of that name and what their password must match: for nobody, what no password matches."""
    row = db.execute("SELECT name, role, password FROM office_users WHERE name = ?", (name,)).fetchone()
    return (User(row[0], row[1]), row[2]) if row else (None, _nobody())


def begin(db: Database, user: User, now: datetime) -> str:
    """Sign a user in. Returns the token for their cookie; the database keeps only its hash."""
    token = secrets.token_urlsafe(32)
    db.execute("DELETE FROM office_sessions WHERE ends_at <= ?", (moment(now),))
    db.execute(
        "INSERT INTO office_sessions (digest, user, ends_at) VALUES (?, ?, ?)",
        (_digest(token), user.name, moment(now + LASTS)),
    )
    return token


def end(db: Database, token: str) -> None:
    """Sign out."""
    db.execute("DELETE FROM office_sessions WHERE digest = ?", (_digest(token),))


def signed_in(db: Database, token: str, now: datetime) -> User | None:
    """Who this token belongs to, None where its session has ended."""
    row = db.execute(
        "SELECT name, role FROM office_sessions JOIN office_users ON name = user"
        " WHERE digest = ? AND ends_at > ?",
        (_digest(token), moment(now)),
    ).fetchone()
    return User(*row) if row else None


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
