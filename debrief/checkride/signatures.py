"""Signed results: who stands for what, and what was altered since.

Owns      ``signatures.json``: what a signature says, making one, checking it part by part.
Not here  keys (``keys``), the results (``results``).

A signature says, flight by flight, the sums of the log, of what the machine found, and of what an examiner decided
otherwise; and the sums of procedures, standard and of the summary that people read. So it can be told which of them is
no longer what was signed. A signature made before the summary's sum was among them stays valid; that it does not stand
for the summary is said.
"""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from debrief.checkride.keys import PublicKey, fingerprint, read_private
from debrief.checkride.model import Row
from debrief.checkride.results import PDF_NAME, Results, row_json
from debrief.errors import DebriefError, Place
from debrief.whole_files import read_ordinary

NAME = "signatures.json"
_FORMAT = 1
_DECIDED = ("overruled",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One signature, and what is no longer as it was signed."""

    by: str
    key: str  # its fingerprint
    time: str
    valid: bool  # whether it is of that key and that statement
    altered: tuple[str, ...]  # in words; empty where nothing is
    unseen: tuple[str, ...]  # what could not be looked at, such as logs that are not there

    @property
    def holds(self) -> bool:
        """Whether it is valid and nothing was altered."""
        return self.valid and not self.altered


def sign(
    results: Results, key: Path, *, summary: bytes | None = None, now: datetime | None = None
) -> dict[str, Any]:
    """A signature on the results as they are, to stand in ``signatures.json``.

    ``summary`` is what ``summary.pdf`` holds, where one is given away with the results.
    """
    private, public = read_private(key)
    when = (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    statement = {"by": public.name, "public_key": public.text, "time": when, **statement_of(results)}
    if summary is not None:
        statement["summary"] = hashlib.sha256(summary).hexdigest()
    return {
        "statement": statement,
        "signature": base64.b64encode(private.sign(canonical(statement))).decode(),
    }


def statement_of(results: Results) -> dict[str, Any]:
    """The sums of everything in the results."""
    return {
        "program": results.program,
        "procedures": sorted({p["sha256"] for p in results.procedures}),
        "standard": results.standard.get("sha256", ""),
        "flights": {
            row.file: {
                "track": row.sha256,
                "result": _sum(_machine(row)),
                "overrules": _sum(_examiner(row)),
            }
            for row in results.flights
        },
    }


def canonical(value: Any) -> bytes:
    """JSON in its one form: keys in order, no blanks, UTF-8."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _sum(value: Any) -> str:
    return hashlib.sha256(canonical(value)).hexdigest()


def _machine(row: Row) -> dict[str, Any]:
    """What the machine found, without what an examiner made of it, and without where a report lies."""
    told = row_json(dataclasses.replace(row, overruled=None, report=None))
    told["items"] = [{key: v for key, v in item.items() if key not in _DECIDED} for item in told["items"]]
    return told


def _examiner(row: Row) -> list[Any]:
    whole = dataclasses.asdict(row.overruled) if row.overruled is not None else None
    items = [
        [item.item, item.attempt, dataclasses.asdict(item.overruled)]
        for item in row.items
        if item.overruled is not None
    ]
    return [whole, items]


def read_signatures(folder: Path) -> list[dict[str, Any]]:
    """What stands in ``signatures.json``; nothing where there is none. Raises ``DebriefError`` where it is damaged."""
    path = folder / NAME
    try:
        told = json.loads(read_ordinary(path).decode("utf-8"))
        found = told["signatures"]
        for entry in found:
            statement = entry["statement"]
            if not all(_is_sums(parts) for parts in statement["flights"].values()):
                raise TypeError("flights")
            if not _is_texts(statement.get("procedures", [])):
                raise TypeError("procedures")
            if not _is_texts([statement.get("summary", "")]):
                raise TypeError("summary")
            canonical(statement)  # half a letter cannot be written again
            base64.b64decode(entry["signature"], validate=True)
    except FileNotFoundError:
        return []
    except OSError as error:
        raise DebriefError(f"cannot be read: {error.strerror}", where=Place(path=path)) from error
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise DebriefError(
            "it holds no signatures", where=Place(path=path), remedy="Put the file back from a copy."
        ) from error
    return list(found)


def _is_sums(parts: object) -> bool:
    return isinstance(parts, dict) and _is_texts(list(parts.values()))


def _is_texts(values: object) -> bool:
    return isinstance(values, list) and all(isinstance(value, str) for value in values)


def signatures_json(signatures: list[dict[str, Any]]) -> str:
    """The text of the file."""
    return json.dumps({"format": _FORMAT, "signatures": signatures}, indent=1, ensure_ascii=False) + "\n"


def check(entry: Mapping[str, Any], results: Results, present: Present) -> Checked:
    """One signature held against the results, and against logs, procedures and standard as they now are."""
    statement = entry["statement"]
    key, valid = _valid(entry)
    altered = list(_altered(statement, results))
    altered += [what for what in _files(statement, present) if what]
    return Checked(
        by=str(statement.get("by", "")),
        key=fingerprint(key),
        time=str(statement.get("time", "")),
        valid=valid,
        altered=tuple(altered),
        unseen=(*present.unseen, *_summary_unseen(statement, present)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What lies on the disk now: sums by file; and what could not be found, in words."""

    tracks: Mapping[str, str]
    procedures: Mapping[str, tuple[str, str]]  # sum that was graded by: what it is called, its sum now
    standard: tuple[str, str] | None  # what it is called, its sum now
    summary: str | None = None  # the sum of the summary beside the results; None where none lies there
    unseen: tuple[str, ...] = ()


def _valid(entry: Mapping[str, Any]) -> tuple[bytes, bool]:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = base64.b64decode(entry["statement"]["public_key"], validate=True)
        public = Ed25519PublicKey.from_public_bytes(key)
        public.verify(base64.b64decode(entry["signature"], validate=True), canonical(entry["statement"]))
    except (ValueError, KeyError, TypeError):
        return b"", False
    except InvalidSignature:
        return key, False
    return key, True


def _altered(statement: Mapping[str, Any], results: Results) -> Iterator[str]:
    """What in the results is no longer as it was signed."""
    now = statement_of(results)
    if statement.get("program") != now["program"]:
        yield f"the program: signed under {statement.get('program')}, now {now['program']}"
    for name in ("procedures", "standard"):
        if statement.get(name) != now[name]:
            yield f"the {name} that the results name"
    words = {"track": "the log's sum", "result": "the result", "overrules": "an overrule"}
    for file, parts in statement["flights"].items():
        here = now["flights"].pop(file, None)
        if here is None:
            yield f"{file}: it is no longer in the results"
            continue
        for part, what in words.items():
            if here[part] != parts.get(part):
                yield f"{file}: {what}"
    for file in now["flights"]:
        yield f"{file}: it was not in the results"


def _files(statement: Mapping[str, Any], present: Present) -> Iterator[str]:
    """What on the disk is no longer as it was graded."""
    for file, parts in statement["flights"].items():
        now = present.tracks.get(file)
        if now is not None and parts.get("track") and now != parts["track"]:
            yield f"{file}: the log itself"
    for was in statement.get("procedures", ()):
        if was in present.procedures and present.procedures[was][1] != was:
            yield f"the procedure {present.procedures[was][0]}"
    if present.standard is not None and present.standard[1] != statement.get("standard"):
        yield f"the standard {present.standard[0]}"
    if present.summary is not None and present.summary != statement.get("summary", present.summary):
        yield f"the summary, {PDF_NAME}"


def _summary_unseen(statement: Mapping[str, Any], present: Present) -> Iterator[str]:
    if "summary" in statement and present.summary is None:
        yield f"{PDF_NAME}, which is not there"
    elif "summary" not in statement and present.summary is not None:
        yield f"{PDF_NAME}, for which the signature by {statement.get('by', '')} does not stand"


def same_key(entry: Mapping[str, Any], wanted: PublicKey) -> bool:
    """Whether a signature claims to be of that key."""
    return str(entry["statement"].get("public_key", "")) == wanted.text
