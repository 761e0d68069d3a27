"""The stabilised gates, with the standard's limits handed in."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from debrief.measures import GateLimits, gates, measure
from tests.measures.builders import EPOCH, Path, attempt, flight, passage
from tests.measures.plan import INBOUND_TRUE_DEG, RUNWAY_FT, procedure

LIMITS = GateLimits(
    heights_ft=(500.0, 1000.0),
    max_sink_ft_min=1000.0,
    max_deviation_deg=5.0,
    max_track_off_deg=10.0,
    max_speed_change_kt=15.0,
)


def down(from_height_ft: float, aside_nm: float = 0.0) -> Path:
    """On final, half a mile past the station."""
    course = math.radians(INBOUND_TRUE_DEG)
    return Path(
        0.8 * math.sin(course) + aside_nm * math.cos(course),
        0.8 * math.cos(course) - aside_nm * math.sin(course),
        INBOUND_TRUE_DEG,
        90.0,
        RUNWAY_FT + from_height_ft,
    )


def gates_of(path: Path, limits: GateLimits | None = LIMITS, plan=None, **log):
    found = attempt([("final", 0.0, path.now_s)], passages=[passage(-10.0)], ending="landing")
    final = measure(flight(path, plan or procedure(), found, **log), found, None, gate_limits=limits).final
    assert final is not None
    return final.gates, final.warnings


def test_a_steady_descent_is_stable_at_both():
    path = down(1400.0).straight(4.4, to_ft=RUNWAY_FT)
    (high, low), _ = gates_of(path)

    assert (high.height_ft, low.height_ft) == (1000.0, 500.0)
    assert (high.stable, low.stable) == (True, True)
    assert (high.reasons, low.reasons) == ((), ())
    assert (high.time - EPOCH).total_seconds() == pytest.approx(path.now_s * 400 / 1400, abs=0.1)


def test_a_dive_below_the_upper_gate_says_how_steep():
    path = down(1400.0).straight(1.8, to_ft=RUNWAY_FT + 900).straight(seconds=20, to_ft=RUNWAY_FT + 400)
    (high, low), _ = gates_of(path.straight(1.5, to_ft=RUNWAY_FT))

    assert high.stable is False
    (said,) = high.reasons
    assert re.fullmatch(r"sinking at 1,500 ± [1-9]\d+ ft/min \(limit 1,000\)", said)
    assert low.stable is False  # the last 100 ft of it


def test_off_the_course_says_how_far():
    path = (
        down(1400.0, aside_nm=0.2).straight(2.0, to_ft=RUNWAY_FT + 700).straight(2.0, to_ft=RUNWAY_FT + 200)
    )
    limits = GateLimits(heights_ft=(1000.0,), max_deviation_deg=5.0)
    (high,), _ = gates_of(path, limits)

    # 1,000 ft are passed 2.0 NM along: 400 of the first 700 ft of 2 NM, from 0.8
    expected = math.degrees(math.atan(0.2 / (0.8 + 2.0 * 400 / 700)))
    (said,) = high.reasons
    assert re.fullmatch(rf"{expected:.1f} ± \d\.\d° off the course \(limit 5°\)", said)


@pytest.mark.parametrize(
    ("value", "step", "told"), [(1004.0, 10.0, 1010.0), (15.2, 1.0, 16.0), (7.52, 0.1, 7.6), (0.5, 0.01, 0.5)]
)
def test_what_is_beyond_a_limit_never_reads_as_the_limit(value: float, step: float, told: float):
    assert gates._beyond(value, step) == pytest.approx(told)


def test_a_changing_speed_is_that_of_the_air_where_it_is_known():
    path = down(1400.0).straight(4.4, to_ft=RUNWAY_FT)
    slowing = np.interp(np.arange(0.0, path.now_s), [0.0, path.now_s], [120.0, 70.0])
    (high, _), _ = gates_of(path, columns={"airspeed_kias": slowing})

    assert any("airspeed changed by" in reason for reason in high.reasons)
    assert not any("ground speed" in reason for reason in high.reasons)


def test_without_limits_no_gates_are_looked_at():
    found, warnings = gates_of(down(1400.0).straight(4.4, to_ft=RUNWAY_FT), None)

    assert found == ()
    assert not any("gates" in text for text in warnings)


def test_a_gate_never_passed_is_left_out():
    (low,), _ = gates_of(down(900.0).straight(4.4, to_ft=RUNWAY_FT))

    assert low.height_ft == 500.0


def test_without_a_runway_there_are_none_and_a_reason():
    found, warnings = gates_of(down(1400.0).straight(3.0, to_ft=1000.0), plan=procedure(runway=None))

    assert found == ()
    assert "Stabilised gates not looked at: the procedure has no runway." in warnings


def test_without_altitude_there_are_none_and_a_reason():
    found, warnings = gates_of(down(1400.0).straight(4.4, to_ft=RUNWAY_FT), no_altitude=[(-1.0, 1e4)])

    assert found == ()
    assert "Stabilised gates not looked at: the log has no altitude on the final." in warnings
