"""A folder's grading leaves out what no verdict needs: the verdicts must be the same."""

from __future__ import annotations

import pytest

import debrief

FLIGHTS = [
    ("lantern-wrong-side.gpx", "lantern-vor-22"),
    ("sallow-two-attempts.gpx", "sallow-vor-13"),
    ("quillow-overshoot.gpx", "quillow-ndb-18"),
    ("ember-altitude-bust.gpx", "ember-vor-17"),
    ("frosthelm-late-turn.gpx", "frosthelm-vor-04"),
    ("brandel-sparse.csv", "brandel-ndb-27"),
]


@pytest.mark.parametrize(("track", "procedure"), FLIGHTS)
def test_the_same_findings_grade_and_causes(track: str, procedure: str) -> None:
    log, plan = debrief.read_track(f"sample_tracks/{track}"), debrief.load_procedure(procedure)
    whole, short = debrief.debrief(log, plan), debrief.debrief(log, plan, verdicts_only=True)

    assert len(whole.attempts) == len(short.attempts) > 0
    for one, other in zip(whole.attempts, short.attempts, strict=True):
        assert one.findings == other.findings
        assert one.grade == other.grade
        assert one.causes == other.causes
        assert one.went_well == other.went_well
    final = short.attempts[0].measures.final
    assert final is not None
    assert final.altitude_ft is None
    assert any("only verdicts were asked for" in warning for warning in final.warnings)
