"""The files of a result as they are asked for: which there are, their kinds, and reading one.

Owns      names and media types of what can be fetched of a flight; reading from the result's folder.
Not here  writing them (``work``), who may have them (``guard``).
"""

from __future__ import annotations

import gzip
import json
import re
import time
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.responses import Response

from debrief.language import mark, spoken, tr
from debrief.web.answers import RefusedError
from debrief.web.flights import Flight
from debrief.web.store import Store

#: What a person can save: the file, what it is called after the log's name, and what it is.
DOWNLOADS = {
    "report.pdf": (".pdf", mark("Report (PDF)")),
    "report.png": (".png", mark("Page one (PNG)")),
    "result.json": (".json", mark("Result (JSON)")),
    "track.geojson": (".track.geojson", mark("Track for maps (GeoJSON)")),
}
WHOLE = "whole.json"  # written last into a folder of files
_LONGEST_WAIT_S, _LOOK_S = 15.0, 0.1
_KINDS = {
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".geojson": "application/geo+json",
}
_PICTURE = re.compile(r"(?:plan|profile|final|strips|track)-[0-9]{1,4}-(?:wide|narrow)\.svg")
_FOR_THE_PAGE = frozenset({"page.json", "replay.json"})
#: A picture is paper: nothing in it may load or run anything. Its own styles are inside it.
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


def content(store: Store, flight: Flight, name: str) -> tuple[bytes, bool]:
    """A file of a flight's result, and whether it is pressed (gzip); one that is still written is waited for.

    Raises
    ------
    RefusedError
        Where there is no such file, or the result is not there (yet).
    """
    known = name in DOWNLOADS or name in _FOR_THE_PAGE or _PICTURE.fullmatch(name)
    if flight.result_key is None or not known:
        raise RefusedError(404, tr("There is no such file. The flight may still be in work."))
    folder = store.result(flight.result_key)
    places = (
        folder,
        folder / spoken(),
        folder / flight.language,
    )  # in the language it is in, where not yet in ours
    until = time.monotonic() + (_LONGEST_WAIT_S if flight.lease is not None and name in DOWNLOADS else 0.0)
    while True:
        for place in places:
            for path, pressed in ((place / f"{name}.gz", True), (place / name, False)):
                if path.is_file():
                    return path.read_bytes(), pressed
        if time.monotonic() >= until:
            break
        time.sleep(_LOOK_S)
    raise RefusedError(404, tr("There is no such file. The flight may still be in work."))


def is_said(store: Store, flight: Flight) -> bool:
    """Whether a flight's page is there in the language that is spoken."""
    return flight.result_key is not None and (
        spoken() == flight.language or (store.result(flight.result_key) / spoken() / WHOLE).is_file()
    )


def summary(store: Store, flight: Flight) -> dict[str, Any]:
    """What lists show of a flight, in the language that is spoken, where it was put into that one."""
    if flight.result_key is None or spoken() == flight.language:
        return flight.summary
    try:
        return _summary(store.result(flight.result_key) / spoken() / WHOLE)
    except FileNotFoundError:
        return flight.summary


@lru_cache(maxsize=2000)
def _summary(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found


def parsed(store: Store, flight: Flight, name: str) -> Any:
    """A JSON file of a flight's result."""
    found, pressed = content(store, flight, name)
    return json.loads(gzip.decompress(found) if pressed else found)


def answer(store: Store, flight: Flight, name: str, accepts: str, *, save: bool) -> Response:
    """A file as it is fetched; ``save`` puts it among the downloads, under the log's own name."""
    found, pressed = content(store, flight, name)
    headers = {"Cache-Control": "private, no-cache", "Vary": "Accept-Encoding"}
    if pressed and "gzip" in accepts:
        headers["Content-Encoding"] = "gzip"
    elif pressed:
        found = gzip.decompress(found)
    if save and name in DOWNLOADS:
        stem = flight.file.rpartition(".")[0] or flight.file
        shown = f"{stem}{DOWNLOADS[name][0]}"
        plain = re.sub(r"[^A-Za-z0-9._ -]", "_", shown)
        headers["Content-Disposition"] = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(shown)}"
    kind = _KINDS["." + name.rpartition(".")[2]]
    if name.endswith(".svg"):
        headers["Content-Security-Policy"] = PICTURE_POLICY
    return Response(found, media_type=kind, headers=headers)
