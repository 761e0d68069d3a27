"""Options that several commands share, from what was typed to what the code takes.

Owns      ``--column``, days, and how a log is to be read.
Not here  the commands; anything heavy: the help text must appear at once.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from debrief.errors import TrackError


def columns_given(given: Sequence[str]) -> dict[str, str]:
    """``NAME=HEADING`` pairs as a mapping; ``TrackError`` where one is of another form."""
    columns = {}
    for pair in given:
        name, equals, heading = pair.partition("=")
        if not (name.strip() and equals and heading.strip()):
            raise TrackError(
                f"--column {pair!r} is not of the form NAME=HEADING",
                remedy="Write for example --column latitude=Y.",
            )
        columns[name.strip()] = heading.strip()
    return columns


def day_given(given: str, option: str = "--date") -> datetime.date:
    """A day as it was typed; ``TrackError`` where it is none."""
    try:
        return datetime.date.fromisoformat(given)
    except ValueError as error:
        raise TrackError(
            f"{option} {given!r} is not a date",
            remedy=f"Write year, month and day, for example {option} 2026-05-04.",
        ) from error
