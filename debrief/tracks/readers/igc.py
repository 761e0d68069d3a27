"""IGC: the fixes of a flight recorder, one B record each.

Owns      the columns of a B record and of what an I record adds to it, the date, which fixes and which altitude
          are taken.
Not here  what makes a sample usable (``samples``).
Source    FAI Technical Specification for GNSS Flight Recorders, appendix A. B record: time, position in thousandths
          of a minute, validity, pressure altitude and GNSS altitude in metres. Mark: seen (2nd hand). Pressure
          altitude is that of the standard atmosphere above 1013.25 hPa. Mark: seen (2nd hand). GNSS altitude above
          the WGS84 ellipsoid, times UTC, H and I records and the units of what they add. Mark: memory.

The GNSS altitude is taken, where there is one: it is off by the height of the geoid (105 m at most), the pressure
altitude by the day's pressure (easily 600 ft). The pressure altitude is kept beside it, for those who give the QNH.
"""

from __future__ import annotations

import datetime as dt
import re
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import AltitudeSource, Floats, Track
from debrief.tracks.readers.samples import FEET_PER_METRE, Remarks, Samples, Wishes, make_track
from debrief.tracks.readers.sniff import HEAD_BYTES, decoded, encoding_of, is_igc, plain
from debrief.tracks.readers.stamps import DAY_US, Ints
from debrief.tracks.words import counted

NAME = "igc"
SUFFIXES: tuple[str, ...] = (".igc",)

Bytes = NDArray[np.uint8]

_FIX = 35  # columns of a B record without additions
_HALF_A_DAY_S = 43_200
_LARGEST_MB = 64  # three weeks at 1 Hz
_LONGEST_LINE = 1_000  # no record is longer; a file without line ends is not read as one
_DATE = re.compile(r"H[A-Z]DTE(?:DATE)?\s*:?\s*(\d\d)(\d\d)(\d\d)")
_PILOT = re.compile(r"H[A-Z]PLT[^:]*:\s*(.*\S)")
_DATUM = re.compile(r"H[A-Z]DTM[^:]*:\s*(.*\S)")
_GNSS_FROM = re.compile(r"H[A-Z]ALG[^:]*:\s*([A-Z]{3})")
_PRESSURE_FROM = re.compile(r"H[A-Z]ALP[^:]*:\s*([A-Z]{3})")
_KT_PER_KM_H = 1 / 1.852

#: What an I record may add to a fix in three digits: our column, and the factor to its unit.
_ADDED = {
    "GSP": ("groundspeed_kt", _KT_PER_KM_H),
    "IAS": ("airspeed_kias", _KT_PER_KM_H),
    "TAS": ("airspeed_ktas", _KT_PER_KM_H),
    "TRT": ("ground_track_true_deg", 1.0),
    "HDT": ("heading_true_deg", 1.0),
    "HDM": ("heading_mag_deg", 1.0),
}
#: Further decimals, in any number of digits: of the second, and of the minutes of latitude and longitude.
_FINER = ("TDS", "LAD", "LOD")


@dataclass(slots=True)
class _Found:
    """What was read: the fixes as they stand, and what the headers say."""

    fixes: bytearray = field(default_factory=bytearray)  # 35 columns and the additions that are used, each
    line: array[float] = field(default_factory=lambda: array("d"))
    dated: list[tuple[int, dt.date]] = field(default_factory=list)  # from which fix on a date holds
    added: dict[str, slice] | None = None  # of the I record: code -> where in ``fixes``
    cut: list[slice] = field(default_factory=list)  # where in the line the additions stand
    width: int = _FIX
    broken: int = 0
    first_broken: int = 0
    odd_date: str = ""
    pilot: str = ""
    datum: str = ""
    gnss_from: str = ""
    pressure_from: str = ""


def looks_like(head: bytes) -> bool:
    """Whether the text has the records of a flight recorder: its first line and a date, or a fix."""
    return is_igc(decoded(head))


def read(path: Path, wishes: Wishes) -> Track:
    """The fixes of a flight recorder's file.

    The date is that of the last header before a fix, else ``wishes.date``; it runs on at midnight. Fixes marked V
    (no position in space) are left out where there are others. ``altitude_ft`` is the GNSS altitude, with
    ``altitude_source`` "ellipsoid" (or "gps", where a header says that it counts from the sea); the pressure
    altitude where all GNSS altitudes are 0. Raises ``TrackError`` where there are no fixes or no date,
    and where the file is far larger than any flight's.
    """
    if path.stat().st_size > _LARGEST_MB * 1_000_000:
        raise TrackError(
            f"it is larger than {_LARGEST_MB} MB, which no flight recorder's log is",
            where=Place(path=path),
            remedy="Cut out the flight.",
        )
    found = _parse(path)
    if not len(found.line):
        raise TrackError(
            f"none of its {counted(found.broken, 'fix record')} can be read"
            if found.broken
            else "it has the headers of an IGC log, but no fixes",
            where=Place(path=path),
            remedy="Read the flight out of the recorder again.",
        )
    columns = np.frombuffer(found.fixes, dtype=np.uint8).reshape(-1, found.width)
    remarks = Remarks()
    _say(found, remarks)
    second_of_day = _number(columns, 1, 3) * 3600 + _number(columns, 3, 5) * 60 + _number(columns, 5, 7)
    time_us = _times_us(path, found, second_of_day, wishes.date, remarks) + _finer_us(found, columns)
    latitude = _angle(found, columns, slice(7, 9), slice(9, 14), "LAD") * _sign(columns[:, 14], "S")
    longitude = _angle(found, columns, slice(15, 18), slice(18, 23), "LOD") * _sign(columns[:, 23], "W")
    in_space = columns[:, 24] == ord("A")
    keep = _kept(found, in_space, remarks)
    to_ft = 1.0 if wishes.altitude_unit == "ft" else FEET_PER_METRE
    if wishes.altitude_unit == "ft":
        remarks.note("Altitudes were taken as feet, as asked.")
    altitude_ft, source, pressure_ft = _altitudes(found, columns, in_space, keep, to_ft, remarks)
    more = {
        name: _added(columns, found.added[code], factor)
        for code, (name, factor) in _ADDED.items()
        if found.added and code in found.added
    }
    if pressure_ft is not None:
        more["pressure_altitude_ft"] = pressure_ft
    samples = Samples(
        time_us=time_us[keep],
        latitude_deg=latitude[keep],
        longitude_deg=longitude[keep],
        altitude_ft=altitude_ft[keep],
        part=np.zeros(int(keep.sum())),
        line=np.frombuffer(found.line)[keep],
        columns={name: values[keep] for name, values in more.items()},
    )
    return make_track(
        path,
        samples,
        remarks,
        format_name=NAME,
        word="point",
        altitude_source=source,
        pilot=found.pilot or None,
    )


# The records


def _parse(path: Path) -> _Found:
    found = _Found()
    for number, line in _lines(path):
        kind = line[:1]
        if kind == "B":
            _take_fix(found, number, line)
        elif kind == "H":
            _take_header(found, line)
        elif kind == "I" and found.added is None and not found.line:
            _take_additions(found, line)
    return found


def _lines(path: Path) -> Iterator[tuple[int, str]]:
    """The lines with their numbers from 1; what makes a line too long is passed over."""
    with path.open("rb") as raw:
        encoding = encoding_of(raw.read(HEAD_BYTES))
    number, whole = 0, True
    with path.open(encoding=encoding, errors="replace") as file:
        while text := file.readline(_LONGEST_LINE):
            number += whole
            if whole:
                yield number, text.strip().lstrip("\ufeff")
            whole = text.endswith("\n")


def _take_fix(found: _Found, number: int, line: str) -> None:
    fix = line.encode("ascii", "replace")
    columns = fix[:_FIX] + b"".join(fix[cut].ljust(cut.stop - cut.start) for cut in found.cut)
    if not _WHOLE.match(columns):
        found.broken += 1
        found.first_broken = found.first_broken or number
        return
    found.fixes += columns
    found.line.append(number)


#: A fix whose every column can be; hours, minutes and seconds that a clock shows, minutes of angle below 60.
_WHOLE = re.compile(
    rb"B(?:[01]\d|2[0-3])[0-5]\d[0-5]\d\d\d[0-5]\d{4}[NS][01]\d\d[0-5]\d{4}[EW][AV](?:-\d{4}|\d{5})(?:-\d{4}|\d{5})"
)


def _take_header(found: _Found, line: str) -> None:
    if (date := _DATE.match(line)) is not None:
        day, month, year = (int(part) for part in date.groups())
        try:
            on = dt.date(year + (2000 if year < 70 else 1900), month, day)  # as in stamps
        except ValueError:
            found.odd_date = found.odd_date or line
        else:
            found.dated.append((len(found.line), on))
    for name, form in (
        ("pilot", _PILOT),
        ("datum", _DATUM),
        ("gnss_from", _GNSS_FROM),
        ("pressure_from", _PRESSURE_FROM),
    ):
        if (said := form.match(line)) is not None and not getattr(found, name):
            setattr(found, name, plain(said[1]))


def _take_additions(found: _Found, line: str) -> None:
    """An I record: ``I`` and a count, then for each addition its first and last column and its name."""
    found.added = {}
    for start, end, code in re.findall(r"(\d\d)(\d\d)([A-Z]{3})", line[3:]):
        first, last = int(start) - 1, int(end)
        digits = last - first
        known = (code in _ADDED and digits == 3) or (code in _FINER and 1 <= digits <= 6)
        if known and first >= _FIX and code not in found.added:
            found.cut.append(slice(first, last))
            found.added[code] = slice(found.width, found.width + digits)
            found.width += digits


# From columns to numbers


def _number(columns: Bytes, start: int, end: int) -> Ints:
    """The digits of some columns as whole numbers."""
    number = np.zeros(len(columns), dtype=np.int64)
    # column by column: a long log's digits side by side would fill the memory
    for column in range(start, end):
        number *= 10
        number += columns[:, column]
        number -= ord("0")
    return number


def _signed(columns: Bytes, start: int, end: int) -> Ints:
    """The same where the first column may be a minus."""
    negative = columns[:, start] == ord("-")
    first = np.where(negative, 0, columns[:, start].astype(np.int64) - ord("0"))
    size = first * 10 ** (end - start - 1) + _number(columns, start + 1, end)
    signed: Ints = np.where(negative, -size, size)
    return signed


def _sign(letters: Bytes, negative: str) -> Floats:
    return np.where(letters == ord(negative), -1.0, 1.0)


def _fraction(found: _Found, columns: Bytes, code: str) -> Floats:
    """An addition that holds further decimals, from 0 to below 1; 0 where a fix has none."""
    where = (found.added or {}).get(code)
    if where is None:
        return np.zeros(len(columns))
    digits = _all_digits(columns, where)
    number = np.where(digits, _number(columns, where.start, where.stop), 0)
    return np.asarray(number / 10.0 ** (where.stop - where.start))


def _added(columns: Bytes, where: slice, factor: float) -> Floats:
    """An addition of three digits in our unit; ``nan`` where a fix has none."""
    digits = _all_digits(columns, where)
    values: Floats = np.where(digits, _number(columns, where.start, where.stop) * factor, np.nan)
    return values


def _all_digits(columns: Bytes, where: slice) -> NDArray[np.bool_]:
    cells = columns[:, where]
    return np.asarray(((cells >= ord("0")) & (cells <= ord("9"))).all(axis=1))


def _angle(found: _Found, columns: Bytes, degrees: slice, minutes: slice, finer: str) -> Floats:
    """Degrees without their sign."""
    thousandths = _number(columns, minutes.start, minutes.stop) + _fraction(found, columns, finer)
    return np.asarray(_number(columns, degrees.start, degrees.stop) + thousandths / 60_000.0)


def _finer_us(found: _Found, columns: Bytes) -> Ints:
    return np.round(_fraction(found, columns, "TDS") * 1e6).astype(np.int64)


def _times_us(
    path: Path, found: _Found, second_of_day: Ints, asked: dt.date | None, remarks: Remarks
) -> Ints:
    """Microseconds since 1970. Where the time of day falls back by more than half a day, a new day has begun.

    A rise by more than half a day undoes that: a single wrong time moves no other.
    """
    if not found.dated and asked is None:
        raise TrackError(
            f"its date {plain(found.odd_date)[:40]!r} is none" if found.odd_date else "it gives no date",
            where=Place(path=path),
            remedy="Pass the day of the flight (UTC), for example --date 2026-05-04.",
            needs="date",
        )
    if not found.dated or found.dated[0][0] > 0:
        first = asked if asked is not None else found.dated[0][1]
        found.dated.insert(0, (0, first))
        if asked is not None:
            remarks.note(f"The log gives no date: {first} was taken, as asked.")
    day = np.zeros(len(second_of_day), dtype=np.int64)
    starts = [*found.dated, (len(second_of_day), found.dated[-1][1])]
    rolled = False
    for (start, date), (end, _) in pairwise(starts):
        ahead = 0
        day[start:end] = (date - dt.date(1970, 1, 1)).days
        steps = np.diff(second_of_day[start:end])
        for step in np.nonzero(np.abs(steps) > _HALF_A_DAY_S)[0].tolist():
            now = max(ahead + (1 if steps[step] < 0 else -1), 0)
            day[start + step + 1 : end] += now - ahead
            ahead = now
        rolled |= ahead > 0
    if rolled:
        remarks.note("The log runs past midnight: the date was counted on.")
    return day * DAY_US + second_of_day * 1_000_000


# Which fixes, which altitude


def _kept(found: _Found, in_space: NDArray[np.bool_], remarks: Remarks) -> NDArray[np.bool_]:
    if in_space.all():
        return in_space
    flat = int((~in_space).sum())
    if not in_space.any():
        remarks.assume("Every fix is marked V (no position in space): the positions were taken all the same.")
        return np.ones_like(in_space)
    first = int(found.line[int(np.argmin(in_space))])
    remarks.note(
        f"{counted(flat, 'point')} marked V (no position in space) left out (the {'first' if flat > 1 else 'one'} "
        f"in line {first})."
    )
    return in_space


def _altitudes(
    found: _Found,
    columns: Bytes,
    in_space: NDArray[np.bool_],
    keep: NDArray[np.bool_],
    to_ft: float,
    remarks: Remarks,
) -> tuple[Floats, AltitudeSource, Floats | None]:
    """The altitude to use, what it is, and the pressure altitude where the recorder has one."""
    gnss_ft: Floats = np.where(in_space, _signed(columns, 30, 35) * to_ft, np.nan)
    pressure_ft: Floats = np.asarray(_signed(columns, 25, 30) * to_ft)
    has_gnss, has_pressure = np.nan_to_num(gnss_ft[keep]).any(), pressure_ft[keep].any()
    standard = has_pressure and found.pressure_from not in ("MSL", "NIL")
    beside = pressure_ft if standard else None
    if has_gnss and found.gnss_from == "GEO":
        return gnss_ft, "gps", beside
    if has_gnss:
        remarks.assume(
            "Altitude is the recorder's GNSS altitude, which IGC counts from the ellipsoid: it may be up to 350 ft "
            "from that above the sea. "
            + (
                "The log has pressure altitude too, which is used where --qnh is given."
                if standard
                else "--altitude-offset-ft corrects it where the difference is known."
            )
        )
        return gnss_ft, "ellipsoid", beside
    if has_pressure:
        remarks.note("The log has no GNSS altitude: its pressure altitude was taken.")
        return pressure_ft, "pressure" if standard else "unknown", beside
    return np.full(len(columns), np.nan), "unknown", None


def _say(found: _Found, remarks: Remarks) -> None:
    if found.broken:
        remarks.note(
            f"{counted(found.broken, 'fix record')} that cannot be read left out (the "
            f"{'first' if found.broken > 1 else 'one'} in line {found.first_broken})."
        )
    datum = re.sub(r"[^A-Z0-9]", "", found.datum.upper())
    if datum and "WGS84" not in datum and "WGS1984" not in datum:
        remarks.assume(f"The log names the datum {found.datum!r}: its positions were taken as WGS84.")
