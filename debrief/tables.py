"""Tables of a result: samples and findings as DataFrames, and the result at a glance for a notebook.

Owns      names, types and order of the columns (DEVELOPERS.md, "Samples"), and the HTML of a result.
Not here  what stands in them (measures.samples, grading), files (reports).
Imports   pandas inside functions: it costs more than all of ours.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np

from debrief.errors import DebriefError
from debrief.measures.samples import samples
from debrief.phases.model import Flight
from debrief.result import Attempt, Finding, Result

if TYPE_CHECKING:
    import pandas as pd

SAMPLE_COLUMNS = (
    "time",
    "latitude",
    "longitude",
    "altitude_ft",
    "phase",
    "attempt",
    "groundspeed_kt",
    "ground_track_true_deg",
    "vertical_speed_fpm",
    "turn_rate_deg_s",
    "course_deg",
    "cross_track_nm",
    "deviation_deg",
    "deflection",
    "to_from",
    "dme_nm",
    "cone",
    "used",
    "bearing_deg",
    "relative_bearing_deg",
)
FINDING_COLUMNS = (
    "attempt",
    "number",
    "rule",
    "phase",
    "start",
    "end",
    "value",
    "limit",
    "unit",
    "uncertainty",
    "verdict",
    "message",
    "advice",
    "source",
    "latitude_deg",
    "longitude_deg",
)


def samples_table(result: Result) -> pd.DataFrame:
    """One row a raw sample, in order of time; missing where it could not be measured.

    ``time`` is UTC, ``attempt`` counts from 1, ``cone`` and ``used`` are 0 or 1, ``phase`` and ``to_from`` are
    missing outside any. Raises ``DebriefError`` for a result without its flight, as one read from a file is.
    """
    import pandas as pd

    flight = result.flight
    if not isinstance(flight, Flight):
        raise DebriefError(
            "this result holds no samples: it was read from a file",
            remedy="Debrief the track again to get them.",
        )
    rows = samples(flight, [attempt.wind for attempt in result.attempts])
    milliseconds = np.round(rows.t_s * 1000.0).astype("timedelta64[ms]")
    table = pd.DataFrame(
        {
            "time": pd.Timestamp(flight.log.track.epoch).tz_convert("UTC").as_unit("ms")
            + pd.to_timedelta(milliseconds),
            "latitude": rows.latitude_deg,
            "longitude": rows.longitude_deg,
            "altitude_ft": rows.altitude_ft,
            "phase": pd.array(rows.phase, dtype="str"),
            "attempt": pd.array(rows.attempt, dtype="Int64"),
            "groundspeed_kt": rows.groundspeed_kt,
            "ground_track_true_deg": rows.ground_track_true_deg,
            "vertical_speed_fpm": rows.vertical_speed_ft_min,
            "turn_rate_deg_s": rows.turn_rate_deg_s,
            "course_deg": rows.course_deg,
            "cross_track_nm": rows.cross_track_nm,
            "deviation_deg": rows.deviation_deg,
            "deflection": rows.deflection,
            "to_from": pd.array(rows.to_from, dtype="str"),
            "dme_nm": rows.dme_nm,
            "cone": rows.cone.astype(np.int8),
            "used": rows.used.astype(np.int8),
            "bearing_deg": rows.bearing_deg,
            "relative_bearing_deg": rows.relative_bearing_deg,
        },
        columns=list(SAMPLE_COLUMNS),
    )
    for text in ("phase", "to_from"):
        table[text] = table[text].mask(table[text] == "")
    table["attempt"] = table["attempt"].mask(table["attempt"] == 0)
    return table


def findings_table(result: Result) -> pd.DataFrame:
    """One row a finding, over all attempts, in their order; no rows where there is none."""
    import pandas as pd

    rows = [
        {"attempt": attempt.number} | {name: getattr(finding, name) for name in FINDING_COLUMNS[1:]}
        for attempt in result.attempts
        for finding in attempt.findings
    ]
    table = pd.DataFrame(rows, columns=list(FINDING_COLUMNS))
    for moment in ("start", "end"):
        table[moment] = pd.to_datetime(table[moment], utc=True)
    for number in ("value", "limit", "uncertainty", "latitude_deg", "longitude_deg"):
        table[number] = table[number].astype("float64")
    return table


def result_html(result: Result) -> str:
    """The result at a glance: what was flown, each attempt's grade, and its findings."""
    head = (
        f"<h3>{escape(result.track.file)}: {escape(result.procedure.name)}</h3>"
        f"<p>Judged by {escape(result.standard.name)}. For training only, not for navigation.</p>"
    )
    warnings = "".join(f"<p>{escape(text)}</p>" for text in result.warnings)
    return f"<div>{head}{warnings}{''.join(_attempt_html(attempt) for attempt in result.attempts)}</div>"


def _attempt_html(attempt: Attempt) -> str:
    start = f"{attempt.phases[0].start:%Y-%m-%d %H:%M:%SZ}" if attempt.phases else "time not known"
    grade = f"{attempt.grade.result}{': ' + attempt.grade.reason if attempt.grade.reason else ''}"
    head = f"<h4>Attempt {attempt.number}, {start}, {escape(attempt.ending)}: {escape(grade)}</h4>"
    if not attempt.findings:
        return f"{head}<p>No findings.</p>"
    rows = "".join(_finding_html(finding) for finding in attempt.findings)
    titles = "".join(f"<th>{title}</th>" for title in ("No.", "When", "Rule", "Verdict", "What"))
    return f"{head}<table><thead><tr>{titles}</tr></thead><tbody>{rows}</tbody></table>"


def _finding_html(finding: Finding) -> str:
    when = "" if finding.start is None else f"{finding.start:%H:%M:%SZ}"
    cells = (str(finding.number), when, finding.rule.replace("_", " "), finding.verdict, finding.message)
    return f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
