"""Conditioning as a whole: honest logs raise no alarm, raw samples stay, a flight with every fault is survived."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, CRUISE, HOLDING, at_times, bridged, flown, recorded

FLIGHTS = {
    "approach": flown(APPROACH),
    "holding": flown(HOLDING),
    "cruise": flown(CRUISE),
    "antimeridian": flown(APPROACH, latitude_deg=-17.0, longitude_deg=179.95),
    "high latitude": flown(APPROACH, latitude_deg=-70.0, longitude_deg=10.0),
}
INTERVALS_S = (0.1, 0.2, 1.0, 2.0, 5.0, 10.0, 15.0)


@pytest.mark.parametrize("flight", FLIGHTS)
@pytest.mark.parametrize("interval_s", INTERVALS_S)
@pytest.mark.parametrize(("noise_m", "decimals"), [(0.0, 7), (0.0, 5), (3.0, 6), (15.0, 5)])
def test_an_honest_log_raises_no_alarm(flight, interval_s, noise_m, decimals):
    log = recorded(FLIGHTS[flight], interval_s, noise_m=noise_m, decimals=decimals, altitude_noise_ft=noise_m)

    conditioned = condition(log.track())

    assert conditioned.warnings == ()
    assert set(conditioned.set_aside) == {""}
    assert conditioned.gaps == ()
    assert conditioned.order.tolist() == list(range(len(log.t_s)))
    assert not conditioned.segment.any()
    assert conditioned.altitude_used.all()
    assert conditioned.median_interval_s == pytest.approx(interval_s, abs=1e-6)


@pytest.mark.parametrize("flight", FLIGHTS)
@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
@pytest.mark.parametrize("noise_m", [0.0, 5.0])
def test_stamps_that_jitter_by_a_second_cost_no_sample(flight, interval_s, noise_m):
    log = recorded(FLIGHTS[flight], interval_s, noise_m=noise_m, jitter_s=1.0, seed=3)

    conditioned = condition(log.track())

    assert set(conditioned.set_aside) == {""}
    assert conditioned.gaps == ()


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
@pytest.mark.parametrize("noise_m", [0.0, 4.0])
def test_parking_and_taxiing_are_no_fault(interval_s, noise_m):
    parked = (
        (90, 0, 0, 0),
        (40, 2, 10, 0),
        (60, -3, 12, 0),
        (30, 0, 0, 0),
        (25, 0, 55, 0),
        (60, 0, 100, 700),
    )
    home = ((20, 0, 40, -100), (15, 0, 5, 0), (30, 4, 10, 0), (200, 0, 0, 0))
    log = recorded(flown(parked + APPROACH + home), interval_s, noise_m=noise_m)

    conditioned = condition(log.track())

    assert conditioned.warnings == ()
    assert set(conditioned.set_aside) == {""}


@pytest.mark.parametrize(
    "legs",
    [
        ((120, 0, 450, 0), (60, 3, 450, 0), (120, 0, 250, 0)),
        ((60, 0, 10, 0), (60, 0, 140, 1000), (600, 0, 460, 0), (300, 1, 250, -1500), (60, 0, 15, 0)),
        ((30, 0, 120, 0), (20, 18, 100, 0), (30, 0, 120, 3000), (20, -18, 100, -3000), (60, 0, 120, 0)),
        ((120, 0, 90, 0), (60, 0, 3, 0), (120, 0, 90, 0)),
    ],
    ids=["fast", "airliner", "aerobatics", "hover"],
)
def test_other_kinds_of_flying_are_no_fault(legs):
    conditioned = condition(recorded(flown(legs, altitude_ft=9000.0), 1.0, noise_m=3.0).track())

    assert conditioned.warnings == ()
    assert set(conditioned.set_aside) == {""}


def test_smart_recording_is_no_fault():
    """Intervals between 1 and 8 s at the recorder's choice."""
    steps_s = np.random.default_rng(5).choice([1.0, 2.0, 3.0, 5.0, 8.0], 180)
    conditioned = condition(at_times(FLIGHTS["approach"], np.cumsum(steps_s)).track())

    assert conditioned.warnings == ()


def test_raw_samples_stay_as_they_were():
    log = recorded(FLIGHTS["approach"], 1.0, noise_m=3.0).moved(np.array([100, 300]), 9000.0, 0.0)
    track = log.pick(np.r_[0:200, 150:695]).track()
    before = [a.tobytes() for a in (track.t_s, track.latitude_deg, track.longitude_deg, track.altitude_ft)]

    condition(track, altitude_offset_ft=-120.0, qnh_hpa=1003.0)

    assert [
        a.tobytes() for a in (track.t_s, track.latitude_deg, track.longitude_deg, track.altitude_ft)
    ] == before


def test_a_log_with_every_fault_keeps_the_flight():
    """Jitter, a third repeated, spikes, a bridge, doubled and swapped samples, 25 ft steps, zeros: all at once."""
    random = np.random.default_rng(8)
    true = flown(APPROACH)
    log = bridged(recorded(true, 1.0, noise_m=4.0, jitter_s=0.8, altitude_noise_ft=3.0), 330, 420)
    count = len(log.t_s)
    stale = random.random(count) < 1 / 3
    stale[0] = stale[330:421] = False
    held = np.maximum.accumulate(np.where(stale, 0, np.arange(count)))
    log = log.set(latitude_deg=log.latitude_deg[held], longitude_deg=log.longitude_deg[held])
    log = log.moved(np.array([50, 150, 500, 600]), 6000.0, -4000.0)
    altitude_ft = np.round((log.altitude_ft + 170.0) / 25.0) * 25.0
    altitude_ft[:40] = 0.0
    altitude_ft[[250, 550]] += 4000.0
    log = log.set(altitude_ft=altitude_ft).pick(np.r_[0:100, 101, 100, 102:count, 620:640])

    conditioned = condition(log.track())

    used = conditioned.order
    raw = conditioned.track
    latitude = np.interp(conditioned.t_s, true.t_s, true.latitude_deg)
    longitude = np.interp(conditioned.t_s, true.t_s, true.longitude_deg)
    off_m = np.hypot(
        (raw.latitude_deg[used] - latitude) * 111_000, (raw.longitude_deg[used] - longitude) * 75_900
    )
    assert off_m.max() < 90.0  # a second and a half at 120 kt
    assert len(used) > 0.5 * count
    assert [gap.reason for gap in conditioned.gaps] == ["bridged"]
    assert set(conditioned.set_aside) == {"", "doubled", "repeated position", "spike", "bridged"}
    assert conditioned.altitude_source == "pressure"
    good_ft = conditioned.altitude_ft[conditioned.altitude_used]
    assert (
        np.abs(
            good_ft
            - 170.0
            - np.interp(conditioned.t_s, true.t_s, true.altitude_ft)[conditioned.altitude_used]
        ).max()
        < 60.0
    )
    for word in (
        "out of order",
        "doubled",
        "repeat the position",
        "far off the flight",
        "straight line",
        "steps of 25",
    ):
        assert any(word in text for text in conditioned.warnings), word


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (1, "flight.csv: only 1 sample can be used. A debrief needs a track: export the whole flight."),
        (2, "flight.csv: only 2 samples can be used. A debrief needs a track: export the whole flight."),
        (9, "flight.csv: only 9 samples can be used. A debrief needs a track: export the whole flight."),
    ],
)
def test_too_few_samples_are_refused(count, text):
    with pytest.raises(TrackError) as error:
        condition(recorded(FLIGHTS["approach"], 1.0).pick(slice(0, count)).track())

    assert str(error.value) == text


def test_ten_samples_are_enough():
    assert len(condition(recorded(FLIGHTS["approach"], 1.0).pick(slice(0, 10)).track()).order) == 10


def test_one_sample_written_fifty_times_is_refused():
    with pytest.raises(TrackError) as error:
        condition(recorded(FLIGHTS["approach"], 1.0).pick(np.zeros(50, dtype=int)).track())

    assert str(error.value) == (
        "flight.csv: only 1 sample of 50 can be used (49 doubled). A debrief needs a track: export the whole flight."
    )


def test_positions_that_are_no_flight_are_refused():
    random = np.random.default_rng(0)
    log = recorded(FLIGHTS["approach"], 1.0)
    scattered = log.set(latitude_deg=random.uniform(40, 60, 695), longitude_deg=random.uniform(-50, 0, 695))

    with pytest.raises(
        TrackError, match=r"^flight\.csv: the positions are no flight: \d+ of 695 are out of reach of the"
    ) as error:
        condition(scattered.track())

    assert str(error.value).endswith("Check which columns were taken for latitude, longitude and time.")


def test_an_aircraft_parked_throughout_is_a_log():
    log = recorded(FLIGHTS["approach"], 1.0).pick(np.zeros(50, dtype=int)).set(t_s=np.arange(50.0))

    conditioned = condition(log.track())

    assert conditioned.warnings == ()
    assert len(conditioned.order) == 50


@given(
    seed=st.integers(0, 10_000),
    interval_s=st.sampled_from([0.2, 1.0, 5.0]),
    drop=st.floats(0.0, 0.5),
    twice=st.floats(0.0, 0.3),
)
def test_any_subset_in_any_order_gives_times_that_rise(seed, interval_s, drop, twice):
    random = np.random.default_rng(seed)
    log = recorded(FLIGHTS["approach"], interval_s, noise_m=5.0)
    count = len(log.t_s)
    index = np.nonzero(random.random(count) > drop)[0]
    index = np.concatenate([index, index[random.random(len(index)) < twice]])
    random.shuffle(index)

    conditioned = condition(log.pick(index).track())

    assert (np.diff(conditioned.t_s) > 0).all()
    assert np.unique(conditioned.order).size == conditioned.order.size
    used = set(conditioned.order.tolist())
    assert [reason == "" for reason in conditioned.set_aside] == [i in used for i in range(len(index))]
    assert (
        len(conditioned.altitude_ft)
        == len(conditioned.altitude_used)
        == len(conditioned.segment)
        == len(conditioned.order)
    )
    assert conditioned.segment[-1] == len(conditioned.gaps)
    assert (np.diff(conditioned.segment) >= 0).all()


@pytest.mark.parametrize("shift_s", [0.0, 86_400.0, 1e6])
def test_nothing_depends_on_the_hour(shift_s):
    log = bridged(recorded(FLIGHTS["approach"], 1.0, noise_m=3.0), 200, 320).moved(
        np.array([90]), 0.0, 9000.0
    )

    conditioned = condition(log.set(t_s=log.t_s + shift_s).track())

    assert [(gap.start_s - shift_s, gap.end_s - shift_s, gap.reason) for gap in conditioned.gaps] == [
        (gap.start_s, gap.end_s, gap.reason) for gap in condition(log.track()).gaps
    ]


def test_samples_too_far_apart_to_see_a_turn_are_refused():
    log = recorded(FLIGHTS["cruise"], 1.0)

    with pytest.raises(TrackError) as error:
        condition(log.set(t_s=log.t_s * 61.0).track())

    assert str(error.value) == (
        "flight.csv: its samples are 1 min 1 s apart, too far to see a turn. "
        "Record at least every 15 s, or check the times: 60 s is the limit."
    )
