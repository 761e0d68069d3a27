"""Pilots' names: as they are kept, and as they are looked up.

Owns      ``pilot_name`` and ``folded``.
Not here  aliases (``removing``), who is in a logbook (``looking``).
"""

from __future__ import annotations

import unicodedata

from debrief.errors import LogbookError

LONGEST_NAME = 60


def pilot_name(name: str) -> str:
    """A pilot's name as it is kept: one blank between words.

    Raises
    ------
    LogbookError
        Where it is empty, too long, or holds what cannot be printed.
    """
    clean = " ".join(unicodedata.normalize("NFC", name).split())
    if not clean:
        raise LogbookError("the pilot's name is empty", remedy="Give one with --pilot.")
    if len(clean) > LONGEST_NAME:
        raise LogbookError(
            f"the pilot's name has {len(clean)} letters", remedy=f"Give {LONGEST_NAME} at most with --pilot."
        )
    if not clean.isprintable():
        raise LogbookError("the pilot's name holds what cannot be printed", remedy="Type it again.")
    return clean


def folded(name: str) -> str:
    """A name as it is looked up: two that differ by case alone are one pilot."""
    return unicodedata.normalize("NFKC", name).casefold()
