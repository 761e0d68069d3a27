"""Altitude: what cannot be used, what kind it is, the landing that measures it, corrections asked for. Whole texts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.tracks.altitude import altitude_step_ft
from debrief.tracks.conditioning import condition, sift
from debrief.tracks.landing import RunwayPlace, on_runway
from tests.tracks.flights import APPROACH, Log, flown, recorded

#: A descent of 3 degrees at 90 kt to a runway at 417 ft, a roll of 20 s, and 45 s on the runway.
TO_THE_RUNWAY = (
    (120, 0, 120, 0),
    (20, 3, 120, 0),
    (60, 0, 120, 0),
    (60, 3, 110, 0),
    (60, 0, 100, -300),
    (300, 0, 90, -480),
    (6, 0, 70, 0),
    (14, 0, 40, 0),
    (15, 0, 12, 0),
    (30, 0, 3, 0),
)
LANDING = flown(TO_THE_RUNWAY, altitude_ft=417.0 + 300.0 + 300 * 480 / 60)
TOUCHDOWN = int(np.searchsorted(LANDING.t_s, 622.0))
RUNWAY = RunwayPlace(
    latitude_deg=float(LANDING.latitude_deg[TOUCHDOWN]),
    longitude_deg=float(LANDING.longitude_deg[TOUCHDOWN]),
    elevation_ft=417.0,
    course_true_deg=float(LANDING.track_true_deg[TOUCHDOWN]),
)
GPS_FT = 13.0 / 0.3048


def landing(interval_s: float = 1.0, noise_ft: float = 0.0) -> Log:
    return recorded(LANDING, interval_s, noise_m=2.0, altitude_noise_ft=noise_ft)


def with_altitude(log: Log, altitude_ft: np.ndarray) -> Log:
    return log.set(altitude_ft=altitude_ft)


def test_the_generator_lands_where_the_runway_is():
    assert LANDING.altitude_ft[-1] == pytest.approx(417.0, abs=0.5)


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("noise_ft", [0.0, 10.0])
def test_a_good_altitude_is_said_nothing_about(interval_s, noise_ft):
    conditioned = condition(landing(interval_s, noise_ft).track(source="gps"), runway=RUNWAY)

    assert conditioned.warnings == ()
    assert conditioned.altitude_used.all()
    assert conditioned.altitude_offset_ft == pytest.approx(0.0, abs=12.0)
    # half the variance of 13 m (21.3 ft) is constant; the landing shows it but for the wander (15.1 ft) and the runway
    # (10 ft), which leaves 11.6 ft of it beside the wander
    assert conditioned.altitude_uncertainty_ft == pytest.approx(2.0 * math.hypot(11.6, 15.1), abs=3.0)


def test_without_a_landing_the_uncertainty_is_that_of_the_source():
    """GPS: 13 m at 95 %, GPS SPS Performance Standard, 5th edition, April 2020, Table 3.8-3. Mark: seen (2nd hand)."""
    log = recorded(flown(APPROACH), 1.0)

    assert condition(log.track(source="gps"), runway=RUNWAY).altitude_offset_ft is None
    assert condition(log.track(source="gps")).altitude_uncertainty_ft == pytest.approx(GPS_FT, abs=0.01)
    assert condition(log.track(source="unknown")).altitude_uncertainty_ft == pytest.approx(GPS_FT, abs=0.01)
    assert condition(log.track(source="indicated")).altitude_uncertainty_ft == pytest.approx(10.0, abs=0.01)
    assert condition(log.track(source="pressure")).altitude_uncertainty_ft == pytest.approx(600.0, abs=0.01)


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("offset_ft", [-310.0, 150.0, 480.0])
def test_the_landing_measures_the_offset_and_nothing_is_corrected(interval_s, offset_ft):
    log = landing(interval_s, 5.0)

    conditioned = condition(
        with_altitude(log, log.altitude_ft + offset_ft).track(source="gps"), runway=RUNWAY
    )

    assert conditioned.altitude_offset_ft == pytest.approx(offset_ft, abs=8.0)
    assert conditioned.altitude_ft.tolist() == (log.altitude_ft + offset_ft).tolist()
    assert conditioned.altitude_uncertainty_ft >= abs(offset_ft)


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_a_log_that_ends_soon_after_a_landing_beside_the_runways_line_measures_it_too(interval_s):
    """Ten slow seconds, 70 m beside the line that the runway's coordinates give: two samples of a sparse log."""
    log = recorded(flown((*TO_THE_RUNWAY[:-2], (10, 0, 20, 0)), altitude_ft=3117.0), interval_s)
    aside_rad = math.radians(RUNWAY.course_true_deg + 90.0)
    beside = log.moved(slice(None), 70.0 * math.sin(aside_rad), 70.0 * math.cos(aside_rad))

    conditioned = condition(
        with_altitude(beside, beside.altitude_ft + 150.0).track(source="gps"), runway=RUNWAY
    )

    assert conditioned.altitude_offset_ft == pytest.approx(150.0, abs=1.0)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_log_that_ends_while_the_aircraft_still_brakes_measures_it_however_often_it_is_recorded(interval_s):
    """Six seconds below 35 kt: a log of every five seconds has one sample of them, and those that were braked before it."""
    log = recorded(flown((*TO_THE_RUNWAY[:-2], (7, 0, 25, 0)), altitude_ft=3117.0), interval_s)
    high = with_altitude(log, log.altitude_ft + 150.0)

    assert condition(high.track(source="gps"), runway=RUNWAY).altitude_offset_ft == pytest.approx(
        150.0, abs=1.0
    )


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_a_low_pass_after_a_landing_leaves_the_landing(interval_s):
    """It braked from 70 kt to 50 over the runway and flew on: that is no roll, and the one before it counts."""
    parts = (*TO_THE_RUNWAY, (40, 0, 60, 0), (90, 4, 90, 300), (90, 0, 70, 0))
    log = recorded(flown(parts, altitude_ft=3117.0), interval_s)

    conditioned = condition(with_altitude(log, log.altitude_ft - 90.0).track(source="gps"), runway=RUNWAY)

    assert conditioned.altitude_offset_ft == pytest.approx(-90.0, abs=1.0)


@pytest.mark.parametrize(("interval_s", "samples"), [(0.2, 180), (1.0, 36), (5.0, 7)])
def test_the_reading_on_the_runway_is_the_noisier_the_fewer_samples_it_has(interval_s, samples):
    """45 s slower than 35 kt, but for the first of them: the mean of n samples is off by 25 ft / sqrt(n)."""
    points = sift(landing(interval_s, noise_ft=25.0).track(source="gps")).points

    found = on_runway(points, points.track.altitude_ft, np.ones(len(points), dtype=np.bool_), RUNWAY)

    assert found is not None
    assert found.noise_ft == pytest.approx(25.0 / math.sqrt(samples), rel=0.25)


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_steps_that_flicker_on_the_runway_are_level(interval_s):
    """Noise of 25 ft about 425 ft, in steps of 100 ft: it shows 400, and 500 once in six."""
    log = landing(interval_s, noise_ft=25.0)
    stepped = with_altitude(log, np.round((log.altitude_ft + 8.0) / 100.0) * 100.0)

    assert condition(stepped.track(source="gps"), runway=RUNWAY).altitude_offset_ft is not None


def test_the_words_for_an_offset():
    log = landing()
    high = with_altitude(log, log.altitude_ft + 150.0)

    assert condition(high.track(source="gps"), runway=RUNWAY).warnings == (
        (
            "On the runway at 10:10:39 UTC the log shows 567 ft, where the runway is at 417 ft: it reads 150 ft too high, as heights "
            "above the ellipsoid or another altimeter setting do. It is not taken out; to do so run again with "
            "--altitude-offset-ft -150."
        ),
    )


def test_an_offset_asked_for_is_added_and_makes_the_altitude_certain():
    log = landing()

    conditioned = condition(
        with_altitude(log, log.altitude_ft + 150.0).track(source="gps"),
        runway=RUNWAY,
        altitude_offset_ft=-150.0,
    )

    assert conditioned.altitude_ft.tolist() == pytest.approx(log.altitude_ft.tolist(), abs=1e-6)
    assert conditioned.altitude_offset_ft == pytest.approx(150.0, abs=1.0)
    assert conditioned.altitude_uncertainty_ft == pytest.approx(2.0 * math.hypot(11.6, 15.1), abs=1.0)
    assert conditioned.warnings == ("-150 ft were added to every altitude, as asked.",)


def test_a_low_pass_is_no_landing():
    """Level over the runway at 60 kt and 300 ft above it, into a wind."""
    legs = (*TO_THE_RUNWAY[:5], (263, 0, 90, -480), (70, 0, 60, 0), (60, 0, 80, 700))
    log = recorded(flown(legs, altitude_ft=3117.0), 1.0)

    assert condition(log.track(), runway=RUNWAY).altitude_offset_ft is None


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("step_ft", [25.0, 100.0])
def test_transponder_steps_mean_pressure_altitude(interval_s, step_ft):
    log = landing(interval_s)
    rounded = with_altitude(log, np.round((log.altitude_ft + 180.0) / step_ft) * step_ft)

    conditioned = condition(rounded.track(source="gps"))

    assert conditioned.altitude_source == "pressure"
    # a rounding is anything within half a step: its square adds
    rounding_ft = step_ft / math.sqrt(12.0)
    assert conditioned.altitude_uncertainty_ft == pytest.approx(2.0 * math.hypot(300.0, rounding_ft), abs=0.1)
    assert conditioned.altitude_used.all()
    assert conditioned.warnings == (
        (
            f"Altitude comes in steps of {step_ft:.0f} ft, as a transponder reports pressure altitude, and is taken as that. It "
            "differs from altitude above the sea by the day's pressure; give the QNH to correct it."
        ),
    )


def test_steps_written_in_whole_metres_are_still_seen():
    log = landing()
    steps = np.round((log.altitude_ft + 180.0) / 100.0) * 100.0

    assert (
        condition(with_altitude(log, np.round(steps * 0.3048) / 0.3048).track()).altitude_source == "pressure"
    )


@pytest.mark.parametrize("step_ft", [1.0, 10.0, 25.0, 50.0, 100.0, 1 / 0.3048])
def test_steps(step_ft):
    climb_ft = np.arange(1000.0, 4000.0, 7.3)

    assert altitude_step_ft(np.round(climb_ft / step_ft) * step_ft) == pytest.approx(step_ft, abs=1e-6)
    assert altitude_step_ft(climb_ft) == 0.0


@pytest.mark.parametrize(
    ("step_ft", "interval_s"), [(25.0, 0.5), (25.0, 1.0), (100.0, 0.5), (100.0, 1.0), (100.0, 2.0)]
)
def test_steps_are_seen_in_a_log_drawn_at_times_between_theirs(step_ft, interval_s):
    """Altitudes a second apart, in steps, and a recorder that draws lines between them: some lie between two steps."""
    flown_s = np.arange(0.0, 900.0)
    stepped_ft = (
        np.round(np.interp(flown_s, [0, 400, 760, 900], [4000, 4000, 1000, 1000]) / step_ft) * step_ft
    )
    drawn_ft = np.interp(np.arange(0.3, 899.0, interval_s), flown_s, stepped_ft)

    assert altitude_step_ft(drawn_ft) == step_ft


def test_an_even_climb_that_takes_one_step_a_sample_is_not_rounded():
    """500 ft/min every 3 s is 25 ft a sample."""
    log = recorded(flown(((60, 0, 100, 0), (200, 0, 100, 500), (60, 0, 100, 0)), altitude_ft=3000.0), 3.0)

    assert condition(log.track()).altitude_source == "unknown"


def test_other_coarse_steps_are_said():
    log = landing()
    coarse = with_altitude(log, np.round(log.altitude_ft * 0.03048) / 0.03048)

    assert condition(coarse.track(source="gps")).warnings == (
        "Altitude comes in steps of 33 ft: limits are judged no finer than that.",
    )


def test_a_qnh_makes_pressure_altitude_indicated():
    """3,000 ft of pressure altitude at 1000 hPa is 2,636.2 ft: ICAO Doc 7488. Mark: computed."""
    log = landing()
    conditioned = condition(with_altitude(log, np.full(685, 3000.0)).track(source="pressure"), qnh_hpa=1000.0)

    assert conditioned.altitude_source == "indicated"
    assert conditioned.altitude_ft == pytest.approx(np.full(685, 2636.2), abs=0.1)
    assert conditioned.warnings == (
        "QNH 1000 hPa was applied to the log's altitude, taken as pressure altitude, as asked.",
    )


def test_a_qnh_takes_the_pressure_column_first():
    log = landing()
    track = log.track(source="gps", pressure_altitude_ft=np.full(685, 3000.0))

    conditioned = condition(track, qnh_hpa=1000.0)

    assert conditioned.altitude_ft == pytest.approx(np.full(685, 2636.2), abs=0.1)
    assert conditioned.warnings == ("QNH 1000 hPa was applied to the log's pressure altitude as asked.",)


def test_an_altitude_equal_to_its_pressure_altitude():
    log = landing()

    conditioned = condition(log.track(source="gps", pressure_altitude_ft=log.altitude_ft))

    assert conditioned.altitude_source == "pressure"
    assert conditioned.warnings == (
        (
            "The log's altitude is the same as its pressure altitude. It differs from altitude above the sea by the day's pressure; "
            "give the QNH to correct it."
        ),
    )
    assert condition(log.track(source="gps", pressure_altitude_ft=log.altitude_ft + 90.0)).warnings == ()


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("with_runway", [True, False])
def test_zeros_on_the_ground_are_left_out(interval_s, with_runway):
    log = landing(interval_s)
    ground = log.t_s > LANDING.t_s[-1] - 60.0

    conditioned = condition(
        with_altitude(log, np.where(ground, 0.0, log.altitude_ft)).track(),
        runway=RUNWAY if with_runway else None,
    )

    assert conditioned.altitude_used.tolist() == (~ground).tolist()
    assert conditioned.altitude_offset_ft is None


def test_the_words_for_zeros():
    log = landing()

    assert condition(
        with_altitude(log, np.where(log.t_s > 640.0, 0.0, log.altitude_ft)).track()
    ).warnings == (
        (
            "Altitude is 0 in 44 samples, the first at 10:10:41 UTC (line 643), where the aircraft cannot have been at sea level: those "
            "altitudes are left out."
        ),
    )


def test_zeros_in_flight_are_left_out_though_the_flight_began_at_the_sea():
    legs = ((60, 0, 0, 0), (30, 0, 60, 60), (200, 0, 100, 600))
    log = recorded(flown(legs, altitude_ft=0.0), 1.0)
    altitude_ft = log.altitude_ft.copy()
    altitude_ft[200:210] = 0.0

    conditioned = condition(with_altitude(log, altitude_ft).track())

    assert np.nonzero(~conditioned.altitude_used)[0].tolist() == list(range(200, 210))


def test_an_aerodrome_at_sea_level_is_at_zero():
    legs = ((60, 0, 0, 0), (30, 0, 60, 60), (200, 0, 100, 600))

    assert condition(recorded(flown(legs, altitude_ft=0.0), 1.0).track()).altitude_used.all()


@pytest.mark.parametrize(
    ("value", "what"), [(np.nan, "has no altitude"), (0.0, "gives altitude 0 throughout")]
)
def test_no_altitude_at_all(value, what):
    conditioned = condition(with_altitude(landing(), np.full(685, value)).track(), runway=RUNWAY)

    assert not conditioned.altitude_used.any()
    assert conditioned.warnings == (f"The log {what}: heights, descent and minimum cannot be judged.",)


def test_missing_altitudes():
    log = landing()

    conditioned = condition(with_altitude(log, np.where(log.t_s > 640.0, np.nan, log.altitude_ft)).track())

    assert conditioned.altitude_used.sum() == 641
    assert conditioned.warnings == (
        "44 samples (6 %) without an altitude, the first at 10:10:41 UTC (line 643).",
    )


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("noise_ft", [0.0, 10.0])
@pytest.mark.parametrize("off_ft", [-2500.0, 800.0, 5000.0])
def test_single_wild_altitudes_are_found_exactly(interval_s, noise_ft, off_ft):
    log = landing(interval_s, noise_ft)
    wild = np.sort(np.random.default_rng(1).choice(np.arange(4, len(log.t_s) - 4, 4), 5, replace=False))
    altitude_ft = log.altitude_ft.copy()
    altitude_ft[wild] += off_ft

    conditioned = condition(with_altitude(log, altitude_ft).track())

    assert np.nonzero(~conditioned.altitude_used)[0].tolist() == wild.tolist()
    assert len(conditioned.order) == len(log.t_s)


@pytest.mark.parametrize("away", [slice(0, 1), slice(684, 685), slice(300, 304), slice(300, 320)])
def test_wild_altitudes_at_the_ends_and_in_runs(away):
    log = landing()
    altitude_ft = log.altitude_ft.copy()
    altitude_ft[away] += 4000.0

    conditioned = condition(with_altitude(log, altitude_ft).track())

    assert np.nonzero(~conditioned.altitude_used)[0].tolist() == list(range(685))[away]


def test_the_words_for_wild_altitudes():
    altitude_ft = landing().altitude_ft.copy()
    altitude_ft[[50, 60]] = [9117.0, 6117.0]

    assert condition(with_altitude(landing(), altitude_ft).track()).warnings == (
        "2 altitudes far off the flight, the worst at 10:00:50 UTC (line 52): 9,117 ft where about 3,117 ft were flown; left out.",
    )


def test_values_that_stand_for_nothing_are_left_out():
    altitude_ft = landing().altitude_ft.copy()
    altitude_ft[100:140] = -9999.0

    assert not condition(with_altitude(landing(), altitude_ft).track()).altitude_used[100:140].any()


def test_an_altimeter_set_anew_is_said_and_used():
    log = landing()

    conditioned = condition(
        with_altitude(log, np.where(log.t_s >= 200.0, log.altitude_ft + 700.0, log.altitude_ft)).track()
    )

    assert conditioned.altitude_used.all()
    assert conditioned.warnings == (
        (
            "The altitude jumps by +700 ft at 10:03:20 UTC (line 202) and stays there, as when an altimeter is set anew, another "
            "source takes over or a hole is filled."
        ),
    )


@pytest.mark.parametrize("part", [slice(-50, None), slice(None, 60), slice(150, 200)])
def test_a_source_that_breaks_and_stays_at_another_altitude_is_left_out(part):
    """No setting of an altimeter makes 36,000 ft of nothing; it spoilt the mean, the greatest and the pictures."""
    log = landing()
    altitude_ft = log.altitude_ft.copy()
    altitude_ft[part] = 36_000.0

    conditioned = condition(with_altitude(log, altitude_ft).track())

    left_out = np.zeros(len(log.t_s), dtype=bool)
    left_out[part] = True
    assert (conditioned.altitude_used == ~left_out).all()
    assert not any("set anew" in warning for warning in conditioned.warnings)


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("noise_ft", [0.0, 8.0])
def test_metres_taken_as_feet_are_proved_by_a_landing(interval_s, noise_ft):
    log = landing(interval_s, noise_ft)

    conditioned = condition(with_altitude(log, log.altitude_ft * 0.3048).track(), runway=RUNWAY)

    assert conditioned.warnings[-1].startswith(
        "The altitudes are metres taken as feet: on the runway, at 417 ft, the log shows 12"
    )
    assert conditioned.warnings[-1].endswith("degrees steep. Run again with --units-altitude m.")
    # nothing may be held against a pilot by such altitudes: the highest is 2,167 ft off
    assert conditioned.altitude_uncertainty_ft > 2100.0


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
def test_feet_taken_as_metres_are_proved_by_a_landing(interval_s):
    log = landing(interval_s)

    conditioned = condition(with_altitude(log, log.altitude_ft / 0.3048).track(), runway=RUNWAY)

    assert conditioned.warnings[-1].startswith(
        "The altitudes are feet taken as metres: on the runway, at 417 ft, the log shows 1368"
    )
    assert conditioned.warnings[-1].endswith("Run again with --units-altitude ft.")


def test_metres_are_proved_by_other_columns():
    log = landing()
    metres = with_altitude(log, log.altitude_ft * 0.3048)

    assert condition(metres.track(vertical_speed_ft_min=log.climb_ft_min)).warnings == (
        (
            "The altitudes are metres taken as feet: they change 0.30 times as fast as the log's vertical speed says. Run again with "
            "--units-altitude m."
        ),
    )
    assert condition(metres.track(pressure_altitude_ft=log.altitude_ft + 100.0)).warnings == (
        (
            "The altitudes are metres taken as feet: they change 0.30 times as much as the log's pressure altitude. Run again with "
            "--units-altitude m."
        ),
    )


def test_slopes_alone_are_only_a_hint():
    log = landing()

    assert condition(with_altitude(log, log.altitude_ft / 0.3048).track()).warnings == (
        "Descents are 10 degrees steep: the altitudes may be feet taken as metres. If so, run again with --units-altitude ft.",
    )
    assert condition(with_altitude(log, log.altitude_ft * 0.3048).track()).warnings == (
        (
            "No descent is steeper than 0.9 degrees: the altitudes may be metres taken as feet. If so, run again with "
            "--units-altitude m."
        ),
    )


def test_a_descent_of_an_airliner_is_not_in_metres():
    """Flat, and in metres it would begin above 100,000 ft."""
    log = recorded(flown(((300, 0, 450, 0), (600, 0, 450, -700)), altitude_ft=36_000.0), 1.0)

    assert condition(log.track()).warnings == ()


def test_a_column_of_climbs_that_the_altitudes_do_not_follow_proves_no_unit():
    """A level flight in rough air, whose instrument jumps about: what its few climbs come to is chance."""
    log = recorded(flown(((1200, 0, 100, 0),)), 1.0)
    random = np.random.default_rng(5)
    altitude_ft = log.altitude_ft + 40.0 * np.sin(log.t_s / 25.0)
    climb_ft_min = 8.0 * 96.0 * np.cos(log.t_s / 25.0) * random.uniform(0.0, 1.0, len(log.t_s))

    assert condition(with_altitude(log, altitude_ft).track(vertical_speed_ft_min=climb_ft_min)).warnings == ()


@pytest.mark.parametrize("unheard_s", [6.0, 17.0, 40.0])
def test_a_line_drawn_to_zeros_on_the_ground_is_left_out_with_them(unheard_s):
    """A grid of 5 s between the last altitude received in the air and the first 0 on the ground."""
    log = landing()
    heard = (log.t_s < 615.0) | (log.t_s > 615.0 + unheard_s)
    altitude_ft = np.where(log.t_s > 615.0, 0.0, log.altitude_ft)
    at_s = np.arange(0.0, log.t_s[-1], 5.0)
    grid = log.pick(np.arange(0, 5 * len(at_s), 5)).set(
        altitude_ft=np.interp(at_s, log.t_s[heard], altitude_ft[heard])
    )

    conditioned = condition(grid.track(), runway=RUNWAY)

    # the last altitude received is itself on the line that begins with it
    assert grid.t_s[conditioned.altitude_used].max() in (610.0, 615.0)
    assert any("drawn straight down" in words for words in conditioned.warnings)


def test_a_flare_to_a_runway_at_the_sea_is_no_line_drawn_to_zero():
    legs = ((120, 0, 100, -300), (60, 0, 90, -500), (8, 0, 80, -120), (60, 0, 20, 0))
    log = recorded(flown(legs, altitude_ft=600.0 + 500.0 + 16.0), 1.0)
    log = with_altitude(log, np.maximum(0.0, np.round(log.altitude_ft)))

    assert condition(log.track(), runway=replace(RUNWAY, elevation_ft=40.0)).altitude_used.all()
