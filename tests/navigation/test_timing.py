"""Timing against the printed table of approach timings."""

import numpy as np
import pytest

from debrief.navigation.timing import leg_seconds, outbound_seconds

SPEEDS_KT = np.array([70.0, 90.0, 120.0, 150.0, 180.0])

#: Minutes and seconds by distance and the speeds above, as a chart prints them. Computed apart from this program.
TIMES = {
    3.0: ("2:34", "2:00", "1:30", "1:12", "1:00"),
    4.5: ("3:51", "3:00", "2:15", "1:48", "1:30"),
    5.0: ("4:17", "3:20", "2:30", "2:00", "1:40"),
    6.0: ("5:09", "4:00", "3:00", "2:24", "2:00"),
}


@pytest.mark.parametrize("distance_nm", TIMES)
def test_time_from_the_final_fix(distance_nm):
    printed = [
        int(minutes) * 60 + int(seconds) for minutes, seconds in (t.split(":") for t in TIMES[distance_nm])
    ]

    np.testing.assert_allclose(leg_seconds(distance_nm, SPEEDS_KT), printed, rtol=0, atol=0.5)


@pytest.mark.parametrize(
    ("airspeed_kt", "headwind_kt", "seconds"),
    [(120, 20, 72.0), (120, -20, 51.4), (150, 30, 75.0), (150, 0, 60.0)],
)
def test_a_minute_outbound_in_a_wind(airspeed_kt, headwind_kt, seconds):
    """For the distance of a minute in still air. Computed apart from this program."""
    assert outbound_seconds(60.0, float(airspeed_kt), float(headwind_kt)) == pytest.approx(seconds, abs=0.05)


def test_outside_their_domain():
    assert np.isnan(leg_seconds(5.0, 0.0))
    assert np.isnan(outbound_seconds(60.0, 50.0, 50.0))
    np.testing.assert_array_equal(np.isnan(leg_seconds(np.array([5.0, np.nan]), 90.0)), [False, True])
