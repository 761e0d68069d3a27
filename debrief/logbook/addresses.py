"""Where a logbook is, and which schema it must have.

Owns      the default address, what an address means, the number of today's schema.
Not here  opening it (``opening``), making and migrating its tables (``migrating``).
Imports   nothing heavy: a list of flights must appear at once.
"""

from __future__ import annotations

from pathlib import Path

IN_MEMORY = "sqlite://"
_FILE = "sqlite:///"

VERSION_TABLE = "logbook_schema"
#: The newest step in ``migrations/versions``; a test holds the two together.
NEWEST = "0002"


def default_address() -> str:
    """The logbook of this user on this machine."""
    import platformdirs

    return str(Path(platformdirs.user_data_dir("debrief", appauthor=False)) / "logbook.sqlite")


def is_shared(address: str) -> bool:
    """Whether it means a PostgreSQL database.

    >>> is_shared("postgresql://club.example/logbook")
    True
    """
    return address.startswith(("postgresql:", "postgres:"))


def file_of(address: str) -> Path | None:
    """The file that an address means; ``None`` where it means something else.

    >>> file_of("sqlite:///club.sqlite").name, file_of("club.sqlite").name
    ('club.sqlite', 'club.sqlite')
    >>> file_of("sqlite://"), file_of("postgresql://club.example/logbook"), file_of("ftp://club.example/logbook")
    (None, None, None)
    """
    if is_shared(address) or address == IN_MEMORY or ("://" in address and not address.startswith(_FILE)):
        return None
    return Path(address.removeprefix(_FILE))
