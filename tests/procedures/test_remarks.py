"""What is unusual is said, and nothing is said about what is usual."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.remarks import remarks

TODAY = date(2026, 3, 1)


@pytest.mark.parametrize("procedure", bundled_procedures(), ids=lambda p: Path(p.file).stem)
def test_nothing_is_unusual_about_a_bundled_procedure(procedure: Procedure) -> None:
    assert remarks(procedure, TODAY) == ()


def changed(procedure: Procedure, part: str, **keys: object) -> Procedure:
    """The procedure with other values in its station, its runway, or its leg of a phase."""
    written: dict[str, Any] = procedure.model_dump(exclude_unset=True)
    table = written[part] if part in written else next(leg for leg in written["leg"] if leg["phase"] == part)
    table.update(keys)
    return Procedure.model_validate(written)


@pytest.mark.parametrize(
    ("part", "keys", "remark"),
    [
        (
            "station",
            {"declination_deg": 11.0},
            (
                "station.declination_deg is 11, but the magnetic variation there is -10.0: 21 degrees apart. "
                "East is positive, west negative."
            ),
        ),
        (
            "runway",
            {"course_true_deg": 33.0},
            "The runway points 33 degrees true, 180 degrees from the final course (213 true).",
        ),
        ("course_reversal", {"leg_seconds": None}, "The 45/180 gives no leg_seconds: 60 are taken."),
        (
            "course_reversal",
            {"within_nm": 7.0},
            "At 200 kt, without wind, the reversal reaches 9.7 NM from the station; within_nm is 7.",
        ),
        (
            "intermediate",
            {"altitude": {"at_or_above_ft": 1100}},
            (
                "From 1,100 ft at the station to 50 ft over the threshold is a descent of 1.6 degrees; "
                "2.5 to 3.8 are usual."
            ),
        ),
        (
            "final",
            {"missed_approach_point": {"dme_nm": 6.5}},
            "The missed approach point lies 1.5 NM past the threshold.",
        ),
        (
            "final",
            {"missed_approach_point": {"minutes": 3.0}},  # 6 NM, of a threshold 5.0 NM from the station
            "The missed approach point, at 120 kt over the ground, lies 1.0 NM past the threshold.",
        ),
    ],
)
def test_what_is_unusual_is_said(lantern: Procedure, part: str, keys: dict[str, object], remark: str) -> None:
    assert remark in remarks(changed(lantern, part, **keys), TODAY)


def test_a_missing_runway_is_said(lantern: Procedure) -> None:
    bare = lantern.model_copy(update={"runway": None})

    assert remarks(bare, TODAY) == (
        "There is no [runway]: nothing is measured past the missed approach point.",
    )


def test_seconds_that_mean_nothing_are_said(frosthelm: Procedure) -> None:
    assert remarks(changed(frosthelm, "course_reversal", leg_seconds=60), TODAY) == (
        "leg_seconds means nothing in a base turn; it is ignored.",
    )


def test_a_missed_approach_point_past_the_threshold_is_said_on_the_aerodrome_too(
    frosthelm: Procedure,
) -> None:
    """The threshold lies 0.40 NM before the station, the point 0.08 NM (443 ft up, 0.11 on the DME)."""
    late = changed(frosthelm, "final", missed_approach_point={"dme_nm": 0.11})

    assert remarks(late, TODAY) == ("The missed approach point lies 0.3 NM past the threshold.",)


@pytest.mark.parametrize(("minutes", "said"), [(1.0, True), (1.4, True), (1.6, False)])
def test_a_racetrack_timed_so_that_no_leg_is_left_after_the_turn_is_said(minutes: float, said: bool) -> None:
    """The minute of a chart begins abeam the station; counted from the closest point the turn uses it up."""
    published = changed(load_procedure("dateline-ndb-35"), "course_reversal", leg_seconds=None)
    short = changed(published, "outbound", length={"minutes": minutes})

    assert any("give leg_seconds" in remark for remark in remarks(short, TODAY)) is said


def test_a_descent_is_not_called_unusual_by_digits_that_are_not_told(lantern: Procedure) -> None:
    """3.84 degrees stood there as 3.8, and 3.8 as the most that is usual."""
    told = {
        feet: remarks(changed(lantern, "intermediate", altitude={"at_or_above_ft": feet}), TODAY)
        for feet in range(2200, 2500, 10)
    }

    assert any("a descent of 3.9 degrees" in text for said in told.values() for text in said)
    assert not any("a descent of 3.8 degrees" in text for said in told.values() for text in said)
