"""Parts lifted within some seconds in logs without columns, and the climbs and pulls of honest flights."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs import signs_of
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import written

T_S = np.arange(0.0, 1200.0, 1.0)
DESCENT_FT = np.interp(T_S, [200.0, 500.0, 620.0, 760.0, 960.0], [4000.0, 1500.0, 1500.0, 600.0, 2600.0])


def flown(altitude_ft: Floats, speed_m_s: Floats | float = 52.0) -> Track:
    """Straight on, as a simulator writes it."""
    north_m = np.cumsum(np.broadcast_to(speed_m_s, T_S.shape))
    longitude_deg = np.full(len(T_S), 11.0)
    return written(T_S, np.round(48.0 + north_m / 111_195.0, 6), longitude_deg, np.round(altitude_ft))


def eased(start_s: float, end_s: float, over_s: float) -> Floats:
    share = np.clip(np.minimum(T_S - start_s, end_s - T_S) / over_s, 0.0, 1.0)
    return np.asarray((1.0 - np.cos(np.pi * share)) / 2.0)


def lifts(track: Track) -> list[str]:
    flags = signs_of(track, None, None)
    return [f.evidence for f in flags if f.sign == "altitude_disagrees" and f.strength >= TO_EXAMINER]


@pytest.mark.parametrize("over_s", [8.0, 12.0])
def test_a_part_lifted_in_a_descent_and_let_down_again_is_found(over_s: float) -> None:
    (evidence,) = lifts(flown(DESCENT_FT + 300.0 * eased(700.0, 850.0, over_s)))

    lift_ft, back_ft = (float(part.split(" ft")[0]) for part in evidence.split("by ")[1:])
    assert lift_ft == pytest.approx(300.0, abs=45.0)
    assert back_ft == pytest.approx(-300.0, abs=45.0)


@pytest.mark.parametrize("over_s", [4.0, 6.0])
def test_a_lift_of_a_hundred_feet_within_some_seconds_is_found(over_s: float) -> None:
    """As much as turns a failed altitude into a passed one."""
    (evidence,) = lifts(flown(DESCENT_FT + 100.0 * eased(680.0, 740.0, over_s)))

    assert float(evidence.split(" by ")[1].split(" ft")[0]) == pytest.approx(100.0, abs=20.0)


def test_a_pull_and_a_push_that_the_speed_pays_for_are_honest() -> None:
    climbed_ft = 300.0 * eased(700.0, 850.0, 12.0)
    speed_m_s = np.sqrt(64.0**2 - 2.0 * 9.81 * climbed_ft * 0.3048)

    assert lifts(flown(DESCENT_FT + climbed_ft, speed_m_s)) == []


@pytest.mark.parametrize("over_s", [20.0, 30.0])
def test_a_climb_from_level_to_level_and_back_is_honest(over_s: float) -> None:
    """By 300 ft at 600 and 900 ft/min."""
    assert (
        lifts(flown(DESCENT_FT + 300.0 * np.clip(np.minimum(T_S - 40.0, 170.0 - T_S) / over_s, 0.0, 1.0)))
        == []
    )


def test_a_lift_over_fifteen_seconds_between_a_descent_and_a_climb_is_found() -> None:
    """At 10 ft a second no more than the log climbs elsewhere, but it sinks and climbs on as before."""
    (evidence,) = lifts(flown(DESCENT_FT + 150.0 * eased(660.0, 900.0, 15.0)))

    assert float(evidence.split(" by ")[1].split(" ft")[0]) == pytest.approx(150.0, abs=50.0)


@pytest.mark.parametrize("rate_ft_min", [1000.0, 1200.0])
@pytest.mark.parametrize("ends_before_s", [4.0, 7.0, 10.0, 14.0])
def test_an_autopilot_that_steps_down_and_up_again_is_honest(
    rate_ft_min: float, ends_before_s: float
) -> None:
    """By 200 ft at a rate that is set, soon after a descent: with the lag of an autopilot a ramp has sloping ends."""
    from scipy.signal import lfilter

    lasts_s, rate_ft_s = 200.0 * 60.0 / rate_ft_min, rate_ft_min / 60.0
    fine_s = np.arange(0.0, 1200.0, 0.1)
    rate = np.where((fine_s >= 280.0 - ends_before_s) & (fine_s < 300.0 - ends_before_s), -7.0, 0.0)
    rate -= rate_ft_s * ((fine_s >= 300.0) & (fine_s < 300.0 + lasts_s))
    rate += rate_ft_s * ((fine_s >= 340.0 + lasts_s) & (fine_s < 340.0 + 2.0 * lasts_s))
    keep = np.exp(-0.1 / 2.5)
    for _ in range(2):
        rate = lfilter([1.0 - keep], [1.0, -keep], rate)
    altitude_ft = 3000.0 + np.interp(T_S, fine_s, np.cumsum(rate) * 0.1)

    assert lifts(flown(altitude_ft + np.random.default_rng(1).normal(0.0, 1.0, len(T_S)))) == []
