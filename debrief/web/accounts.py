"""Accounts: who there is, in which role, and whether a password is theirs.

Owns      adding, listing and closing accounts; passwords (Argon2id); tokens for scripts; the trail of what was done.
Not here  signing in over the page and its waits (``sessions``), what a role may do (``guard``).
Source    OWASP ASVS 4.0.3, 2.1 (passwords), 2.4 (storage), 3.5 (tokens). Mark: memory.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import sqlite3
import time
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal, get_args

from debrief.errors import DebriefError
from debrief.language import mark, tr
from debrief.web.limits import LEAST_PASSWORD, MOST_PASSWORD, TOKEN_DAYS

if TYPE_CHECKING:
    from argon2 import PasswordHasher

Role = Literal["pilot", "examiner", "admin"]
ROLES: tuple[Role, ...] = get_args(Role)
ROLE_WORDS: dict[str, str] = mark({"pilot": "pilot", "examiner": "examiner", "admin": "admin"})

_NAME = re.compile(r"[\w][\w .'-]{0,38}[\w]|[\w]")
_EASY = re.compile(r"(.)\1*|(?:0?123456789?0?)+|(?:abc|qwe|asd|xyz)[a-z]*\d*", re.IGNORECASE)
_EASY_WORDS = (
    "password",
    "passwort",
    "letmein",
    "welcome",
    "iloveyou",
    "qwerty",
    "debrief",
    "approach",
    "runway",
    "pilot",
    "examiner",
    "admin",
    "changeme",
    "secret",
    "12345",
    "abc",
)
TOKEN_PREFIX = "dbf_"


class AccountError(DebriefError):
    """A name, role or password that cannot be taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Somebody who may sign in."""

    id: int
    name: str
    role: Role
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A key that a script signs in with; only its sum is kept."""

    id: int
    label: str
    made_at: float
    ends_at: float
    used_at: float | None


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    # Argon2id, 64 MiB, three passes, four lanes: the library's choice, after RFC 9106
    return PasswordHasher()


@cache
def _nobody() -> str:
    """What a password is held against where there is no such name, so that it takes as long."""
    return _hasher().hash(secrets.token_urlsafe())


def sum_of(secret: str) -> str:
    """The SHA-256 by which a long random secret is looked up."""
    return hashlib.sha256(secret.encode()).hexdigest()


def check_password(password: str, name: str) -> None:
    """Raise ``AccountError`` where a password is too short, too long, or easily guessed."""
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        raise AccountError(
            tr(
                "a password has {least} to {most} characters, this one {count}",
                least=LEAST_PASSWORD,
                most=MOST_PASSWORD,
                count=len(password),
            ),
            remedy=tr("Several words in a row are easy to keep in mind."),
        )
    left = password.casefold()
    for word in (*_EASY_WORDS, name.casefold(), *name.casefold().split()):
        left = left.replace(word, "")
    left = re.sub(r"[\W\d_]+", "", left)
    if _EASY.fullmatch(password) or len(set(password)) < 5 or len(left) < 4:
        raise AccountError(
            tr("this password is easily guessed"),
            remedy=tr("Take several words that do not belong together."),
        )


def add_account(connection: sqlite3.Connection, name: str, role: str, password: str) -> Account:
    """Make an account.

    Raises
    ------
    AccountError
        Where the name is taken or holds what no name holds, the role is none, or the password too weak.
    """
    name = " ".join(name.split())
    if not _NAME.fullmatch(name):
        raise AccountError(
            tr("{name!r} is no name for an account", name=name[:40]),
            remedy=tr("Take letters, figures, blanks, points, hyphens; 40 at most."),
        )
    if role not in ROLES:
        raise AccountError(f"there is no role {role!r}", remedy=f"Give one of {', '.join(ROLES)}.")
    check_password(password, name)
    try:
        connection.execute(
            "INSERT INTO account (name, role, password, made_at) VALUES (?, ?, ?, ?)",
            (name, role, _hasher().hash(password), time.time()),
        )
    except sqlite3.IntegrityError as error:
        raise AccountError(
            tr("there is an account {name!r} already", name=name),
            remedy=tr("Take another name, or close that one."),
        ) from error
    found = account_named(connection, name)
    assert found is not None
    return found


def accounts(connection: sqlite3.Connection) -> tuple[Account, ...]:
    """Every account, by name, closed ones included."""
    rows = connection.execute("SELECT * FROM account ORDER BY name COLLATE NOCASE")
    return tuple(map(_account, rows))


def are_there_any(connection: sqlite3.Connection) -> bool:
    """Whether anybody could sign in."""
    return connection.execute("SELECT 1 FROM account WHERE closed_at IS NULL").fetchone() is not None


def were_there_any(connection: sqlite3.Connection) -> bool:
    """Whether accounts were ever made, closed ones included: closing the last one opens the page to nobody."""
    return connection.execute("SELECT 1 FROM account").fetchone() is not None


def account_named(connection: sqlite3.Connection, name: str) -> Account | None:
    """The account of that name, whatever its capitals."""
    row = connection.execute("SELECT * FROM account WHERE name = ?", (name,)).fetchone()
    return None if row is None else _account(row)


def account_of(connection: sqlite3.Connection, number: int) -> Account | None:
    """The account of that number."""
    row = connection.execute("SELECT * FROM account WHERE id = ?", (number,)).fetchone()
    return None if row is None else _account(row)


def _account(row: sqlite3.Row) -> Account:
    return Account(id=row["id"], name=row["name"], role=row["role"], closed=row["closed_at"] is not None)


def holder(connection: sqlite3.Connection, name: str, password: str) -> Account | None:
    """The open account whose name and password these are. It takes as long where there is none."""
    from argon2.exceptions import InvalidHashError, VerificationError

    row = connection.execute("SELECT * FROM account WHERE name = ? AND closed_at IS NULL", (name,)).fetchone()
    stored = _nobody() if row is None else row["password"]
    try:
        _hasher().verify(stored, password[:MOST_PASSWORD])
    except (VerificationError, InvalidHashError):
        return None
    if row is None:
        return None
    if _hasher().check_needs_rehash(stored):
        connection.execute(
            "UPDATE account SET password = ? WHERE id = ?", (_hasher().hash(password), row["id"])
        )
    return _account(row)


def set_password(connection: sqlite3.Connection, account: Account, password: str) -> None:
    """Give an account another password; every session of it ends."""
    check_password(password, account.name)
    connection.execute("UPDATE account SET password = ? WHERE id = ?", (_hasher().hash(password), account.id))
    connection.execute("DELETE FROM session WHERE account = ?", (account.id,))


def close_account(connection: sqlite3.Connection, account: Account) -> None:
    """Let nobody sign in with it any more; its flights stay."""
    connection.execute("UPDATE account SET closed_at = ? WHERE id = ?", (time.time(), account.id))
    connection.execute("DELETE FROM session WHERE account = ?", (account.id,))
    connection.execute("DELETE FROM token WHERE account = ?", (account.id,))


def open_again(connection: sqlite3.Connection, account: Account) -> None:
    """Undo ``close_account``; its sessions and tokens are gone."""
    connection.execute("UPDATE account SET closed_at = NULL WHERE id = ?", (account.id,))


# Tokens


def make_token(connection: sqlite3.Connection, account: Account, label: str) -> str:
    """A new token of an account, shown this once."""
    token = TOKEN_PREFIX + secrets.token_urlsafe(32)
    now = time.time()
    connection.execute(
        "INSERT INTO token (account, label, token_sha256, made_at, ends_at) VALUES (?, ?, ?, ?, ?)",
        (account.id, " ".join(label.split())[:60] or "script", sum_of(token), now, now + TOKEN_DAYS * 86400),
    )
    return token


def tokens(connection: sqlite3.Connection, account: Account) -> tuple[Token, ...]:
    """The tokens of an account."""
    rows = connection.execute("SELECT * FROM token WHERE account = ? ORDER BY id", (account.id,))
    return tuple(
        Token(
            id=row["id"],
            label=row["label"],
            made_at=row["made_at"],
            ends_at=row["ends_at"],
            used_at=row["used_at"],
        )
        for row in rows
    )


def end_token(connection: sqlite3.Connection, account: Account, number: int) -> None:
    """End one token of an account."""
    connection.execute("DELETE FROM token WHERE account = ? AND id = ?", (account.id, number))


def holder_of_token(connection: sqlite3.Connection, token: str) -> Account | None:
    """The open account that a token belongs to."""
    row = connection.execute(
        "SELECT account.*, token.id AS token_id FROM token JOIN account ON account.id = token.account"
        " WHERE token_sha256 = ? AND ends_at > ? AND closed_at IS NULL",
        (sum_of(token), time.time()),
    ).fetchone()
    if row is None:
        return None
    connection.execute("UPDATE token SET used_at = ? WHERE id = ?", (time.time(), row["token_id"]))
    return _account(row)


# The trail


def note(connection: sqlite3.Connection, who: str, what: str, about: str, because: str = "") -> None:
    """Write down who did what; rows of the trail can be neither changed nor deleted."""
    connection.execute(
        "INSERT INTO trail (at, who, what, about, because) VALUES (?, ?, ?, ?, ?)",
        (time.time(), who, what, about, because),
    )


def trail(connection: sqlite3.Connection, most: int = 500) -> list[sqlite3.Row]:
    """The last rows of the trail, newest first."""
    return connection.execute("SELECT * FROM trail ORDER BY id DESC LIMIT ?", (most,)).fetchall()
