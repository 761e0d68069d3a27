"""The course reversal: pattern, side, size, timing, speeds, bank."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path as FilePath

import numpy as np
import pytest

from debrief import debrief, load_procedure, read_track
from debrief.measures import measure
from debrief.measures.pattern import Shape, pattern_of, patterns_of
from debrief.measures.turning import Episode
from debrief.procedures.model import Pattern
from debrief.result import Wind
from debrief.tracks.model import Track
from tests.measures.builders import RADIUS_NM, Path, attempt, flight, passage, whole_approach
from tests.measures.plan import OUTBOUND_TRUE_DEG, procedure
from tests.vectors import read_vectors

SAMPLES = FilePath(__file__).parents[2] / "sample_tracks"
HUNDREDTH_NM = 0.01
TURN_EDGES_S = 1.5  # rates that jump are placed to a second at either end
STANDARD_BANK_DEG = 18.24  # of 3 deg/s at 120 kt


def outbound_at(speed_kt: float, along_nm: float = 4.0) -> Path:
    """On the outbound radial, ten seconds before its turn off."""
    outbound = math.radians(OUTBOUND_TRUE_DEG)
    start_nm = along_nm - 10.0 * speed_kt / 3600.0
    return (
        Path(
            start_nm * math.sin(outbound), start_nm * math.cos(outbound), OUTBOUND_TRUE_DEG, speed_kt, 2800.0
        )
        .straight(seconds=10.0)
        .mark("turn off")
    )


def reversal_of(path, plan=None, wind: Wind | None = None, **log):
    m = path.marks
    end_s = m.get("established", path.now_s)
    found = attempt(
        [("outbound", 0.0, m["turn off"]), ("course_reversal", m["turn off"], end_s)],
        passages=[passage(-100.0)],
        turn_off_s=m["turn off"],
        established_s=m.get("established"),
    )
    leg = measure(flight(path, plan or procedure(), found, **log), found, wind).course_reversal
    assert leg is not None
    return leg


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(
    "row", [r for r in read_vectors("reversal_patterns.csv") if r.pattern == "45/180"], ids=str
)
def test_a_45_180_in_still_air(row, side):
    """Computed patterns in still air: farthest along and aside, by airspeed and leg."""
    sign = 1.0 if side == "right" else -1.0
    rate = row.rate_deg_per_s
    path = outbound_at(row.tas_kt).turn(sign * 45.0, rate)
    path.straight(seconds=row.leg_s - 45.0 / rate).turn(-sign * 180.0, rate)
    path.straight(seconds=row.intercept_straight_s).turn(-sign * 45.0, rate).mark("established").straight(1.0)
    leg = reversal_of(path)

    assert (leg.pattern, leg.side) == ("45/180", side)
    assert leg.width_nm == pytest.approx(row.max_y_nm, abs=HUNDREDTH_NM)
    assert leg.leg_seconds == pytest.approx(row.leg_s, abs=1.0)
    assert leg.turn_start_distance_nm == pytest.approx(4.0, abs=HUNDREDTH_NM)
    assert leg.entry_groundspeed_kt == pytest.approx(row.tas_kt, abs=0.1)
    # the point that lies farthest from the station is not that farthest along
    assert (
        math.hypot(4.0 + row.max_x_nm, 0.0)
        <= leg.max_distance_nm
        <= math.hypot(4.0 + row.max_x_nm, row.max_y_nm)
    )


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(
    "row", [r for r in read_vectors("reversal_patterns.csv") if r.pattern == "80/260"], ids=str
)
def test_an_80_260_in_still_air(row, side):
    sign = 1.0 if side == "right" else -1.0
    rate = row.rate_deg_per_s
    path = (
        outbound_at(row.tas_kt)
        .turn(sign * 80.0, rate)
        .turn(-sign * 260.0, rate)
        .mark("established")
        .straight(1.0)
    )
    leg = reversal_of(path, procedure(course_reversal={"pattern": "80/260", "leg_seconds": None}))

    assert (leg.pattern, leg.side) == ("80/260", side)
    assert leg.width_nm == pytest.approx(row.max_y_nm, abs=HUNDREDTH_NM)
    # on to the start of the turn back: the first turn alone
    assert leg.leg_seconds == pytest.approx(80.0 / rate, abs=TURN_EDGES_S)


def test_an_overshoot_on_the_way_back_does_not_change_the_side():
    """Left by 80 degrees, back by 215 only: 45 degrees through the course and two miles out on its right."""
    path = (
        outbound_at(120.0).turn(-80.0).turn(215.0).straight(4.5).turn(45.0).mark("established").straight(1.0)
    )
    leg = reversal_of(path, procedure(course_reversal={"pattern": "80/260", "leg_seconds": None}))

    assert (leg.pattern, leg.side) == ("80/260", "left")


def test_a_circle_for_spacing_behind_the_pattern_is_none_of_its_turns():
    """Its side was taken from where the circle lay, its pattern was not known."""
    path = outbound_at(120.0).turn(80.0).turn(-215.0).straight(4.0).turn(330.0).mark("established")
    leg = reversal_of(path.straight(1.0), procedure(course_reversal={"pattern": "80/260", "side": "right"}))

    assert (leg.pattern, leg.side) == ("80/260", "right")


def test_the_turn_back_has_its_rate_and_the_bank_it_implies():
    built = whole_approach()
    leg = measure(built.flight, built.attempt, None).course_reversal

    assert leg is not None
    assert leg.turn_rate_deg_s == pytest.approx(3.0, abs=0.1)
    assert leg.bank_deg == pytest.approx(STANDARD_BANK_DEG, abs=0.6)
    assert any("Bank found from ground speed" in text for text in leg.warnings)


def test_a_known_wind_gives_the_bank_from_the_air():
    calm = Wind(from_true_deg=0.0, speed_kt=0.0, speed_uncertainty_kt=1.0, tas_kt=None, method="test")
    built = whole_approach()
    leg = measure(built.flight, built.attempt, calm).course_reversal

    assert leg is not None
    assert leg.bank_deg == pytest.approx(STANDARD_BANK_DEG, abs=0.6)
    assert not any("ground speed" in text for text in leg.warnings)
    assert leg.max_airspeed_kias == pytest.approx(115.0, abs=3.0)
    # more than of one airspeed: the greatest of many picks out gusts of 0.7 kt and the noise of the ground speed, 0.2 kt
    # (0.14 without what a turn may hide across the track); of the circle that holds the wind, 1 kt, one axis counts
    one_kt = math.sqrt(0.5 * 0.4**2 + (2.0 * 0.7) ** 2 + (2.0 / 2.448) ** 2 + (115 * 0.01735) ** 2)
    assert one_kt < leg.max_airspeed_uncertainty_kt < one_kt + 2.0 * math.hypot(0.14, 0.7)


def test_a_base_turn():
    """Out on a radial 20 degrees left of the inbound course's reciprocal, back with one turn to the right."""
    plan = procedure(
        outbound={"radial_deg": 28},
        course_reversal={"pattern": "base turn", "side": "right", "leg_seconds": None},
    )
    out = math.radians(OUTBOUND_TRUE_DEG - 20.0)
    path = Path(3.0 * math.sin(out), 3.0 * math.cos(out), OUTBOUND_TRUE_DEG - 20.0, 120.0, 2800.0)
    path.straight(1.0).mark("turn off").turn(200.0).mark("established").straight(2.0)
    leg = reversal_of(path, plan)

    assert (leg.pattern, leg.side) == ("base turn", "right")
    assert leg.leg_seconds is None


@pytest.mark.parametrize("side", ["left", "right"])
def test_turning_straight_back_is_told_from_the_pattern(side):
    sign = 1.0 if side == "right" else -1.0
    path = (
        outbound_at(120.0)
        .turn(sign * 225.0)
        .straight(0.5)
        .turn(-sign * 45.0)
        .mark("established")
        .straight(2.0)
    )
    leg = reversal_of(path)

    assert (leg.pattern, leg.side) == ("straight turn", side)
    assert leg.width_nm == pytest.approx(2.0 * RADIUS_NM, abs=HUNDREDTH_NM)


def test_a_teardrop_is_told_from_a_45_180():
    path = outbound_at(120.0).turn(-30.0).straight(seconds=60.0).turn(210.0).mark("established").straight(1.0)

    assert reversal_of(path).pattern == "teardrop"


def test_a_racetrack_has_the_side_of_its_turns_and_the_outbound_timing():
    """Right turns: over the station, 180 degrees right, 60 s outbound from the heading, 180 degrees right."""
    plan = procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "side": "right", "leg_seconds": 60},
    )
    path = Path(1.0 * math.sin(math.radians(37.0)), 1.0 * math.cos(math.radians(37.0)), 217.0, 120.0, 2800.0)
    path.straight(1.0).mark("station").turn(180.0).mark("heading").straight(seconds=60.0)
    path.mark("turn off").turn(180.0).mark("established").straight(1.5)
    m = path.marks
    found = attempt(
        [
            ("inbound", 0.0, m["station"]),
            ("outbound", m["station"], m["turn off"]),
            ("course_reversal", m["turn off"], m["established"]),
        ],
        passages=[passage(m["station"])],
        turn_off_s=m["turn off"],
        established_s=m["established"],
    )
    leg = measure(flight(path, plan, found), found, None).course_reversal

    assert leg is not None
    assert (leg.pattern, leg.side) == ("racetrack", "right")
    assert leg.leg_seconds == pytest.approx(60.0, abs=1.0)
    assert leg.width_nm == pytest.approx(2.0 * RADIUS_NM, abs=HUNDREDTH_NM)


def episode(start_s: float, change_deg: float) -> Episode:
    return Episode(start_s, start_s + abs(change_deg) / 3.0, change_deg)


@pytest.mark.parametrize(
    ("first_deg", "back_deg", "leg_s", "name"),
    [
        (35.0, -180.0, 60.0, "45/180"),  # a wind makes the track turn less ...
        (60.0, -180.0, 60.0, "45/180"),  # ... or more
        (66.0, -170.0, 60.0, "45/180"),
        (66.0, -250.0, 22.0, "80/260"),
        (95.0, -270.0, 32.0, "80/260"),
        (62.0, -245.0, 24.0, "80/260"),
        (78.0, -185.0, 28.0, "80/260"),  # the rest flown after an intercept at 75 degrees
        (78.0, -256.0, 45.0, "80/260"),  # a leg between its turns, held against the wind
        (49.0, -279.0, 18.0, "80/260"),  # a wind across it: at once nearly all the way round
        (66.0, -255.0, 60.0, "45/180"),  # through the course, and back to it
        (45.0, -225.0, 60.0, "45/180"),  # the last 45 degrees flown without a pause
        (30.0, -210.0, 60.0, "teardrop"),
        (80.0, -130.0, 27.0, None),
    ],
)
def test_patterns_are_told_by_signs_and_sizes(first_deg, back_deg, leg_s, name):
    shape = Shape(episode(0.0, first_deg), episode(leg_s, back_deg))
    mirrored = Shape(episode(0.0, -first_deg), episode(leg_s, -back_deg))

    assert pattern_of(shape, Pattern.PROCEDURE_TURN_45_180, 0.0) == name
    assert pattern_of(mirrored, Pattern.PROCEDURE_TURN_45_180, 0.0) == name


@pytest.mark.parametrize(
    ("first_deg", "leg_s", "name"), [(66.0, 44.0, "80/260"), (58.0, 44.0, "45/180"), (66.0, 60.0, "45/180")]
)
def test_turns_of_the_heading_part_the_patterns_midway_where_the_leg_is_short(first_deg, leg_s, name):
    shape = Shape(episode(0.0, first_deg), episode(leg_s, -230.0))

    assert pattern_of(shape, Pattern.PROCEDURE_TURN_45_180, 0.0, in_air=True) == name
    assert pattern_of(shape, Pattern.PROCEDURE_TURN_45_180, 0.0) == "45/180"


def test_a_turn_off_that_is_rolled_out_of_slowly_is_as_large_as_its_leg_is_off():
    """45 degrees, of which the last 12 come at less than a degree a second: 33 make a teardrop of the rest."""
    path = outbound_at(120.0).turn(-33.0).turn(-12.0, 0.8).straight(35.0).turn(225.0)
    leg = reversal_of(path.mark("established").straight(1.0))

    assert (leg.pattern, leg.side) == ("45/180", "left")


@pytest.mark.parametrize("wind_from_deg", [0.0, 60.0, 120.0, 180.0, 240.0, 300.0])
def test_an_80_260_in_a_strong_wind_is_told_by_its_headings(wind_from_deg):
    """40 kt at 85 kt, and 72 of the 80 degrees flown: the track of the first turn changes by 49 to 108."""
    from_deg = (OUTBOUND_TRUE_DEG + wind_from_deg) % 360.0
    still = outbound_at(85.0).turn(-72.0).turn(227.0).mark("established").straight(1.0)
    found = Wind(from_true_deg=from_deg, speed_kt=40.0, speed_uncertainty_kt=1.0, tas_kt=85.0, method="turns")

    assert reversal_of(Blown(still, from_deg, 40.0), wind=found).pattern == "80/260"


@dataclass
class Blown:
    """A path flown in moving air: its speeds are airspeeds, its directions headings."""

    still: Path
    from_deg: float
    speed_kt: float

    @property
    def marks(self) -> dict[str, float]:
        return self.still.marks

    @property
    def now_s(self) -> float:
        return self.still.now_s

    def at(self, t_s):
        air = self.still.at(t_s)
        wind_kt = -self.speed_kt * np.array(
            [math.sin(math.radians(self.from_deg)), math.cos(math.radians(self.from_deg))]
        )
        ahead = np.array([np.sin(np.radians(air["track"])), np.cos(np.radians(air["track"]))])
        ground_kt = ahead * air["speed"] + wind_kt[:, None]
        speed_kt = np.hypot(*ground_kt)
        # the pull of the turn is across the heading; what of it is across the track turns the track
        pull = air["speed"] * air["rate"]
        across = (ahead[0] * ground_kt[0] + ahead[1] * ground_kt[1]) / speed_kt
        return air | {
            "east": air["east"] + wind_kt[0] * t_s / 3600.0,
            "north": air["north"] + wind_kt[1] * t_s / 3600.0,
            "track": np.degrees(np.unwrap(np.arctan2(ground_kt[0], ground_kt[1]))),
            "speed": speed_kt,
            "rate": pull * across / speed_kt,
        }


@pytest.mark.parametrize(
    ("published", "back_deg", "offset_deg", "name"),
    [
        (Pattern.RACETRACK, 170.0, 0.0, "racetrack"),
        (Pattern.BASE_TURN, 215.0, 0.0, "base turn"),
        (Pattern.PROCEDURE_TURN_45_180, 180.0, 2.0, "straight turn"),
        (Pattern.PROCEDURE_TURN_80_260, 205.0, -28.0, "teardrop"),
        (Pattern.PROCEDURE_TURN_80_260, 300.0, 0.0, None),
        (None, 180.0, None, "straight turn"),
    ],
)
def test_a_single_turn_is_named_by_what_was_published(published, back_deg, offset_deg, name):
    assert pattern_of(Shape(None, episode(0.0, back_deg)), published, offset_deg) == name


@pytest.mark.parametrize(
    ("first_deg", "back_deg", "leg_s", "sure_deg", "pause_s", "names"),
    [
        (43.0, -217.0, 60.0, 1.0, 1.0, ("45/180",)),  # a sample a second
        (43.0, -217.0, 60.0, 6.0, 8.0, ("45/180",)),  # one in 16 s
        (
            40.0,
            -219.0,
            60.0,
            8.3,
            10.0,
            ("45/180", "teardrop"),
        ),  # one in 20 s: the first turn may be 32 degrees
        (28.0, -219.0, 60.0, 12.0, 13.0, ("teardrop", "45/180")),  # one in 26 s: 43 degrees were flown
        (77.0, -213.0, 27.0, 1.0, 0.5, ("80/260",)),
        (58.0, -190.0, 27.0, 13.0, 13.0, ("80/260", "45/180")),
    ],
)
def test_a_pattern_is_told_only_where_the_log_tells_it(first_deg, back_deg, leg_s, sure_deg, pause_s, names):
    """A 45/180 logged every 26 s was called a teardrop: its first turn came out 15 degrees too small."""
    first, back = episode(0.0, first_deg), episode(leg_s, back_deg)

    for sign in (1.0, -1.0):
        shape = Shape(
            replace(first, change_deg=sign * first.change_deg),
            replace(back, change_deg=sign * back.change_deg),
        )
        told = patterns_of(shape, None, 0.0, turn_sure_deg=sure_deg, pause_sure_s=pause_s)
        assert told[0] == names[0]
        assert set(told) == set(names)


def test_a_sparse_log_says_what_the_pattern_may_have_been():
    """The sample track's 45/180 to the left, every 26 s: the side is told, the pattern is not."""
    track = read_track(SAMPLES / "lantern-clean.gpx")
    sparse = every(track, 26.0)

    leg = debrief(sparse, load_procedure("lantern-vor-22")).attempts[0].measures.course_reversal

    assert (leg.side, leg.pattern) == ("left", None)
    assert set(leg.pattern_may_be) == {"45/180", "teardrop"}
    assert any(
        "Pattern not told: with samples 26 s apart a turn is known to " in text for text in leg.warnings
    )


def every(track: Track, seconds: float) -> Track:
    """The track with a sample each so many seconds only."""
    kept = np.flatnonzero(np.round(track.t_s % seconds, 6) == 0.0)
    return replace(
        track,
        **{
            name: getattr(track, name)[kept]
            for name in ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
        },
        columns={name: values[kept] for name, values in track.columns.items()},
    )


def test_no_turn_makes_no_pattern():
    leg = reversal_of(outbound_at(120.0).straight(3.0))

    assert leg.pattern is None
    assert "Pattern not recognised from the turns." in leg.warnings


def test_a_reversal_mostly_in_a_gap_is_not_told():
    built = whole_approach()
    m = built.marks
    hidden = (m["turn off"] + 5.0, m["established"] - 5.0)
    here = whole_approach(gaps=[hidden])
    leg = measure(here.flight, here.attempt, None).course_reversal

    assert leg is not None
    assert (leg.pattern, leg.side, leg.max_distance_nm) == (None, None, None)
    assert any("too little of the reversal was observed" in text for text in leg.warnings)
    assert leg.observed_s == pytest.approx(10.0, abs=0.01)
