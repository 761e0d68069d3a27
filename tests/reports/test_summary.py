"""The words of page one."""

from __future__ import annotations

from dataclasses import replace

from debrief.reports import summary
from debrief.result import NotSeenInfo, Result
from tests.reports import fake


def test_one_approach_is_told_in_a_sentence() -> None:
    said = summary.flown_sentence(fake.result())

    assert said.startswith(
        "One approach was flown, with a course reversal (45/180) to the left, never farther than 7.2 NM from the "
        "station, in a wind from 247° true at 18 kt, ending in a missed approach, 18:50:00 to "
    )


def test_what_was_not_observed_is_kept_apart_from_what_was_not_flown() -> None:
    result = fake.result()
    missing = (
        NotSeenInfo(phase="station_passage", why="not observed"),
        NotSeenInfo(phase="intermediate", why="not flown"),
    )
    attempt = replace(result.attempts[0], not_seen=missing)

    said = summary.flown_sentence(replace(result, attempts=(attempt,)))

    assert said.endswith("Not observed: station passage. Not flown: intermediate.")


def test_several_approaches_are_counted() -> None:
    said = summary.flown_sentence(fake.result(attempts=2))

    assert said.startswith(
        "Two approaches were flown: attempt 1 from 18:50:00, ending in a missed approach; "
    )


def test_the_things_to_work_on_are_three_and_of_three_kinds() -> None:
    """Two attempts with the same findings: each kind once, with the other attempt named."""
    result = fake.result(attempts=2, findings=30)

    chosen = summary.to_work_on(result)

    assert [finding.number for _, finding in chosen] == [1, 2, 3]
    assert {attempt.number for attempt, _ in chosen} == {1}
    assert summary.also_in(result, *chosen[0]) == "Also in attempt 2."


def test_the_same_kind_twice_is_better_than_nothing() -> None:
    result = fake.result(findings=2)
    attempt = result.attempts[0]
    twice = (attempt.findings[0], replace(attempt.findings[0], number=2))

    def chosen(result: Result) -> list[int]:
        return [finding.number for _, finding in summary.to_work_on(result)]

    assert chosen(replace(result, attempts=(replace(attempt, findings=twice),))) == [1, 2]


def test_no_approach_is_said_plainly() -> None:
    assert summary.flown_sentence(fake.result(approach=False)) == (
        "No approach was found: the log never comes nearer than 11.2 NM to LQN. The track is shown as it was logged."
    )
