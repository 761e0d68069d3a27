"""The moments that matter: when each was, what was selected, and why one is missing."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from debrief.measures import measure
from debrief.measures.shown import shown
from debrief.phases.model import NotSeen
from debrief.procedures.model import Phase
from debrief.result import Shown, Wind
from tests.measures.builders import Built, flight, whole_approach
from tests.measures.plan import STATION_FT, procedure

ONE_SECOND = 1.0
WIND = Wind(from_true_deg=0.0, speed_kt=0.0, speed_uncertainty_kt=1.0, tas_kt=120.0, method="none")


def moments(built: Built, wind: Wind | None = None) -> dict[str, Shown]:
    measures = measure(built.flight, built.attempt, wind)
    return {entry.moment: entry for entry in shown(built.flight, built.attempt, measures, wind)}


def seconds(built: Built, entry: Shown) -> float:
    assert entry.time is not None
    return (entry.time - built.flight.log.track.epoch).total_seconds()


def test_each_moment_is_when_it_was_flown() -> None:
    built = whole_approach()
    found, marks = moments(built), built.marks

    assert list(found) == [
        "turn at the station", "station passage", "turn off", "needle alive", "established", "second passage",
        "minimum",
    ]  # fmt: skip
    expected = {
        "turn at the station": marks["turn"],
        "station passage": marks["closest"],
        "turn off": marks["turn off"],
        "established": marks["established"],
        "second passage": marks["station"],
    }
    for name, at_s in expected.items():
        assert seconds(built, found[name]) == pytest.approx(at_s, abs=ONE_SECOND), name
    # level within 100 ft of the minimum, and from there on
    assert marks["level"] - 30.0 < seconds(built, found["minimum"]) < marks["level"] + ONE_SECOND
    assert found["minimum"].altitude_ft == pytest.approx(980.0, abs=100.0)


def test_a_turn_begun_late_stands_behind_the_passage() -> None:
    built = whole_approach()
    measures = measure(built.flight, built.attempt, None)
    assert measures.turn is not None
    late = replace(measures.turn, start=measures.turn.start + timedelta(seconds=60))

    found = shown(built.flight, built.attempt, replace(measures, turn=late), None)

    assert [entry.moment for entry in found][:3] == ["station passage", "turn at the station", "turn off"]


def test_the_course_is_the_next_one_at_the_station_and_the_outbound_one_at_the_turn_off() -> None:
    found = moments(whole_approach())

    assert found["turn at the station"].course_deg == 48.0
    assert found["turn off"].course_deg == 48.0
    assert found["turn off"].to_from == "FROM"
    assert found["established"].course_deg == 228.0
    assert found["established"].to_from == "TO"


def test_readings_agree_with_plain_trigonometry() -> None:
    built = whole_approach()
    off = moments(built)["turn off"]
    there = built.path.at(np.array([built.marks["turn off"]]))
    east, north, high = (float(there[name][0]) for name in ("east", "north", "altitude"))

    assert off.dme_nm == pytest.approx(math.hypot(east, north, (high - STATION_FT) / 6076.115), abs=0.005)
    radial_deg = math.degrees(math.atan2(east, north)) - procedure().station.declination_deg
    assert off.deviation_deg == pytest.approx((radial_deg - 48.0 + 180.0) % 360.0 - 180.0, abs=0.05)


def test_over_the_station_needle_and_flag_are_blank() -> None:
    over = moments(whole_approach())["second passage"]

    assert over.cone is True
    assert (over.deviation_deg, over.deflection, over.to_from) == (None, None, None)
    assert over.dme_nm == pytest.approx(2500.0 / 6076.115, abs=0.01)


def test_a_needle_never_at_its_stop_is_shown_where_it_stood_farthest_out() -> None:
    alive = moments(whole_approach())["needle alive"]

    assert alive.time is not None
    assert "farthest out" in alive.why
    assert alive.deflection is not None
    assert 0.0 < abs(alive.deflection) < 1.0


def test_a_pointer_needs_a_heading_and_says_why_there_is_none() -> None:
    built = whole_approach()

    without, with_wind = moments(built)["turn off"], moments(built, WIND)["turn off"]

    assert without.relative_bearing_deg is None
    assert "no heading" in without.heading_why
    assert with_wind.relative_bearing_deg == pytest.approx(180.0, abs=1.5)  # straight out, in still air
    assert with_wind.heading_why == ""


def test_in_a_gap_and_not_flown_are_told_apart() -> None:
    built = whole_approach()
    turn_s = built.marks["turn off"]
    hidden = flight(built.path, procedure(), built.attempt, gaps=[(turn_s - 20.0, turn_s + 20.0)])
    gap = moments(replace(built, flight=hidden))["turn off"]
    left_out = replace(
        built.attempt,
        spans=tuple(s for s in built.attempt.spans if s.phase != Phase.COURSE_REVERSAL),
        not_seen=(NotSeen(phase=Phase.COURSE_REVERSAL, why="not flown"),),
        turn_off_s=None,
    )
    missing = moments(replace(built, attempt=left_out, flight=flight(built.path, procedure(), left_out)))

    assert (gap.time, gap.why) == (None, "it lies in a gap of the log")
    assert (missing["turn off"].time, missing["turn off"].why) == (None, "it was not flown")


def test_without_an_altitude_the_minimum_is_not_made_up() -> None:
    built = whole_approach()
    blind = flight(built.path, procedure(), built.attempt, no_altitude=[(0.0, built.path.now_s + 1.0)])
    found = moments(replace(built, flight=blind))

    assert found["minimum"].time is None
    assert "no altitude" in found["minimum"].why
    assert found["turn off"].altitude_ft is None
    assert found["turn off"].dme_nm is None
    assert found["turn off"].deviation_deg is not None
