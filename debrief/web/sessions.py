"""Sessions: who sends a request, by a signed cookie, and the key that a form of theirs must carry.

Owns      beginning, finding and ending sessions; signing in with its waits; the cookie and its signature.
Not here  passwords and tokens (``accounts``), what anybody may do (``guard``).
Source    OWASP ASVS 4.0.3, 2.2 (failed attempts), 3.2 to 3.4 (sessions and cookies), 4.2.2 (forged requests). Mark: memory.

The cookie holds a random key and its signature; the database holds the key's sum, so that a copy of it signs nobody in.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import sqlite3
import time
from dataclasses import dataclass

from debrief.language import tr
from debrief.web.accounts import Account, account_of, holder, note, sum_of
from debrief.web.limits import (
    IDLE_S,
    SESSION_S,
    SIGN_IN_WAIT_S,
    SIGN_INS_FAILED,
    SIGN_INS_SPREAD,
)
from debrief.web.store import at_once

COOKIE = "debrief"
_SEEN_STEP_S = 30.0  # the time of the last request is written this often


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A browser that was here before; signed in, or not (yet)."""

    key: str
    form_key: str
    account: Account | None


def signed(secret: bytes, key: str) -> str:
    """What stands in the cookie."""
    return f"{key}.{hmac.new(secret, key.encode(), hashlib.sha256).hexdigest()}"


def _key_in(secret: bytes, cookie: str) -> str | None:
    key = cookie.partition(".")[0]
    return key if hmac.compare_digest(signed(secret, key).encode(), cookie.encode()) else None


def begin(connection: sqlite3.Connection, account: Account | None = None) -> Session:
    """A new session; never the continuation of another, so that no key from before a sign-in is worth anything."""
    key, form_key, now = secrets.token_urlsafe(32), secrets.token_urlsafe(24), time.time()
    connection.execute("DELETE FROM session WHERE begun_at < ?", (now - SESSION_S,))
    connection.execute(
        "INSERT INTO session (key_sha256, account, form_key, begun_at, seen_at) VALUES (?, ?, ?, ?, ?)",
        (sum_of(key), None if account is None else account.id, form_key, now, now),
    )
    return Session(key=key, form_key=form_key, account=account)


def found(connection: sqlite3.Connection, secret: bytes, cookie: str) -> Session | None:
    """The session of a cookie, ``None`` where it is forged, too old, or was idle for too long."""
    key = _key_in(secret, cookie)
    if key is None:
        return None
    now = time.time()
    row = connection.execute(
        "SELECT * FROM session WHERE key_sha256 = ? AND begun_at > ? AND (account IS NULL OR seen_at > ?)",
        (sum_of(key), now - SESSION_S, now - IDLE_S),
    ).fetchone()
    if row is None:
        return None
    account = None if row["account"] is None else account_of(connection, row["account"])
    if account is not None and account.closed:
        return None
    if now - row["seen_at"] > _SEEN_STEP_S:
        connection.execute("UPDATE session SET seen_at = ? WHERE key_sha256 = ?", (now, sum_of(key)))
    return Session(key=key, form_key=row["form_key"], account=account)


def end(connection: sqlite3.Connection, session: Session) -> None:
    """End a session."""
    connection.execute("DELETE FROM session WHERE key_sha256 = ?", (sum_of(session.key),))


def sign_in(connection: sqlite3.Connection, name: str, password: str, address: str) -> Session | str:
    """A session of the account whose name and password these are; else why not, in words that tell nobody more."""
    since = time.time() - SIGN_IN_WAIT_S
    with at_once(connection):
        connection.execute("DELETE FROM failed_sign_in WHERE at < ?", (since,))
        of_name, from_there = connection.execute(
            "SELECT count(CASE WHEN name = ? THEN 1 END), count(CASE WHEN address = ? THEN 1 END)"
            " FROM failed_sign_in",
            (name, address),
        ).fetchone()
        if of_name >= SIGN_INS_FAILED or from_there >= SIGN_INS_FAILED * SIGN_INS_SPREAD:
            return tr(
                "Too many sign-ins failed. Wait {minutes:.0f} minutes, or ask whoever keeps this page to set another "
                "password with: debrief accounts password NAME.",
                minutes=SIGN_IN_WAIT_S / 60,
            )
        # counted before it is tried: many at once are not more than one after the other
        counted = connection.execute(
            "INSERT INTO failed_sign_in (name, address, at) VALUES (?, ?, ?)", (name, address, time.time())
        ).lastrowid
    account = holder(connection, name, password)
    if account is None:
        note(connection, name[:40], "sign-in failed", address)
        return tr(
            "There is no account with this name and password. Check both; capitals count in the password."
        )
    connection.execute(
        "DELETE FROM failed_sign_in WHERE rowid = ? OR (name = ? AND address = ?)", (counted, name, address)
    )
    note(connection, account.name, "signed in", address)
    return begin(connection, account)
