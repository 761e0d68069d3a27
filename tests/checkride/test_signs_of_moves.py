"""Parts moved sideways with an eased beginning and end in logs without columns, and flights that do turn aside."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs import signs_of
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import written

SPEED_M_S, STEP_S = 55.0, 0.1
T_S = np.arange(0.0, 1200.0, STEP_S)


def flown(
    off_course_deg: Floats, wind_east_m_s: float, interval_s: float = 1.0, aside_m: Floats | float = 0.0
) -> Track:
    """Northward with the nose so far off the course, that holds it in this wind, at one airspeed; east ``aside_m`` more."""
    nose = np.radians(off_course_deg) - np.arcsin(wind_east_m_s / SPEED_M_S)
    gust_m_s = 0.4 * np.sin(T_S / 7.0) + 0.3 * np.sin(T_S / 17.0 + 1.0)
    north_m = np.cumsum((SPEED_M_S + gust_m_s) * np.cos(nose)) * STEP_S
    east_m = np.cumsum((SPEED_M_S + gust_m_s) * np.sin(nose) + wind_east_m_s) * STEP_S + aside_m
    kept = slice(None, None, round(interval_s / STEP_S))
    latitude_deg = 48.0 + north_m[kept] / 111_195.0
    longitude_deg = 11.0 + east_m[kept] / 111_195.0 / np.cos(np.radians(48.0))
    return written(
        T_S[kept], np.round(latitude_deg, 6), np.round(longitude_deg, 6), np.round(3000.0 - T_S[kept])
    )


def between(start_s: float, end_s: float, over_s: float) -> Floats:
    """0 outside, 1 inside, by half a cosine at each end."""
    share = np.clip(np.minimum(T_S - start_s, end_s - T_S) / over_s, 0.0, 1.0)
    return np.asarray((1.0 - np.cos(np.pi * share)) / 2.0)


def suspected(track: Track) -> list[str]:
    return [f.evidence for f in signs_of(track, None, None) if f.strength >= TO_EXAMINER]


@pytest.mark.parametrize("wind_east_m_s", [-9.0, 0.0, 9.0])
@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_part_moved_aside_is_found_by_the_speed_it_keeps(interval_s: float, wind_east_m_s: float) -> None:
    track = flown(np.zeros_like(T_S), wind_east_m_s, interval_s, 450.0 * between(500.0, 640.0, 20.0))

    (evidence,) = suspected(track)

    there_m, back_m = (
        float(part.split(" m ")[0]) for part in (evidence.split(" move ")[1], evidence.split("UTC ")[2])
    )
    assert [there_m, back_m] == pytest.approx([450.0, 450.0], rel=0.2)


@pytest.mark.parametrize("wind_east_m_s", [-9.0, 0.0, 9.0])
@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_turn_aside_and_back_is_honest(interval_s: float, wind_east_m_s: float) -> None:
    """By 35 degrees to one side and later to the other: along the course the flight falls back, as it must."""
    nose_deg = 35.0 * (between(500.0, 518.0, 6.0) - between(622.0, 640.0, 6.0))

    assert suspected(flown(nose_deg, wind_east_m_s, interval_s)) == []


def test_a_track_drawn_by_a_formula_is_its_own_habit() -> None:
    """One along and one across, without any aircraft: it goes aside for nothing all the time."""
    aside_m = sum(300.0 * between(start_s, start_s + 60.0, 15.0) for start_s in range(100, 1000, 150))

    assert suspected(flown(np.zeros_like(T_S), 0.0, 1.0, aside_m)) == []


@pytest.mark.parametrize("lifted_ft", [0.0, 60.0 / 7.0])
def test_more_digits_than_a_log_of_seven_decimals_has_are_found(lifted_ft: float) -> None:
    """A program writes what comes out; a simulator cuts its numbers where it always does."""
    track = flown(np.zeros_like(T_S), 4.0)
    part = between(500.0, 640.0, 30.0)[::10]
    altitude_ft = np.round(track.altitude_ft + 4.0 * np.sin(track.t_s / 9.0), 2)
    aside_deg = 0.0 if lifted_ft else part * 30.0 / 111_195.0

    longitude_deg = np.round(track.longitude_deg + 1e-7 * (track.t_s % 7.0), 7) + aside_deg
    edited = written(track.t_s, track.latitude_deg, longitude_deg, altitude_ft + part * lifted_ft)

    (evidence,) = suspected(edited)
    assert "written more finely" in evidence
