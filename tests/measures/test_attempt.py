"""All measures together: whole, with parts missing, and what must not change them."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures import GateLimits, measure, passages, turns
from debrief.phases.model import Flight, FoundAttempt, Span
from debrief.procedures.model import Phase
from debrief.result import LegMeasures, Measures
from tests.measures.builders import Built, attempt, flight, passage, whole_approach
from tests.measures.plan import procedure

GATES = GateLimits(heights_ft=(1000.0, 500.0), max_sink_ft_min=1000.0, max_speed_change_kt=20.0)
PHASES = (
    "inbound", "station_passage", "outbound", "course_reversal",
    "intermediate", "final", "missed_approach", "landing",
)  # fmt: skip


def all_numbers(thing: object) -> list[float]:
    """Every float in a tree of dataclasses and tuples."""
    if isinstance(thing, float):
        return [thing]
    if isinstance(thing, tuple | list):
        return [number for part in thing for number in all_numbers(part)]
    if dataclasses.is_dataclass(thing):
        return [n for f in dataclasses.fields(thing) for n in all_numbers(getattr(thing, f.name))]
    return []


def assert_sound(measures: Measures) -> None:
    """No number that is none: what is not known is ``None``."""
    assert all(math.isfinite(number) for number in all_numbers(measures))


def measured(built: Built, **log) -> Measures:
    return measure(built.flight, built.attempt, None, gate_limits=GATES, **log)


def test_each_phase_has_its_time_way_and_speed():
    built = whole_approach()
    measures = measured(built)

    for phase in PHASES[:-1]:
        leg = getattr(measures, phase)
        span = next(s for s in built.attempt.spans if s.phase == phase)
        assert leg.duration_s == pytest.approx(span.end_s - span.start_s, abs=1e-9), phase
        assert leg.observed_s == pytest.approx(leg.duration_s, abs=1e-9), phase
        # 120 kt throughout: the way is the time; arcs are measured along their chords of a second
        assert leg.track_length_nm == pytest.approx(leg.duration_s / 30.0, abs=0.002), phase
        assert leg.groundspeed_kt.mean == pytest.approx(120.0, abs=1e-6), phase
    assert measures.landing is None
    assert measures.earlier_circuits == ()
    assert_sound(measures)


def test_the_outbound_altitude_is_weighed_by_time():
    """4,000 to 3,500 ft in 75 s, then level to the turn off."""
    built = whole_approach()
    leg = measured(built).outbound

    assert leg is not None
    assert leg.altitude_ft is not None
    level_s = leg.duration_s - 75.0
    assert leg.altitude_ft.mean == pytest.approx((75.0 * 3750.0 + level_s * 3500.0) / leg.duration_s, abs=0.5)
    assert (leg.altitude_ft.min, leg.altitude_ft.max) == (pytest.approx(3500.0), pytest.approx(4000.0))
    assert leg.vertical_speed_ft_min is not None
    assert leg.vertical_speed_ft_min.min == pytest.approx(-400.0, abs=0.1)


def test_the_descent_of_a_leg_has_its_angle():
    """From the edge of the cone 500 ft in 2.5 NM; level inbound."""
    measures = measured(whole_approach())

    assert measures.outbound is not None
    assert measures.outbound.descent_angle_deg == pytest.approx(
        math.degrees(math.atan(500.0 / (2.5 * 6076.115))), abs=0.01
    )
    assert measures.inbound is not None
    assert measures.inbound.descent_angle_deg is None


def test_turns_have_their_direction_size_and_rate():
    built = whole_approach()
    first, off, back = turns(built.flight, built.attempt)

    assert [t.direction for t in (first, off, back)] == ["left", "left", "right"]
    assert [t.degrees for t in (first, off, back)] == [45.0, 45.0, 180.0]
    assert back.mean_rate_deg_s == pytest.approx(3.0, abs=1e-9)
    assert back.mean_groundspeed_kt == pytest.approx(120.0, abs=1e-6)


def test_a_gap_counts_for_nothing_and_is_said():
    whole = whole_approach()
    start_s = whole.marks["out of cone"] + 40.0
    built = whole_approach(gaps=[(start_s, start_s + 50.0)])
    leg = measured(built).outbound

    assert leg is not None
    assert leg.observed_s == pytest.approx(leg.duration_s - 50.0, abs=1e-9)
    assert leg.track_length_nm == pytest.approx((leg.duration_s - 50.0) / 30.0, abs=0.1)
    assert any("50 s of" in text and "gaps of the log" in text for text in leg.warnings)
    assert_sound(measured(built))


@pytest.mark.parametrize("phase", PHASES[:-1])
def test_a_phase_hidden_in_a_gap_says_so_and_breaks_nothing_else(phase):
    whole = whole_approach()
    span = next(s for s in whole.attempt.spans if s.phase == phase)
    built = whole_approach(gaps=[(span.start_s - 0.5, span.end_s + 0.5)])
    measures = measured(built)

    leg: LegMeasures = getattr(measures, phase)
    assert leg.observed_s == 0.0
    assert (leg.altitude_ft, leg.groundspeed_kt, leg.cross_track_nm) == (None, None, None)
    assert leg.warnings[0] == "Nothing was observed in this phase."
    assert_sound(measures)
    passages(built.flight, built.attempt)
    turns(built.flight, built.attempt)


def test_a_log_without_any_altitude_still_has_all_that_lies_in_the_plane():
    measures = measured(whole_approach(no_altitude=[(-1.0, 1e5)]))

    assert measures.outbound is not None
    assert measures.outbound.cross_track_nm is not None
    assert measures.intercept is not None
    assert measures.intercept.angle_deg == pytest.approx(45.0, abs=0.1)
    assert measures.course_reversal is not None
    assert measures.course_reversal.pattern == "45/180"
    for phase in PHASES[:-1]:
        leg = getattr(measures, phase)
        assert leg.altitude_ft is None
        assert leg.vertical_speed_ft_min is None


@pytest.mark.parametrize("phase", PHASES)
def test_a_phase_of_one_moment_is_measured_without_fuss(phase):
    built = whole_approach()
    at_s = built.marks["climb"] if phase == "landing" else built.marks["turn off"]
    found = attempt([(phase, at_s, at_s)])
    measures = measure(flight(built.path, procedure(), found), found, None, gate_limits=GATES)

    leg = getattr(measures, phase)
    assert leg.duration_s == 0.0
    assert leg.groundspeed_kt.mean == pytest.approx(120.0, abs=1e-6)
    assert_sound(measures)


@pytest.mark.parametrize("first", range(1, 8))
def test_an_attempt_that_the_log_joins_late(first):
    built = whole_approach()
    spans = built.attempt.spans[first:]
    found = replace(
        built.attempt,
        spans=spans,
        passages=tuple(p for p in built.attempt.passages if p.t_s >= spans[0].start_s),
    )

    assert_sound(measure(flight(built.path, procedure(), found), found, None, gate_limits=GATES))


@pytest.mark.parametrize("last", range(1, 8))
def test_an_attempt_that_the_log_leaves_early(last):
    built = whole_approach()
    spans = built.attempt.spans[:last]
    cut = replace(spans[-1], end_s=(spans[-1].start_s + spans[-1].end_s) / 2)
    end_s = cut.end_s
    found = replace(
        built.attempt,
        spans=(*spans[:-1], cut),
        passages=tuple(p for p in built.attempt.passages if p.t_s <= end_s),
        turns=tuple(t for t in built.attempt.turns if t.end_s <= end_s),
        turn_off_s=built.attempt.turn_off_s if built.marks["turn off"] < end_s else None,
        established_s=built.attempt.established_s if built.marks["established"] < end_s else None,
        ending="end of log",
    )
    ended = flight(built.path, procedure(), found, gaps=[(end_s + 1e-6, built.path.now_s + 1.0)])

    assert_sound(measure(ended, found, None, gate_limits=GATES))


def shifted(built: Built, seconds: float) -> tuple[Flight, FoundAttempt]:
    """The same flight, its log's clock counting from another moment."""
    found = built.attempt
    moved = replace(
        found,
        spans=tuple(replace(s, start_s=s.start_s + seconds, end_s=s.end_s + seconds) for s in found.spans),
        passages=tuple(
            replace(p, t_s=p.t_s + seconds, entry_s=p.entry_s + seconds, exit_s=p.exit_s + seconds)
            for p in found.passages
        ),
        turns=tuple(replace(t, start_s=t.start_s + seconds, end_s=t.end_s + seconds) for t in found.turns),
        turn_off_s=(found.turn_off_s or 0.0) + seconds,
        established_s=(found.established_s or 0.0) + seconds,
    )
    here = built.flight
    view = replace(here.view, t_s=here.view.t_s + seconds)

    def at(t_s):
        return replace(here.at(np.asarray(t_s) - seconds), t_s=np.asarray(t_s))

    return replace(here, view=view, at=at, attempts=(moved,)), moved


def telling(measures: Measures) -> list[float]:
    """Numbers from every family that do not jump where a rate of the built path does."""
    assert measures.outbound is not None
    assert measures.intermediate is not None
    assert measures.course_reversal is not None
    assert measures.final is not None
    assert measures.missed_approach is not None
    assert measures.outbound.altitude_ft is not None
    parts = [
        measures.outbound.cross_track_nm,
        # how sure its extremes are hangs on its rate at both ends of the leg
        replace(measures.outbound.altitude_ft, min_uncertainty=None, max_uncertainty=None),
        measures.outbound.time_from_passage_s,
        measures.outbound.turn_off_dme_nm,
        measures.intermediate.cross_track_nm,
        measures.intermediate.deviation_deg,
        measures.course_reversal.max_distance_nm,
        measures.course_reversal.width_nm,
        measures.final.descent_angle_deg,
        measures.final.lowest_altitude_ft,
        measures.missed_approach.start_past_point_nm,
        measures.turn,
        measures.intercept,
    ]
    return all_numbers(tuple(parts))


@given(seconds=st.floats(-1e5, 1e5))
def test_another_zero_of_time_changes_no_number(seconds):
    built = whole_approach()
    here, moved = shifted(built, seconds)

    plain = telling(measured(built))
    assert telling(measure(here, moved, None, gate_limits=GATES)) == pytest.approx(plain, abs=2e-3)


def test_a_racetrack_keeps_its_earlier_circuits_apart():
    plan = procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "side": "right"},
    )
    built = whole_approach()
    spans: list[tuple[str, float, float, int]] = [
        ("outbound", 300.0, 360.0, 0),
        ("course_reversal", 360.0, 420.0, 0),
        ("intermediate", 420.0, 440.0, 0),
        ("station_passage", 440.0, 450.0, 0),
        ("outbound", 450.0, 520.0, 1),
        ("course_reversal", 520.0, 600.0, 1),
        ("intermediate", 600.0, 700.0, 1),
        ("station_passage", 700.0, 720.0, 1),
        ("final", 720.0, 900.0, 1),
    ]
    found = attempt(
        spans,
        passages=[passage(290.0), passage(445.0), passage(710.0)],
        turn_off_s=520.0,
        established_s=600.0,
    )
    measures = measure(flight(built.path, plan, found), found, None)

    (first,) = measures.earlier_circuits
    assert first.outbound is not None
    assert first.outbound.time_from_passage_s == pytest.approx(70.0, abs=1e-6)
    assert first.intercept is not None
    assert first.intercept.established == built.flight.log.track.time_at(420.0)
    assert first.intermediate is not None
    assert first.intermediate.duration_s == pytest.approx(20.0, abs=1e-6)
    assert measures.outbound is not None
    assert measures.outbound.time_from_passage_s == pytest.approx(75.0, abs=1e-6)
    assert measures.intermediate is not None
    assert measures.intermediate.duration_s == pytest.approx(100.0, abs=1e-6)
    assert measures.final is not None


def test_a_phase_cut_in_two_by_a_gap_is_measured_as_one():
    built = whole_approach()
    m = built.marks
    found = replace(
        built.attempt,
        spans=(
            Span(phase=Phase.INBOUND, start_s=0.0, end_s=80.0),
            Span(phase=Phase.INBOUND, start_s=120.0, end_s=m["turn"]),
        ),
    )
    leg = measure(flight(built.path, procedure(), found, gaps=[(80.0, 120.0)]), found, None).inbound

    assert leg is not None
    assert leg.duration_s == pytest.approx(m["turn"], abs=1e-9)
    assert leg.observed_s == pytest.approx(m["turn"] - 40.0, abs=1e-9)


def test_moments_are_utc():
    measures = measured(whole_approach())

    def moments(thing: object) -> list[datetime]:
        if isinstance(thing, datetime):
            return [thing]
        if isinstance(thing, tuple):
            return [m for part in thing for m in moments(part)]
        if dataclasses.is_dataclass(thing):
            return [m for f in dataclasses.fields(thing) for m in moments(getattr(thing, f.name))]
        return []

    found = moments(measures)
    assert found
    assert all(moment.utcoffset() is not None and not moment.utcoffset() for moment in found)
