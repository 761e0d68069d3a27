"""The procedures that were made on the page: their files, found by a name that no one outside chose.

Owns      names of procedure files in the store, and the list of all that can be chosen.
Not here  what stands in one (``procedures``), the form that makes one (``maker``).
"""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from pathlib import Path

from debrief.language import tr
from debrief.web.store import Store

_NAME = re.compile(r"own-[0-9a-z-]{1,60}-[0-9a-f]{8}")
_PLAIN = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Known:
    """A procedure that can be chosen."""

    key: str
    name: str
    station: str
    pattern: str
    own: bool


def own_file(store: Store, key: str) -> Path | None:
    """The file of a procedure made here; ``None`` where the key is not one of ours or its file is gone."""
    if not _NAME.fullmatch(key):
        return None
    path = store.procedures / f"{key}.toml"
    return path if path.is_file() else None


def new_key(name: str) -> str:
    """A key for a new procedure: its name in plain letters, and some that make it the only one."""
    plain = _PLAIN.sub("-", name.casefold()).strip("-")[:40].strip("-") or "procedure"
    return f"own-{plain}-{secrets.token_hex(4)}"


def known_procedures(store: Store) -> tuple[Known, ...]:
    """Every procedure, those made here first."""
    from debrief.errors import ProcedureError
    from debrief.procedures import bundled_procedures, load_procedure

    found = []
    for path in sorted(store.procedures.glob("own-*.toml")):
        try:
            found.append((path.stem, load_procedure(path), True))
        except ProcedureError:  # somebody edited it by hand: the folder is theirs
            continue
    found += [(Path(procedure.file).stem, procedure, False) for procedure in bundled_procedures()]
    return tuple(
        Known(
            key=key,
            name=procedure.name,
            station=f"{procedure.station.kind} {procedure.station.ident}",
            pattern=tr("straight in")
            if procedure.reversal is None
            else " ".join(tr(word) for word in (procedure.reversal.pattern, procedure.reversal.side) if word),
            own=own,
        )
        for key, procedure, own in found
    )
