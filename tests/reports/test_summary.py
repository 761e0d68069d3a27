"""The words of page one."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from debrief.cli_report import summary as terminal_lines
from debrief.reports import summary
from debrief.result import ArcMeasures, Attempt, Cause, Circuit, NotSeenInfo, Practice, Result
from tests.reports import fake


def test_one_approach_is_told_in_a_sentence() -> None:
    said = summary.flown_sentence(fake.result())

    assert said.startswith(
        "One approach was flown, with a course reversal (45/180) to the left, never farther than 7.2 NM from the "
        "station, in a wind from 247° true at 18 kt, ending in a missed approach, 18:50:00 to "
    )


def test_the_circuits_of_a_racetrack_are_counted() -> None:
    attempt = fake.result().attempts[0]
    first = Circuit(
        outbound=attempt.measures.outbound, course_reversal=None, intermediate=None, intercept=None
    )
    twice = replace(attempt, measures=replace(attempt.measures, earlier_circuits=(first,)))

    assert "to the left, in 2 circuits, never farther" in summary.attempt_sentence(twice)


def test_an_approach_by_the_arc_began_on_it() -> None:
    """The times told were those from the turn off the arc on, and a finding on it lay before them."""
    attempt = fake.result().attempts[0]
    begun = attempt.phases[0].start - timedelta(minutes=7)
    arc = ArcMeasures(
        start=begun, end=attempt.phases[0].start, from_radial_deg=226.0, to_radial_deg=299.0, off_nm=None,
        turn_in_radial_deg=299.0, turn_in_late_deg=None, altitude_ft=None,
    )  # fmt: skip
    by_arc = replace(attempt, measures=replace(attempt.measures, arc=arc))

    assert f", {begun:%H:%M:%S} to " in summary.attempt_sentence(by_arc)


def test_what_was_not_observed_is_kept_apart_from_what_was_not_flown() -> None:
    result = fake.result()
    missing = (
        NotSeenInfo(phase="station_passage", why="not observed"),
        NotSeenInfo(phase="intermediate", why="not flown"),
    )
    attempt = replace(result.attempts[0], not_seen=missing)

    said = summary.flown_sentence(replace(result, attempts=(attempt,)))

    assert said.endswith("Not observed: station passage. Not flown: intermediate.")


def test_a_leg_flown_beside_the_course_is_not_told_as_left_out() -> None:
    """It came back to the station, never within 5 degrees of the course: that was told as not flown."""
    result = fake.result()
    attempt = result.attempts[0]
    assert attempt.measures.intercept is not None
    never = replace(attempt.measures.intercept, established=None)
    attempt = replace(
        attempt,
        not_seen=(
            NotSeenInfo(phase="inbound", why="not flown"),
            NotSeenInfo(phase="intermediate", why="not flown"),
        ),
        measures=replace(attempt.measures, intercept=never),
    )

    said = summary.flown_sentence(replace(result, attempts=(attempt,)))

    assert said.endswith("Not flown: inbound. Never established: intermediate.")


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


def test_what_made_an_attempt_fail_stands_before_what_another_one_could_improve() -> None:
    """The only fault of a satisfactory attempt stood before the second one of an attempt that failed."""
    result = fake.result(attempts=2, findings=4)
    failed, good = result.attempts
    assert failed.grade.result == "unsatisfactory"
    good = replace(
        good,
        grade=replace(good.grade, result="satisfactory"),
        findings=(replace(good.findings[0], rule="weaving"),),
    )

    chosen = summary.to_work_on(replace(result, attempts=(failed, good)))

    assert [(attempt.number, finding.number) for attempt, finding in chosen] == [(1, 1), (1, 2), (1, 3)]


def test_the_same_kind_twice_is_better_than_nothing() -> None:
    result = fake.result(findings=2)
    attempt = result.attempts[0]
    twice = (attempt.findings[0], replace(attempt.findings[0], number=2))

    def chosen(result: Result) -> list[int]:
        return [finding.number for _, finding in summary.to_work_on(result)]

    assert chosen(replace(result, attempts=(replace(attempt, findings=twice),))) == [1, 2]


def with_first_cause(result: Result, number: int, *, leads_to: tuple[int, ...] = (0,)) -> Result:
    """The first attempt's finding of that number as what led to the one of most weight."""
    first = result.attempts[0]
    found = first.findings[number - 1]
    cause = Cause(
        rule=found.rule,
        phase=found.phase,
        start=found.start,
        message=f"{found.message} The minimum followed from it (finding 1).",
        leads_to=leads_to,
    )
    exercise = Practice(
        what="Speed",
        exercise="Slow down to 190 kt three times.",
        aim="Within 5 kt of 190 kt.",
        finding=found.number,
    )
    attempts = (replace(first, causes=(cause,), practice=(exercise,)), *result.attempts[1:])
    return replace(result, attempts=attempts)


def test_the_first_cause_comes_before_what_followed_from_it() -> None:
    result = with_first_cause(fake.result(attempts=2), 4)
    attempt = result.attempts[0]

    chosen = summary.to_work_on(result)

    assert [(attempt.number, finding.number) for attempt, finding in chosen] == [(1, 4), (2, 1), (2, 2)]
    assert summary.first_cause(attempt) is attempt.findings[3]
    assert summary.what_followed(attempt, attempt.findings[3]) == "The minimum followed from it (finding 1)."
    assert summary.what_followed(attempt, attempt.findings[0]) == ""


def test_an_older_result_has_no_cause_and_keeps_its_order() -> None:
    result = fake.result()

    assert summary.first_cause(result.attempts[0]) is None
    assert [finding.number for _, finding in summary.to_work_on(result)] == [1, 2, 3]
    assert summary.to_practise(result) == []


def caused(attempt: Attempt, *numbers: int) -> Attempt:
    """The attempt with those findings as its causes, each with an exercise."""
    found = [attempt.findings[number - 1] for number in numbers]
    return replace(
        attempt,
        causes=tuple(Cause(rule=f.rule, phase=f.phase, start=f.start, message=f.message) for f in found),
        practice=tuple(
            Practice(what=f.rule, exercise="Fly it three times.", aim="All three.", finding=f.number)
            for f in found
        ),
    )


def test_exercises_are_those_of_the_things_to_work_on_in_their_order() -> None:
    """Three things stood on page one, and beside them exercises for others, in another order."""
    result = fake.result(attempts=2, findings=30)
    first, second = result.attempts
    result = replace(result, attempts=(caused(first, 4, 1, 3), caused(second, 2, 4)))

    to_work_on = summary.to_work_on(result)
    exercises = summary.to_practise(result)

    assert [(attempt.number, finding.number) for attempt, finding in to_work_on] == [(1, 4), (2, 2), (1, 1)]
    # which of two findings of one number an exercise is for is told by its attempt
    assert [entry.what for entry in exercises] == [
        f"Attempt {attempt.number}: {finding.rule}" for attempt, finding in to_work_on
    ]
    assert [entry.finding for entry in exercises] == [finding.number for _, finding in to_work_on]


def test_a_cause_that_led_to_nothing_is_no_first_cause() -> None:
    alone = with_first_cause(fake.result(), 3, leads_to=())
    chain = with_first_cause(fake.result(), 3)

    def told(result: Result) -> tuple[str, str]:
        return summary.work_sentences(result, *summary.to_work_on(result)[0])

    assert told(alone)[0] == alone.attempts[0].findings[2].message
    assert told(chain)[0] == f"First cause: {told(alone)[0]}"
    # what followed is told with its numbers, where there is room
    assert f"Finding 1: {chain.attempts[0].findings[0].message}" in told(chain)[1]


def test_the_same_fault_on_other_legs_is_told_with_the_one_that_stands_for_it() -> None:
    """Low on four legs, page one told of the first alone, and not of the one that was 890 ft too low."""
    result = fake.result(findings=8)
    attempt = result.attempts[0]
    low = {"rule": "altitude", "value": 2_000.0, "limit": 2_400.0}
    findings = tuple(
        replace(finding, **low) if finding.number in (2, 5, 7) else finding  # type: ignore[arg-type]
        for finding in attempt.findings
    )
    high = replace(findings[7], rule="altitude", value=3_000.0, limit=2_600.0)
    attempt = replace(attempt, findings=(*findings[:7], high))
    result = replace(result, attempts=(caused(attempt, 5, 1, 3, 2, 7, 8),))

    more = summary.work_sentences(result, *summary.to_work_on(result)[0])[1]

    assert summary.to_work_on(result)[0][1].number == 5
    assert f"The same in findings 2, 7. Finding 2: {findings[1].message}" in more


def test_what_followed_from_another_of_the_things_to_work_on_is_not_told_twice() -> None:
    result = fake.result(findings=8)
    attempt = result.attempts[0]
    findings = tuple(replace(f, rule="arc") if f.number in (2, 5) else f for f in attempt.findings)
    attempt = caused(replace(attempt, findings=findings), 1, 5, 3)
    causes = (replace(attempt.causes[0], leads_to=(1,)), *attempt.causes[1:])
    result = replace(result, attempts=(replace(attempt, causes=causes),))

    off_course = summary.to_work_on(result)[1]

    assert off_course[1].number == 5
    assert "The same in" not in summary.work_sentences(result, *off_course)[1]


@pytest.mark.parametrize(("lower_ft", "told"), [(90.0, True), (110.0, False)])
def test_who_is_as_low_on_three_legs_is_asked_about_the_altimeter(lower_ft: float, told: bool) -> None:
    result = fake.result(findings=8)
    low = [
        replace(finding, rule="altitude", value=2_000.0 - lower_ft * (finding.number == 3), limit=2_200.0)
        for finding in result.attempts[0].findings[:3]
    ]
    attempt = replace(result.attempts[0], findings=(*low, *result.attempts[0].findings[3:]))
    alone = replace(result, attempts=(caused(attempt, 1, 2, 3, 4, 5),))
    chain = caused(attempt, 1, 4, 5)
    chain = replace(chain, causes=(replace(chain.causes[0], leads_to=(1, 2)), *chain.causes[1:]))

    for one in (alone, replace(result, attempts=(chain,))):
        more = summary.work_sentences(one, *summary.to_work_on(one)[0])[1]
        assert ("check the altimeter setting first" in more) == told
        assert ("The same in findings 2, 3." in more) == (one is alone)  # else told as what followed


def test_a_doubt_is_told_as_one() -> None:
    """The terminal said "Work on first" of a descent that the log was not sure of."""
    result = with_first_cause(fake.result(), 4)
    doubtful = result.attempts[0].findings[3]

    assert doubtful.verdict == "marginal"
    assert summary.work_sentences(result, result.attempts[0], doubtful)[0].startswith(
        "First cause, marginal: "
    )
    assert f"To look at first, marginal: {doubtful.message}" in next(iter(terminal_lines(result)))


def test_page_one_says_what_the_landing_showed_of_the_altitude() -> None:
    """A log read 104 ft too high on the runway; it was said on the last page only."""
    result = fake.result()

    def said(measured_ft: float | None, left_ft: float | None) -> str:
        track = replace(result.track, altitude_offset_ft=measured_ft, altitude_left_ft=left_ft)
        return summary.altitude_sentence(replace(result, track=track))

    assert said(104.0, 104.0) == (
        "On the runway the altitude of this log reads 104 ft too high, and every verdict on altitude allows for it: to "
        "take it out, run again with --altitude-offset-ft -104."
    )
    assert "reads 96 ft too low" in said(-146.0, -96.0)
    assert said(-146.0, -96.0).endswith("-ft 146.")
    assert said(104.0, 4.0) == ""  # taken out
    assert said(-40.0, -40.0) == ""  # what an altimeter may be off by
    assert said(3000.0, None) == ""  # feet for metres: no offset mends it
    assert said(None, None) == ""


def test_an_attempt_outside_the_standard_comes_before_one_within_it() -> None:
    """Of five attempts the fourth went below the minimum; page one told of turns and overshoots of the first three."""
    result = fake.result(attempts=2, findings=4)
    first, second = result.attempts
    within = replace(first, grade=replace(first.grade, result="satisfactory"), findings=first.findings[1:])
    outside = replace(second, grade=replace(second.grade, result="unsatisfactory"))

    chosen = summary.to_work_on(replace(result, attempts=(within, outside)))

    assert chosen[0] == (outside, outside.findings[0])


def test_the_terminal_names_the_first_cause() -> None:
    speed = (
        "The fastest indicated airspeed in the reversal was about 209 kt, and 200 kt is the published limit."
    )

    def line(result: Result) -> str:
        return next(iter(terminal_lines(result)))

    assert line(with_first_cause(fake.result(), 4)).endswith(
        f"To look at first, marginal: {speed} One other finding followed from it."
    )
    assert line(with_first_cause(fake.result(), 4, leads_to=(0, 1))).endswith(
        f"To look at first, marginal: {speed} 2 other findings followed from it."
    )
    assert line(with_first_cause(fake.result(), 4, leads_to=())).endswith(
        f"To look at first, marginal: {speed}"
    )
    assert line(fake.result(findings=0)).endswith("Nothing to work on was found.")


def test_no_approach_is_said_plainly() -> None:
    result = fake.result(approach=False)

    assert summary.title(result) == "No approach found"
    assert summary.flown_sentence(result) == (
        "No approach was found: the log never comes nearer than 11.2 NM to LQN."
    )
    assert "leave that out: then the one that fits best is taken" in summary.no_approach_advice(result)
    assert "Lantern VOR/DME runway 22 in grey" in summary.no_approach_advice(result)

    searched = replace(result, procedure=replace(result.procedure, chosen="best fit", fit=0.0))
    assert summary.fit_sentence(searched) == ""
    assert "name its procedure with --procedure" in summary.no_approach_advice(searched)


def test_a_flight_that_could_not_be_judged_is_not_called_faultless() -> None:
    """A log of 25 s: "nothing to work on was found", though no leg could be judged."""
    result = fake.result(findings=0)
    attempt = result.attempts[0]
    unseen = replace(
        attempt, grade=replace(attempt.grade, result="not assessable", reason="It was too sparse.")
    )
    result = replace(result, attempts=(unseen,))

    assert summary.nothing_to_work_on(result).endswith("for the rest this says nothing.")
    assert next(iter(terminal_lines(result))).endswith(": not assessable. It was too sparse.")
