"""The 95 % intervals hold the truth in 93 to 97 % of cases, over simulated flights and recorders; see ``coverage``.

About 260 recordings of 26 flights, all drawn from one seed. Of so few one measure alone cannot tell 95 % from 93: each
must be one that intervals of 93 to 97 % could well give (binomial, one time in a thousand at most). On the mean over all
measures, and over those of each kind, 93 to 97 % is asked as it stands; intervals a fifth narrower or a quarter wider than
stated miss it.
"""

from __future__ import annotations

from functools import cache

import pytest
from scipy.stats import binom

from tests.measures.coverage import Held, errors, pooled, share_held

LEAST, MOST = 0.93, 0.97
ONE_IN_A_THOUSAND = 0.001
JUDGED = (
    "altitude_at_missed_approach_point_ft",
    "altitude_ft.max",
    "altitude_ft.mean",
    "altitude_ft.min",
    "arc.off_nm.max_abs",
    "arc.off_nm.mean",
    "arc.off_nm.rms",
    "arc.turn_in_late_deg",
    "arc.turn_in_radial_deg",
    "arrival.off_inbound_course_deg",
    "bank_deg",
    "circling.base_turn",
    "circling.base_turn_altitude_ft",
    "circling.farthest_aside_nm",
    "circling.farthest_nm",
    "circling.lined_up",
    "circling.lined_up_before_threshold_nm",
    "circling.lined_up_height_ft",
    "circling.lowest_altitude_ft",
    "circling.start",
    "climb_rate_ft_min",
    "course_reversal.descent_angle_deg",
    "course_reversal.entry_airspeed_kias",
    "course_reversal.entry_groundspeed_kt",
    "course_reversal.leg_seconds",
    "drift_deg",
    "duration_s",
    "final.cross_track_nm.max_abs",
    "final.cross_track_nm.mean",
    "final.cross_track_nm.rms",
    "final.descent_angle_deg",
    "final.descent_start",
    "final.descent_start_distance_nm",
    "final.deviation_deg.max_abs",
    "final.deviation_deg.mean",
    "final.deviation_deg.rms",
    "final.duration_s",
    "final.gates.time",
    "final.track_length_nm",
    "groundspeed_kt.max",
    "groundspeed_kt.mean",
    "groundspeed_kt.min",
    "hold_after.farthest_nm",
    "hold_after.inbound_s",
    "hold_before.farthest_nm",
    "hold_before.inbound_s",
    "inbound.descent_angle_deg",
    "inbound.duration_s",
    "inbound.track_length_nm",
    "intercept.angle_deg",
    "intercept.established",
    "intercept.established_distance_nm",
    "intercept.seconds_to_established",
    "intercept.time",
    "intermediate.cross_track_nm.max_abs",
    "intermediate.cross_track_nm.mean",
    "intermediate.cross_track_nm.rms",
    "intermediate.descent_angle_deg",
    "intermediate.deviation_deg.max_abs",
    "intermediate.deviation_deg.mean",
    "intermediate.deviation_deg.rms",
    "landing.groundspeed_kt.max",
    "landing.groundspeed_kt.mean",
    "landing.groundspeed_kt.min",
    "landing.touchdown",
    "landing.touchdown_past_threshold_nm",
    "level_off_altitude_ft",
    "max_airspeed_kias",
    "max_descent_rate_ft_min",
    "max_distance_nm",
    "missed_approach.course_off_deg",
    "missed_approach.duration_s",
    "missed_approach.track_length_nm",
    "missed_approach.turn_altitude_ft",
    "outbound.cross_track_nm.max_abs",
    "outbound.cross_track_nm.mean",
    "outbound.cross_track_nm.rms",
    "outbound.descent_angle_deg",
    "outbound.deviation_deg.max_abs",
    "outbound.deviation_deg.mean",
    "outbound.deviation_deg.rms",
    "outbound.within_half_scale",
    "overshoot_nm",
    "passage.altitude_ft",
    "passage.distance_nm",
    "passage.ground_track_true_deg",
    "passage.groundspeed_kt",
    "passage.time_s",
    "start_past_point_nm",
    "time_from_passage_s",
    "track_length_nm",
    "turn.change_deg",
    "turn.exact_lead_nm",
    "turn.groundspeed_kt",
    "turn.lead_dme_nm",
    "turn.lead_nm",
    "turn.rule_of_thumb_nm",
    "turn.start",
    "turn_off_cross_track_nm",
    "turn_off_dme_nm",
    "turn_rate_deg_s",
    "turns.degrees",
    "turns.mean_groundspeed_kt",
    "turns.mean_rate_deg_s",
    "visual_segment.altitude_ft",
    "visual_segment.lined_up",
    "visual_segment.lined_up_before_threshold_nm",
    "visual_segment.lined_up_height_ft",
    "visual_segment.to_threshold_nm",
    "width_nm",
    "wind.from_true_deg",
    "wind.speed_kt",
)
#: Of what only the flights of special procedures have there are fewer.
RARE = ("arc.", "circling.", "hold_", "visual_segment.", "missed_approach.course", "missed_approach.turn")
FEWEST, FEWEST_RARE = 35, 8
#: Kinds of measures by words in their names, the first that fits: they share a budget.
KINDS = {
    "sizes off a course": ("rms", "max_abs", "overshoot", "aside"),
    "means off a course": ("cross_track", "deviation_deg", "off_nm"),
    "in the air": ("wind.", "drift", "airspeed"),
    "altitudes": ("altitude", "height"),
    "ground speeds": ("groundspeed",),
    "distances": ("_nm",),
    "angles and rates": ("deg", "rate", "degrees"),
    "moments": ("",),
}
#: A size cannot be less than nothing: of a course that is kept well it is measured too great, hardly ever too small, and
#: half of the misses cannot be.
MOST_OF_SIZES = 1.0 - (1.0 - MOST) / 2.0


@cache
def found() -> tuple[Held, ...]:
    return tuple(errors(clean=10, faulty=8, recordings=10, special=8))


@cache
def shares(scale: float = 1.0) -> dict[str, tuple[float, int]]:
    return share_held(found(), scale)


def of_kind(kind: str, scale: float = 1.0) -> float:
    first = {name: next(k for k, words in KINDS.items() if any(w in name for w in words)) for name in JUDGED}
    return pooled({name: shares(scale)[name] for name in JUDGED if first[name] == kind})


def test_every_judged_measure_is_there_often_enough():
    assert set(shares()) == set(JUDGED)
    for name, (_, count) in shares().items():
        assert count >= (FEWEST_RARE if name.startswith(RARE) else FEWEST), name


@pytest.mark.parametrize("measure", JUDGED)
def test_the_interval_of_each_measure_holds_the_truth(measure):
    share, count = shares()[measure]
    fewest = binom.ppf(ONE_IN_A_THOUSAND, count, LEAST) / count
    most = binom.ppf(1.0 - ONE_IN_A_THOUSAND, count, MOST) / count

    assert fewest <= share <= most


def test_on_the_whole_the_intervals_hold_the_truth_in_93_to_97_of_100():
    assert LEAST <= pooled(shares()) <= MOST


@pytest.mark.parametrize("scale", [0.8, 1.25])
def test_intervals_of_another_width_would_not(scale):
    """That the test can fail: a fifth narrower holds in too few cases, a quarter wider in too many."""
    assert not LEAST <= pooled(shares(scale)) <= MOST


@pytest.mark.parametrize("kind", KINDS)
def test_so_do_those_of_each_kind(kind):
    most = MOST_OF_SIZES if kind == "sizes off a course" else MOST

    assert LEAST <= of_kind(kind) <= most
    assert of_kind(kind, 0.8) < LEAST
    assert of_kind(kind, 1.25) > most
