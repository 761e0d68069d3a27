"""What must hold of the step-downs on final, and of the stations whose radials end them.

Owns      ``Problem``, and ``step_downs``.
Not here  the rest of a procedure (``checks``), where a step ends (``steps``).
Source    The keys: DEVELOPERS.md, "Procedure file".
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from debrief.procedures.steps import crossing_along_nm, step_dme_nm
from debrief.toml_file import shortened

if TYPE_CHECKING:
    from debrief.procedures.model import Leg, Procedure, StepDown

_SAME_NM = 0.005


class Problem(NamedTuple):
    """One thing that is wrong: where in the file (keys, and legs counted from 0), what, and what to do."""

    where: tuple[str | int, ...]
    what: str
    remedy: str = ""


def step_downs(procedure: Procedure) -> Iterator[Problem]:
    """What is wrong with the step-downs, in the order of the file."""
    yield from _other_stations(procedure)
    final = procedure.final
    if final is None or not final.step_down or final.altitude is None or final.altitude.low_ft is None:
        return
    where = ("leg", procedure.leg.index(final), "step_down")
    crossings = [
        problem
        for number, step in enumerate(final.step_down)
        for problem in _crossing(procedure, (*where, number, "until_radial"), step)
    ]
    if crossings:  # nobody knows where those steps end
        yield from crossings
        return
    yield from _in_order(procedure, where, final)
    for number, step in enumerate(final.step_down):
        yield from _above_and_before(procedure, (*where, number), final, step, final.altitude.low_ft)


def _other_stations(procedure: Procedure) -> Iterator[Problem]:
    idents = [other.ident for other in procedure.other_station]
    for number, ident in enumerate(idents):
        if ident in idents[:number] or ident == procedure.station.ident:
            yield Problem(
                ("other_station", number, "ident"),
                f"there are two stations {ident}",
                "Give each its own ident.",
            )


def _crossing(procedure: Procedure, where: tuple[str | int, ...], step: StepDown) -> Iterator[Problem]:
    crossing = step.until_radial
    if crossing is None:
        return
    known = [other.ident for other in procedure.other_station]
    if crossing.station not in known:
        yield Problem(
            (*where, "station"),
            f"there is no other station {shortened(crossing.station)}",
            f"Give one of {', '.join(shortened(ident) for ident in known)}, or add an [[other_station]]."
            if known
            else "Add an [[other_station]] with its ident and position.",
        )
        return
    along_nm = crossing_along_nm(procedure, crossing)
    before = along_nm is not None and (along_nm < 0.0) == procedure.station_on_aerodrome
    if not before:
        place = "nowhere" if along_nm is None else "on the wrong side of the station"
        yield Problem(
            (*where, "radial_deg"),
            f"the radial {crossing.radial_deg:g} of {crossing.station} crosses the final course {place}",
            "Check the radial, and the position and declination of that station.",
        )


def _in_order(procedure: Procedure, where: tuple[str | int, ...], final: Leg) -> Iterator[Problem]:
    away = not procedure.station_on_aerodrome
    direction = "grow away from the station" if away else "shrink towards the station"
    ends = [step_dme_nm(procedure, step) for step in final.step_down]
    for number, (step, after) in enumerate(zip(final.step_down, final.step_down[1:], strict=False), start=1):
        end_nm, after_nm = ends[number - 1], ends[number]
        if abs(after_nm - end_nm) < _SAME_NM or (after_nm > end_nm) != away:
            yield Problem(
                (*where, number, _key(after)),
                f"{_said(after, after_nm)} comes after {_said(step, end_nm)}",
                f"In the order flown the distances {direction}.",
            )
        if after.at_or_above_ft >= step.at_or_above_ft:
            yield Problem(
                (*where, number, "at_or_above_ft"),
                f"{after.at_or_above_ft:g} is not below the {step.at_or_above_ft:g} before it",
                "Each step is lower than the one before.",
            )


def _above_and_before(
    procedure: Procedure, where: tuple[str | int, ...], final: Leg, step: StepDown, minimum_ft: float
) -> Iterator[Problem]:
    if step.at_or_above_ft <= minimum_ft:
        yield Problem(
            (*where, "at_or_above_ft"),
            f"{step.at_or_above_ft:g} is not above the minimum of {minimum_ft:g} ft",
            "A step-down holds the aircraft above the minimum for a while.",
        )
    end = final.missed_approach_point
    if end is None or end.dme_nm is None:
        return
    until_nm = step_dme_nm(procedure, step)
    away = not procedure.station_on_aerodrome
    if until_nm > end.dme_nm if away else until_nm < end.dme_nm:
        yield Problem(
            (*where, _key(step)),
            f"{_said(step, until_nm)} is not before the missed approach point at {end.dme_nm:g} DME",
            "A step ends before the missed approach point.",
        )


def _key(step: StepDown) -> str:
    return "until_dme_nm" if step.until_radial is None else "until_radial"


def _said(step: StepDown, until_nm: float) -> str:
    if step.until_radial is None:
        return f"{until_nm:g}"
    return (
        f"the radial {step.until_radial.radial_deg:g} of {step.until_radial.station}, {until_nm:.1f} NM out,"
    )
