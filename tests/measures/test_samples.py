"""Each raw sample with what the pilot saw there, as plain arrays."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.measures.samples import samples
from tests.measures.builders import EPOCH, Built, cone_nm, flight, whole_approach
from tests.measures.plan import procedure


def at_mark(built: Built, name: str, later_s: float = 0.0) -> int:
    return round(built.marks[name] + later_s)


def test_one_entry_a_raw_sample_in_order_of_time():
    built = whole_approach()
    track = built.flight.log.track
    mixed = np.arange(len(track))
    mixed[[100, 200]] = mixed[[200, 100]]
    shuffled = replace(
        track,
        **{
            name: getattr(track, name)[mixed]
            for name in ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
        },
    )
    log = replace(built.flight.log, track=shuffled, order=np.argsort(shuffled.t_s))
    found = samples(replace(built.flight, log=log))

    assert len(found.t_s) == len(track)
    assert (np.diff(found.t_s) > 0).all()
    assert found.latitude_deg.tolist() == track.latitude_deg.tolist()
    assert found.row[100] == 200


def test_the_course_is_that_which_should_have_been_selected():
    built = whole_approach()
    found = samples(built.flight)
    course = {
        "inbound": math.nan,
        "outbound": 48.0,
        "course_reversal": 228.0,
        "intermediate": 228.0,
        "final": 228.0,
        "missed_approach": 228.0,
    }

    for phase, expected in course.items():
        there = found.phase == phase
        assert there.any(), phase
        assert np.array_equal(np.unique(found.course_deg[there]), [expected], equal_nan=True), phase
    # while the station is passed, that of the leg which follows
    first = slice(at_mark(built, "turn"), at_mark(built, "on radial"))
    assert set(found.course_deg[first]) == {48.0}
    assert found.course_deg[at_mark(built, "station")] == 228.0


def test_flag_and_needle():
    built = whole_approach()
    found = samples(built.flight)

    assert set(found.to_from[found.phase == "inbound"]) == {""}  # no course, no flag
    assert set(found.to_from[found.phase == "outbound"]) == {"FROM"}
    assert set(found.to_from[found.phase == "intermediate"]) == {"TO"}
    assert set(found.to_from[found.phase == "final"]) == {"FROM"}
    # left of the outbound radial is right of the course back in
    aside = at_mark(built, "turn back")
    assert found.cross_track_nm[aside] > 1.0
    assert found.deviation_deg[aside] == pytest.approx(
        math.degrees(math.asin(found.cross_track_nm[aside] / built.path.distance_nm(aside))), abs=0.01
    )
    assert found.deflection[aside] == pytest.approx(found.deviation_deg[aside] / 10.0, abs=1e-9)


def test_the_cone_blanks_needle_and_flag_and_not_the_distances():
    built = whole_approach()
    found = samples(built.flight)
    over = at_mark(built, "station")

    assert found.cone[over]
    assert found.to_from[over] == ""
    assert np.isnan(found.deviation_deg[over])
    assert np.isnan(found.deflection[over])
    assert abs(found.cross_track_nm[over]) < 0.001
    assert found.dme_nm[over] == pytest.approx(2500.0 / 6076.115, abs=0.01)
    distance_nm = np.array([built.path.distance_nm(t) for t in found.t_s])
    assert (found.cone[found.phase == "intermediate"] == 0).all()
    assert np.mean(found.cone == (distance_nm < cone_nm(2800.0))) > 0.9


def test_a_station_without_dme_reads_no_distance():
    plan = procedure(
        station={"kind": "VOR"},
        outbound={"length": {"minutes": 3.0}},
        final={"missed_approach_point": {"minutes": 2.3}, "step_down": None},
    )
    built = whole_approach(plan)

    assert np.isnan(samples(built.flight).dme_nm).all()


def test_a_racetrack_has_the_course_back_in_selected_outbound():
    plan = procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "side": "right"},
    )
    built = whole_approach(plan)
    found = samples(built.flight)
    outbound = found.phase == "outbound"

    assert set(found.course_deg[outbound]) == {228.0}
    assert set(found.to_from[outbound]) == {"TO"}


def test_phases_and_attempts_are_numbered_and_blank_outside():
    built = whole_approach()
    later = replace(
        built.attempt,
        spans=tuple(s for s in built.attempt.spans if s.phase == "missed_approach"),
        passages=(),
    )
    first = replace(built.attempt, spans=built.attempt.spans[:3], passages=built.attempt.passages[:1])
    found = samples(replace(built.flight, attempts=(first, later)))

    assert found.attempt[10] == 1
    assert found.attempt[at_mark(built, "turn back")] == 0
    assert found.phase[at_mark(built, "turn back")] == ""
    assert found.attempt[at_mark(built, "climb", 20)] == 2


def test_samples_set_aside_are_there_and_marked():
    built = whole_approach()
    log = built.flight.log
    keep = np.delete(np.arange(len(log.track)), [50, 51])
    aside = tuple("jump" if i in (50, 51) else "" for i in range(len(log.track)))
    fewer = replace(
        log,
        order=keep,
        segment=log.segment[keep],
        altitude_used=log.altitude_used[keep],
        altitude_ft=log.altitude_ft[keep] + 120.0,  # a correction that was asked for
        set_aside=aside,
    )
    found = samples(replace(built.flight, log=fewer))

    assert np.flatnonzero(~found.used).tolist() == [50, 51]
    assert np.allclose(found.altitude_ft, log.track.altitude_ft + 120.0, rtol=0.0, atol=1e-9)


def test_in_a_gap_nothing_is_known_but_what_was_logged():
    built = whole_approach()
    hidden = flight(built.path, procedure(), built.attempt, gaps=[(300.0, 360.0)])
    whole_log = replace(hidden, log=built.flight.log)
    found = samples(whole_log)

    assert np.isfinite(found.latitude_deg).all()
    assert np.isnan(found.groundspeed_kt[310:350]).all()
    assert np.isnan(found.deviation_deg[310:350]).all()
    assert set(found.to_from[310:350]) == {""}
    assert found.phase[330] == "outbound"
    assert built.flight.log.track.epoch == EPOCH
