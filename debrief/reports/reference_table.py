"""The pilot's figures beside those of the errorless flight in the same wind.

Owns      the rows of that table, and what is said where the flown speeds allow no clean approach.
Not here  flying it and its figures (``debrief.reference``), its line in the pictures (``plan``, ``profile``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from debrief.language import mark, tr
from debrief.navigation.angles import difference_deg
from debrief.reports.flow import Column, Row, Words
from debrief.reports.style import TABLE_PT
from debrief.reports.words import NOTHING, bearing, coarse, decimals_of, elapsed, measured, quantity
from debrief.result import Attempt, Reference

_ABOVE_PT = 50.0  # how it was flown, and the head of the table: it stands on one page
_ROW_PT = 17.0


@dataclass(frozen=True, slots=True)
class _Figure:
    """One row: its name, the key in ``KeyFigures`` and how its values and their difference look."""

    name: str
    key: str
    show: Callable[[float], str]
    show_difference: Callable[[float], str]
    rounded: Callable[[float], float]  # the difference is that of the figures as they are shown


def _figure(name: str, key: str, unit: str, *, signed: bool = False) -> _Figure:
    return _Figure(
        name,
        key,
        lambda value: measured(value, unit, signed=signed),
        lambda value: quantity(value, unit, signed=True),
        lambda value: round(coarse(value, unit), decimals_of(unit)),
    )


def _heading(name: str, key: str) -> _Figure:
    return _Figure(name, key, bearing, lambda value: quantity(value, "deg", decimals=0, signed=True), round)


def _signed_time(seconds: float) -> str:
    return f"+{elapsed(seconds)}" if round(seconds) > 0 else elapsed(seconds)


_FIGURES = (
    _figure(mark("lead at the station, before it +"), "lead_nm", "NM", signed=True),
    _Figure(mark("outbound, from the closest point, min:s"), "outbound_time_s", elapsed, _signed_time, round),
    _heading(mark("outbound heading, magnetic"), "outbound_heading_mag_deg"),
    _figure(mark("slant range at the turn off"), "turn_off_dme_nm", "NM"),
    _figure(mark("width of the reversal"), "reversal_width_nm", "NM"),
    _figure(mark("farthest from the station in it"), "reversal_max_distance_nm", "NM"),
    _figure(mark("angle of the intercept"), "intercept_angle_deg", "deg"),
    _figure(mark("established, distance from the station"), "established_distance_nm", "NM"),
    _heading(mark("final heading, magnetic"), "final_heading_mag_deg"),
    _figure(mark("descent begun, along the final course"), "descent_start_distance_nm", "NM", signed=True),
    _figure(mark("angle of the descent"), "descent_angle_deg", "deg"),
    _figure(mark("rate of descent at that angle"), "descent_rate_ft_min", "ft/min"),
)


def reference_part(flow: Words, attempt: Attempt) -> None:
    """Set the table of an attempt; nothing where there is no errorless flight to it."""
    reference = attempt.reference
    if reference is None:
        return
    rows = []
    for figure in _FIGURES:
        flown, errorless = getattr(reference.flown, figure.key), getattr(reference.errorless, figure.key)
        if flown is None and errorless is None:
            continue
        difference = NOTHING
        if flown is not None and errorless is not None:
            ours, best = figure.rounded(flown), figure.rounded(errorless)
            apart = float(difference_deg(ours, best)) if figure.show is bearing else ours - best
            difference = figure.show_difference(apart)
        shown = [NOTHING if value is None else figure.show(value) for value in (flown, errorless)]
        rows.append(Row((tr(figure.name), *shown, difference)))
    if not rows:
        return
    heading = (
        tr("Beside an errorless flight in still air")
        if reference.wind_speed_kt is None
        else tr("Beside an errorless flight in the same wind")
    )
    flow.subheading(heading, keep_pt=_ABOVE_PT + _ROW_PT * len(rows))
    flow.paragraph(reference.method, size_pt=TABLE_PT)
    if reference.why:
        flow.paragraph(reference.why, size_pt=TABLE_PT, bold=True)
    columns = [
        Column(tr("Measure"), 40),
        Column(tr("Flown"), 20, "right"),
        Column(tr("Without error"), 20, "right"),
        Column(tr("Difference"), 20, "right"),
    ]
    flow.table(columns, rows)
    for why in (*_missing(reference), *_entered_otherwise(attempt)):
        flow.paragraph(why, size_pt=TABLE_PT)


def _entered_otherwise(attempt: Attempt) -> Iterator[str]:
    """Why the figures of a racetrack differ though it was flown well: the errorless flight never enters parallel."""
    arrival = attempt.measures.arrival
    if arrival is not None and arrival.entry == "parallel":
        yield tr(
            "The racetrack was entered parallel, and without error otherwise: width, distances and times of the reversal "
            "differ for it."
        )


def _missing(reference: Reference) -> Iterator[str]:
    """Why a figure of the flight stands beside none of the errorless one, each reason once."""
    names = {
        figure.key
        for figure in _FIGURES
        if getattr(reference.flown, figure.key) is not None
        and getattr(reference.errorless, figure.key) is None
    }
    headings = {"outbound_heading_mag_deg", "final_heading_mag_deg"}
    if names & headings and reference.wind_speed_kt is None:
        yield tr(
            "Headings stand beside none: flown in still air they say nothing about the ones to fly in a wind."
        )
        names -= headings
    if "intercept_angle_deg" in names:
        yield tr(
            "The angle of the intercept stands beside none: without error the turn ran straight onto the course."
        )
        names -= {"intercept_angle_deg"}
    left = [tr(figure.name) for figure in _FIGURES if figure.key in names]
    if left:
        yield tr("Not measured in the flight without error: {what}.", what="; ".join(left))
