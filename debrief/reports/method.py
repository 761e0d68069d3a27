"""The log's quality, the choice of the procedure, and how each number was found: the last part of a report.

Owns      these words and their sources.
Not here  the formulas (navigation, phases, measures); their definitions in full stand in DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from debrief.grading.sources import source_words
from debrief.language import mark, tr
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.reports.flow import Column, Row, Words
from debrief.reports.style import SOFT, TABLE_PT
from debrief.reports.words import (
    NOTHING,
    clock,
    coarse_width,
    day,
    duration,
    elapsed,
    number,
    quantity,
    uncertain,
)
from debrief.result import Result, TrackInfo

_GAP_REASONS = mark(
    {
        "no samples": "no samples",
        "new segment": "new segment in the file",
        "bridged": "bridged by a straight line",
        "stuck": "repeated position",
    }
)
_GAPS_SHOWN = 20
_WARNINGS_SHOWN = 25

_SOURCES = mark(
    {
        "gps": "GPS",
        "ellipsoid": "GPS, above the ellipsoid instead of the sea",
        "indicated": "indicated (the altimeter)",
        "pressure": "pressure altitude (1013.25 hPa)",
        "unknown": "not known",
    }
)

_NUMBERS: tuple[tuple[str, str], ...] = mark(
    (
        (
            "Position",
            (
                "The samples are smoothed by a spline that estimates the log's own noise and never bridges a gap; the phases, "
                "speeds, tracks and rates of turn come from it, at one-second steps, not from differences of samples. "
                "Distances are geodesics on WGS84 from the station."
            ),
        ),
        (
            "Radials, bearings and courses",
            (
                "Magnetic by the station's own declination, as published, not by today's variation. Deviation is the angle at "
                "the station between the aircraft's radial (the bearing from an NDB) and the course, right of the course in the direction of flight "
                "positive. Full scale of the needle is 10° (FAA-H-8083-15; seen, 2nd hand). It is what an ideal receiver "
                "would have shown: a real one, and the station's alignment, may differ by some degrees. A finding tells the "
                "moment farthest beyond its limit and what the log leaves unsure; the greatest deviation of a phase often "
                "lies nearer the station, where a small distance is many degrees."
            ),
        ),
        (
            "Over the station",
            (
                "In the cone of ambiguity, 50° from the vertical for a VOR and 40° for an NDB (ICAO Doc 8168 Vol I, I-2-2, 2.4.4; seen), "
                "nothing is scored. The passage is the closest point of approach, between samples."
            ),
        ),
        (
            "DME distance",
            (
                "Slant range from position and height above the station (AIM 1-1-7 b; seen); also given where the station "
                "has no DME."
            ),
        ),
        (
            "Established",
            (
                "From then on, for at least 10 s, within half scale (5°) and with the track within 20° of the course "
                "(half scale: ICAO Doc 8168, quoted in FAA-H-8261-1; seen, 2nd hand)."
            ),
        ),
        (
            "Turn at the station",
            (
                "Exact lead: r tan(change / 2), r from the ground speed at standard rate or 25° of bank, whichever turns less. "
                "Rule of thumb (common practice): a third of a mile for each 60 kt, plus half a mile, times change / 90, "
                "plus the height in miles."
            ),
        ),
        (
            "Intercept",
            (
                "The ground track less the inbound course when the needle comes off full scale (the bearing of an NDB: comes "
                "within 10° of the course), or once the turn is over. The way in begins where the track comes within 90° of the "
                "course; what the needle did before that, in the turn, does not count. "
                "Overshoot is the greatest cross-track on the far side before the aircraft settles."
            ),
        ),
        (
            "Wind",
            (
                "Ground velocities flown at one airspeed lie on a circle whose centre is the wind; with heading and airspeed in the "
                "log, the wind triangle. It is given only where its 95 % interval is narrow enough to be of use."
            ),
        ),
        (
            "Altitude limits",
            (
                "A limit is passed from the moment the altitude passes it until it is back. A step-down holds from the "
                "final fix until its DME distance. Going below the minimum to land, on a stable path with the runway ahead, is no bust."
            ),
        ),
        (
            "Uncertainty and verdict",
            (
                "Each ± is the half-width of the 95 % interval: the log's noise after smoothing, and a bias that no smoothing removes. "
                "Exceeded is said only beyond it, marginal within it: guarded rejection, JCGM 106:2012 (its terms seen, clause numbers from memory)."
            ),
        ),
        (
            "Marks of a source",
            (
                "Seen: read in the text that is named. Seen (2nd hand): read in a quotation of it. Memory: not looked up. "
                "Common practice: a habit of the trade, or this program's own margin; nothing is published."
            ),
        ),
        (
            "Not observed",
            "What lies in a gap is neither met nor broken. The pictures show it hatched and never join the ends.",
        ),
    )
)


def log_part(flow: Words, result: Result, draw: Callable[[], None] | None = None) -> None:
    """Set what is known of the log and what its quality allows; ``draw`` puts its picture where it belongs."""
    track = result.track
    columns = [Column(tr("What"), 30), Column(tr("Found"), 70)]
    flow.titled_table(tr("The log and its quality"), columns, [Row(row) for row in _log_rows(result)])
    if draw is not None:
        draw()
    if track.gaps:
        _gaps(flow, track)
    warnings = [*result.warnings, *track.warnings]
    if warnings:
        flow.subheading(tr("Remarks on the log"))
        for text in warnings[:_WARNINGS_SHOWN]:
            flow.paragraph(text, size_pt=TABLE_PT, bullet="•")
        if len(warnings) > _WARNINGS_SHOWN:
            rest = tr(
                "and {count} more, all of them in the result file.",
                count=len(warnings) - _WARNINGS_SHOWN,
            )
            flow.paragraph(rest, size_pt=TABLE_PT, colour=SOFT)


def _log_rows(result: Result) -> list[tuple[str, str]]:
    track = result.track
    long = duration((track.end - track.start).total_seconds())
    aside = track.samples - track.samples_used
    rows = [
        (tr("file"), track.file),
        (
            tr("from, to (UTC)"),
            f"{day(track.start)} {clock(track.start)}, {day(track.end)} {clock(track.end)} ({long})",
        ),
        (
            tr("samples"),
            tr(
                "{samples}, of which {aside} set aside; median interval {interval:.3g} s",
                samples=number(track.samples),
                aside=number(aside),
                interval=track.median_interval_s,
            ),
        ),
        (
            tr("noise of one raw position"),
            tr(
                "{noise} on each axis (95 %)",
                noise=quantity(track.position_noise_nm, "NM", decimals=4),
            ),
        ),
        (
            tr("altitude"),
            tr(
                "source: {source}; uncertainty {uncertainty} (95 %)",
                source=tr(_SOURCES.get(track.altitude_source, track.altitude_source)),
                uncertainty=_plus_minus(track.altitude_uncertainty_ft),
            ),
        ),
        (tr("noise of one raw altitude"), f"{_plus_minus(track.altitude_noise_ft)} (95 %)"),
        (tr("altitude correction"), track.altitude_correction or tr("none was asked for")),
    ]
    if track.altitude_offset_ft is not None:
        offset = uncertain(*_at_the_landing_ft(result), "ft", signed=True)
        rows.append(
            (
                tr("altitude at the landing"),
                tr("log less runway elevation {offset}; measured, not applied", offset=offset),
            )
        )
    rows.append((tr("SHA-256 of the file"), track.sha256))
    return rows


def _at_the_landing_ft(result: Result) -> tuple[float | None, float | None]:
    """Log less runway elevation, before any correction, and its half-width: as the landing's own measures give it.

    The log's own figure, of fewer samples, stands for it where no attempt was measured to its landing.
    """
    track = result.track
    for attempt in result.attempts:
        landing = attempt.measures.landing
        if landing is not None and landing.logged_altitude_offset_ft is not None:
            asked_ft = (track.altitude_left_ft or 0.0) - (track.altitude_offset_ft or 0.0)
            sure_ft = landing.uncertainties.get("logged_altitude_offset_ft")
            return landing.logged_altitude_offset_ft - (
                asked_ft if track.altitude_left_ft is not None else 0.0
            ), sure_ft
    return track.altitude_offset_ft, None


def _plus_minus(value_ft: float) -> str:
    known = quantity(coarse_width(value_ft, "ft"), "ft")
    return tr("not known") if known == NOTHING else f"± {known}"


def _gaps(flow: Words, track: TrackInfo) -> None:
    longest = sorted(track.gaps, key=lambda gap: -gap.seconds)[:_GAPS_SHOWN]
    shown = sorted(longest, key=lambda gap: gap.start)
    count = len(track.gaps)
    title = (
        tr("Gaps ({count})", count=count)
        if count == len(shown)
        else tr("Gaps (the {shown} longest of {count})", shown=len(shown), count=count)
    )
    columns = [
        Column(tr("From (UTC)"), 1),
        Column(tr("To (UTC)"), 1),
        Column("min:s", 1, "right"),
        Column(tr("Why"), 3),
    ]
    flow.titled_table(
        title,
        columns,
        [
            Row(
                (
                    clock(gap.start),
                    clock(gap.end),
                    elapsed(gap.seconds),
                    tr(_GAP_REASONS.get(gap.reason, gap.reason)),
                )
            )
            for gap in shown
        ],
        lesser=True,
    )


def method_part(flow: Words, result: Result) -> None:
    """Set what the flight was held against, and how each number was found."""
    procedure, standard = result.procedure, result.standard
    rows = [
        (tr("procedure"), f"{procedure.name} ({procedure.file or tr('no file')})"),
        (tr("SHA-256 of its file"), procedure.sha256 or NOTHING),
        (tr("standard"), f"{source_words(standard.name)}: {standard.source}"),
        (tr("program"), result.program),
    ]
    columns = [Column(tr("What"), 30), Column(tr("Which"), 70)]
    flow.titled_table(tr("What it was held against"), columns, [Row(row) for row in rows])
    if procedure.chosen == "best fit":
        _choice(flow, result)
    flow.heading(tr("How each number was found"), keep_pt=80.0)
    flow.table(
        [Column(tr("Number"), 18), Column(tr("How"), 82)],
        [*(Row((tr(name), tr(how))) for name, how in _NUMBERS), *_other_needle(result)],
    )


def _other_needle(result: Result) -> Iterator[Row]:
    """The full scale of a final that the station does not guide, where one was flown."""
    for shown in (entry for attempt in result.attempts for entry in attempt.shown):
        if shown.full_scale is None or (shown.full_scale, shown.full_scale_unit) == (FULL_SCALE_DEG, "deg"):
            continue
        unit = shown.full_scale_unit or "deg"
        scale = quantity(shown.full_scale, unit, decimals=2 if unit == "NM" else 1)
        yield Row(
            (
                tr("Needle of the final"),
                tr(
                    "Full scale is {scale} to each side. Where the procedure gives none, a localiser's is 700 ft in all at the "
                    "threshold and at most 3°, a satellite course's 0.3 NM (neither was looked up). Needle, half scale, "
                    "established and tracking go by it and by its own line; the deviation stays the angle at the station.",
                    scale=scale,
                ),
            )
        )
        return


def _choice(flow: Words, result: Result) -> None:
    """Which procedure was taken, how well it fits, and which others were tried."""
    procedure = result.procedure
    rows = [
        Row((procedure.name, procedure.file, _percent(procedure.fit), str(len(result.attempts))), bold=True)
    ]
    rows += [
        Row((other.name, other.file, _percent(other.fit), str(other.attempts)))
        for other in procedure.candidates
    ]
    columns = [
        Column(tr("Procedure"), 5),
        Column(tr("File"), 4),
        Column(tr("Fit, %"), 1, "right"),
        Column(tr("Approaches"), 1.6, "right"),
    ]
    title = (
        tr("The procedure was chosen by its fit")
        if result.attempts
        else tr("None of the procedures near it fits")
    )
    flow.titled_table(title, columns, rows, lesser=True)


def _percent(fit: float | None) -> str:
    return number(None if fit is None else 100 * fit)
