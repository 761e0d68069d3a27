"""Stamps, ground speed and directions held against the positions. Whole texts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, CRUISE, HOLDING, at_times, flown, recorded

TRUE = flown(APPROACH)
LOG = recorded(TRUE, 1.0, noise_m=3.0)
#: World Magnetic Model 2025 at 47 N 31 W in March 2026, east positive (pygeomag; rounded). Mark: computed.
VARIATION_DEG = -9.8


def test_good_columns_are_said_nothing_about():
    drift = np.degrees(np.arcsin(25 / 110 * np.sin(np.radians(290.0 - LOG.track_true_deg))))

    conditioned = condition(
        LOG.track(
            groundspeed_kt=LOG.groundspeed_kt,
            ground_track_true_deg=LOG.track_true_deg,
            heading_true_deg=(LOG.track_true_deg + drift) % 360,
            heading_mag_deg=(LOG.track_true_deg + drift - VARIATION_DEG) % 360,
            vertical_speed_ft_min=LOG.climb_ft_min,
        )
    )

    assert conditioned.warnings == ()
    assert conditioned.doubtful_columns == frozenset()


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
def test_columns_of_any_interval_pass(interval_s):
    log = recorded(flown(HOLDING), interval_s, noise_m=3.0)

    conditioned = condition(
        log.track(groundspeed_kt=log.groundspeed_kt, ground_track_true_deg=log.track_true_deg)
    )

    assert conditioned.warnings == ()


@pytest.mark.parametrize(("jitter_s", "about_s"), [(0.4, 0.23), (1.0, 0.58)])
def test_jitter_is_measured(jitter_s, about_s):
    """Evenly spread over plus and minus ``jitter_s``: the standard deviation is that over the root of three."""
    log = recorded(flown(CRUISE), 1.0, noise_m=2.0, jitter_s=jitter_s)

    (words,) = condition(log.track()).warnings

    assert words.startswith("Time stamps (they are whole seconds) stand off the motion by about ")
    assert float(words.split(" about ")[1].split(" s:")[0]) == pytest.approx(about_s, abs=0.11)


def test_the_words_for_jitter():
    log = recorded(TRUE, 1.0, noise_m=2.0, jitter_s=1.0)

    (words,) = condition(log.track()).warnings

    head, tail = words.split(" scatter by ")
    scatter_kt, tail = tail.split(" ", maxsplit=1)
    assert head == (
        "Time stamps (they are whole seconds) stand off the motion by about 0.6 s: speeds from sample to sample"
    )
    # the difference of two stamps, at about 115 kt
    assert float(scatter_kt) == pytest.approx(0.816 * 115, abs=15)
    assert tail == "kt around the right mean, so they are taken from the smoothed track."


def test_whole_second_stamps_of_odd_moments():
    log = recorded(TRUE, 1.5, noise_m=1.0)

    (words,) = condition(log.set(t_s=np.floor(log.t_s)).track()).warnings

    assert words.startswith("Time stamps (they are whole seconds) stand off the motion by about 0.")


@pytest.mark.parametrize(("decimals", "step_m"), [(4, 11), (3, 111)])
def test_coarse_coordinates_are_said(decimals, step_m):
    conditioned = condition(recorded(TRUE, 1.0, decimals=decimals).track())

    assert conditioned.warnings == (
        (
            f"Positions are rounded to {decimals} decimals of a degree, steps of {step_m} m: close to the station an angle is only as "
            "good as that."
        ),
    )
    assert conditioned.position_uncertainty_nm * 1852 == pytest.approx(np.hypot(6.5, step_m / 2), abs=0.3)


@pytest.mark.parametrize(("rate", "word"), [(2.0, "slow"), (4.0, "slow"), (0.5, "fast"), (1.1, "slow")])
def test_a_clock_that_is_wrong_throughout(rate, word):
    log = recorded(TRUE, 1.0)

    conditioned = condition(log.set(t_s=log.t_s / rate).track(groundspeed_kt=log.groundspeed_kt))

    assert conditioned.warnings == (
        (
            f"The positions move {rate:.2f} times as fast as the log's ground speed says: the clock runs {word}, as at a simulation "
            "rate other than 1. Speeds and times here are by the clock."
        ),
    )
    assert conditioned.doubtful_columns == {"groundspeed_kt"}


@pytest.mark.parametrize(
    ("factor", "ratio", "unit"),
    [
        (1852 / 3600, "1.94", "m/s"),
        (1.852, "0.54", "km/h"),
        (1.852 / 1.609344, "0.87", "statute miles an hour"),
    ],
)
def test_a_ground_speed_in_another_unit(factor, ratio, unit):
    conditioned = condition(LOG.track(groundspeed_kt=LOG.groundspeed_kt * factor))

    assert conditioned.warnings == (
        (
            f"The positions move {ratio} times as fast as the log's ground speed says: that column is probably in {unit}, not in "
            "knots."
        ),
    )


@pytest.mark.parametrize("rate", [2.0, 4.0])
@pytest.mark.parametrize("noise_m", [0.0, 4.0])
def test_a_simulation_rate_used_for_a_while(rate, noise_m):
    flight = flown(CRUISE)
    end_s = 200 + 600 / rate
    stamps_s = np.arange(0.0, end_s + 1000.0)
    log = at_times(flight, np.interp(stamps_s, [0, 200, end_s, end_s + 1040], [0, 200, 800, 1840]))
    noise = noise_m / 100_000 * np.random.default_rng(0).standard_normal((2, len(stamps_s)))
    log = log.set(
        t_s=stamps_s, latitude_deg=log.latitude_deg + noise[0], longitude_deg=log.longitude_deg + noise[1]
    )

    (words,) = condition(log.track(groundspeed_kt=log.groundspeed_kt)).warnings

    assert words.startswith("From 10:03:")
    assert words.endswith(
        f"the positions move {rate:.1f} times as fast as the log's ground speed says: time runs slow there, as at a simulation "
        "rate other than 1, and its speeds are not real."
    )


def _speed_words(log, groundspeed_kt):
    return [
        words
        for words in condition(log.track(groundspeed_kt=groundspeed_kt)).warnings
        if "ground speed" in words
    ]


@pytest.mark.parametrize("interval_s", [1.0, 4.0])
def test_circling_is_no_other_clock(interval_s):
    """A glider in lift turns round within twenty seconds: from end to end of that it makes no way."""
    log = recorded(flown(((120, 0, 60, 0), (600, 16, 55, 300), (300, 0, 70, -300))), interval_s, noise_m=3.0)

    assert _speed_words(log, log.groundspeed_kt) == []


def test_a_hole_in_a_turn_is_no_other_clock():
    log = recorded(flown(((200, 0, 120, 0), (120, 3, 120, 0), (300, 0, 120, 0))), 5.0, noise_m=3.0)
    log = log.pick((log.t_s < 205.0) | (log.t_s > 305.0))

    assert _speed_words(log, log.groundspeed_kt) == []


def test_two_wrong_positions_where_a_sparse_log_begins_are_no_other_clock():
    log = recorded(flown(CRUISE), 10.0)
    log = log.moved(slice(0, 1), 450.0, 300.0).moved(slice(1, 2), 150.0, 100.0)

    assert _speed_words(log, log.groundspeed_kt) == []


def test_a_ground_speed_that_stands_still_while_the_aircraft_slows_down_is_no_other_clock():
    """As where a receiver hears no more of a landing than the position."""
    log = recorded(flown(((300, 0, 120, -500), (120, 0, 20, 0), (60, 0, 16, 0))), 1.0, noise_m=1.0)
    column = np.where(log.t_s < 300.0, log.groundspeed_kt, 120.0)

    (words,) = _speed_words(log, column)

    assert words.endswith(" now more, now less: one of the two is wrong there.")


def test_a_ground_speed_that_no_simulation_rate_explains():
    (words,) = _speed_words(LOG, LOG.groundspeed_kt * 12.0)

    assert words == (
        "The positions move 0.08 times as fast as the log's ground speed says: one of the two is wrong."
    )


def test_a_heading_that_stands_still():
    conditioned = condition(LOG.track(heading_true_deg=np.full(len(LOG.t_s), 40.0)))

    assert conditioned.warnings == (
        "The log's heading (true) stands still while the aircraft turns: do not trust it.",
    )
    assert conditioned.doubtful_columns == {"heading_true_deg"}


def test_a_heading_that_follows_nothing():
    heading = np.random.default_rng(0).uniform(0, 360, len(LOG.t_s))

    (words,) = condition(LOG.track(heading_mag_deg=heading)).warnings

    assert words.startswith("The log's heading (magnetic) does not follow the positions (it scatters by ")


def test_a_track_that_is_right_for_a_third_of_the_flight():
    """As where a number of too few digits ran over."""
    off_deg = np.where(np.arange(len(LOG.t_s)) % 3 == 0, 0.0, 104.0)

    (words,) = condition(LOG.track(ground_track_true_deg=(LOG.track_true_deg + off_deg) % 360)).warnings

    assert words.startswith("The log's ground track (true) does not follow the positions (it scatters by ")


@pytest.mark.parametrize("wind_kt", [0.0, 30.0])
def test_a_heading_from_the_other_north(wind_kt):
    drift = np.degrees(np.arcsin(wind_kt / 110 * np.sin(np.radians(290.0 - LOG.track_true_deg))))
    true = (LOG.track_true_deg + drift) % 360
    magnetic = (true - VARIATION_DEG) % 360

    assert (
        condition(LOG.track(heading_true_deg=magnetic))
        .warnings[0]
        .startswith("The log's heading is called true but is magnetic: it differs from the positions by +")
    )
    assert (
        condition(LOG.track(heading_mag_deg=true))
        .warnings[0]
        .startswith("The log's heading is called magnetic but is true: it differs from the positions by ")
    )


@pytest.mark.parametrize("wind_kt", [0.0, 30.0])
def test_a_heading_that_does_not_say_its_north_is_used_as_what_it_proves_to_be(wind_kt):
    """It was taken as true, found to be magnetic, and left out."""
    drift = np.degrees(np.arcsin(wind_kt / 110 * np.sin(np.radians(290.0 - LOG.track_true_deg))))
    true = (LOG.track_true_deg + drift) % 360
    magnetic = (true - VARIATION_DEG) % 360

    def conditioned(heading_deg):
        return condition(replace(LOG.track(heading_true_deg=heading_deg), heading_north_open=True))

    proved, right = conditioned(magnetic), conditioned(true)

    assert set(proved.track.columns) == {"heading_mag_deg"}
    assert np.array_equal(proved.track.columns["heading_mag_deg"], magnetic)
    assert proved.doubtful_columns == frozenset()
    (said,) = proved.warnings
    assert said.startswith("The log's heading does not say which north: it differs from the positions by +")
    assert said.endswith("so it was used as magnetic.")
    assert set(right.track.columns) == {"heading_true_deg"}
    assert not right.warnings
    # off by something else, or flown one way only, it proves nothing
    assert set(conditioned((magnetic + 7.0) % 360).track.columns) == {"heading_true_deg"}
    straight = np.abs(np.diff(LOG.track_true_deg, prepend=LOG.track_true_deg[0])) < 0.1
    one_way = np.where(
        straight & (np.abs(LOG.track_true_deg - LOG.track_true_deg[0]) < 5.0), magnetic, np.nan
    )
    assert set(conditioned(one_way).track.columns) == {"heading_true_deg"}


def test_a_ground_track_that_is_magnetic():
    conditioned = condition(LOG.track(ground_track_true_deg=(LOG.track_true_deg - VARIATION_DEG) % 360))

    assert conditioned.warnings == (
        (
            "The log's ground track is called true but is magnetic: it differs from the positions by +10 degrees, and the variation "
            "here is -10 (east positive)."
        ),
    )


def test_a_heading_off_by_something_else():
    conditioned = condition(LOG.track(heading_true_deg=(LOG.track_true_deg + 40.0) % 360))

    assert conditioned.warnings == (
        "The log's heading (true) differs from the direction of the positions by +40 degrees throughout: do not trust it.",
    )


def test_drift_on_one_course_alone_is_no_fault():
    """Thirty degrees of drift on a straight flight may be wind: nothing is said."""
    log = recorded(flown(((600, 0, 90, 0),)), 1.0, noise_m=2.0)

    assert condition(log.track(heading_true_deg=log.track_true_deg + 30.0)).warnings == ()
