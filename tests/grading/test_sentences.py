"""Every sentence in every verdict: whole, with its quantities, and about the flying."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from functools import cache
from string import Formatter
from typing import Any, Literal, get_args

import numpy as np
import pytest

from debrief import debrief
from debrief.grading import load_standard
from debrief.grading.assessment import Assessment
from debrief.grading.case import Case
from debrief.grading.exercises import POINTER_EXERCISES
from debrief.grading.needle_scale import NeedleScale
from debrief.grading.pointer_advice import POINTER_ADVICE
from debrief.grading.rules import RULES, assess
from debrief.grading.sentence_table import SENTENCES
from debrief.grading.sentences import (
    advice,
    finding_kind,
    item_name,
    message,
    praise,
)
from debrief.grading.standard import RuleName
from debrief.grading.why import WHY, why_it_matters
from debrief.measures import measure
from debrief.measures.scene import scene_of
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.phases.model import NotSeen, Passage
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.guidance import MOST_LOCALISER_DEG, Guidance
from debrief.procedures.model import AltitudeLimit, Arc, Phase, Procedure
from debrief.reports.text import text_report
from debrief.result import ArcMeasures, Arrival, Spread, Wind
from debrief.simulation import Attempt, Faults, FlightPlan, fly
from debrief.simulation import Wind as Blowing
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Track
from tests.grading.approach import SURE_NM, case, with_rule
from tests.grading.test_rules_steering import away, chase, woven
from tests.measures import builders
from tests.measures.plan import OUTBOUND_TRUE_DEG

BUILT = builders.whole_approach()
M = BUILT.marks
DIP = ("turn off - 40", "turn off - 20")
TIMED = builders.procedure(outbound={"length": {"minutes": 2.5}})
NDB = builders.procedure(
    station={"kind": "NDB"},
    outbound={"length": {"minutes": 3.0}},
    final={"step_down": None, "missed_approach_point": {"minutes": 2.2}},
)


def _turn(**changes: Any) -> dict[str, Any]:
    return {"turn": {"lead_uncertainty_nm": 0.05, **changes}}


def _rule_cases() -> Iterator[Case]:
    """Between them, each variant of each rule, in each verdict it can have."""
    yield case()
    yield case(NDB)
    for depth_ft in (-120.0, -300.0):
        yield case(higher=[(*DIP, depth_ft)])
        yield case(higher=[("level + 8", "level + 18", depth_ft + 100.0)])
        level = [(M["into cone"] - 20.0 + 2.0 * n, M["into cone"], depth_ft / 10.0) for n in range(1, 11)]
        yield case(higher=level)
        yield case(NDB, higher=level)
        yield case(higher=[("turn off - 8", "turn off + 60", depth_ft)])
        low = ("turn off + 5", "established + 40", depth_ft + 20.0)
        lower = builders.procedure(intermediate={"altitude": {"at_or_above_ft": 1800}})
        yield case(lower, higher=[low, ("onto course - 5", "established + 30", -600.0)])
    low, down = ("turn off + 5", "established + 40", -110.0), ("onto course - 5", "established + 30", -105.0)
    yield case(
        builders.procedure(intermediate={"altitude": {"at_or_above_ft": 2550}}),
        higher=[low, down],
        sure_ft=120.0,
    )
    for beyond_ft in (20.0, 200.0):
        high = builders.procedure(
            intermediate={"altitude": {"at_ft": 2800}},
            final={"altitude": {"at_or_above_ft": 975}, "missed_approach_point": {"dme_nm": 4.4}},
        )
        yield case(high, higher=[("on course + 20", "on course + 60", 100.0 + beyond_ft)])
        yield case(high, higher=[("level + 10", "level + 16", 95.0 + beyond_ft)])
        step = {"until_dme_nm": 4.2, "at_or_above_ft": 980.0 + beyond_ft}
        yield case(builders.procedure(final={"altitude": {"at_or_above_ft": 900}, "step_down": [step]}))
    above = builders.procedure(inbound={"altitude": {"at_or_below_ft": 4100}})
    yield case(above)
    for off_deg in (7.6, -12.0):
        yield case(clockwise=[("turn off - 39", "turn off - 21", off_deg)])
        yield case(NDB, clockwise=[("turn off - 39", "turn off - 21", off_deg)])
    for off_deg in (5.1, 8.0):
        yield _never_established(off_deg)
    yield _never_established(60.0)
    first, second = BUILT.attempt.passages
    for distance_nm in (1.51, 2.5):
        abeam = builders.passage(first.t_s, distance_nm)
        yield case(attempt=replace(BUILT.attempt, passages=(abeam, second)))
    for lead_nm in (0.9, 1.5, 0.1, -0.36, -1.2):
        yield case(measures=_turn(lead_nm=lead_nm, exact_lead_nm=0.27))
    yield case(measures=_turn(lead_nm=-0.9, exact_lead_nm=1.4, change_deg=130.0))
    for dme_nm in (6.1, 6.72, 8.0, 5.9, 5.28, 4.0):
        yield case(measures={"outbound": {"turn_off_dme_nm": dme_nm}})
    for flown_s in (155.0, 170.5, 230.0, 145.0, 129.5, 90.0):
        yield case(TIMED, measures={"outbound": {"time_from_passage_s": flown_s}})
    for speed_kt in (10.0, 20.0):  # 166.7 and 187.5 s would be right
        wind = Wind(
            from_true_deg=OUTBOUND_TRUE_DEG,
            speed_kt=speed_kt,
            speed_uncertainty_kt=1.0,
            tas_kt=100.0,
            method="by hand",
        )
        for flown_s in (90.0, 129.5, 170.5, 185.0, 230.0):
            yield case(TIMED, measures={"outbound": {"time_from_passage_s": flown_s}}, wind=wind)
    yield case(measures={"course_reversal": {"pattern": "straight turn"}})
    yield case(measures={"course_reversal": {"side": "right"}})
    yield case(measures={"course_reversal": {"pattern": "teardrop"}})
    yield case(attempt=replace(BUILT.attempt, passages=(replace(first, distance_nm=0.4), second)))
    racetrack = builders.procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "leg_seconds": 60},
    )
    for side in ("left", "right"):
        yield case(racetrack, measures={"course_reversal": {"side": side, "pattern": "racetrack"}})
    reversal = BUILT.path.at(np.arange(M["turn off"], M["established"]))
    farthest_nm = float(np.hypot(reversal["east"], reversal["north"]).max())
    for within_nm in (farthest_nm + 0.5, farthest_nm - 0.01, 6.5):
        far = builders.procedure(course_reversal={"within_nm": within_nm})
        yield case(far)
        yield case(far, measures={"course_reversal": {"turn_start_distance_nm": None}})
    for kias in (150.0, 213.0, 240.0):
        speed = {"max_airspeed_kias": kias, "max_airspeed_uncertainty_kt": 5.0}
        yield case(measures={"course_reversal": speed})
    for most_kias in (103, 90):
        yield case(builders.procedure(course_reversal={"max_speed_kias": most_kias}))
    for angle_deg, over_nm in (
        (45.0, 0.2),
        (56.0, 0.42),
        (80.0, 1.0),
        (None, 0.42),
        (None, 1.0),
        (None, 0.2),
    ):
        intercept = {
            "angle_deg": angle_deg,
            "angle_uncertainty_deg": 2.0,
            "overshoot_nm": over_nm,
            "overshoot_uncertainty_nm": 0.05,
            "time": builders.EPOCH + timedelta(seconds=M["onto course"]),
        }
        yield case(measures={"intercept": intercept})
    for over_nm in (0.42, 1.0, 0.2):
        through = {"overshoot_nm": over_nm, "overshoot_uncertainty_nm": 0.05}
        turning = builders.EPOCH + timedelta(seconds=M["turn back"] + 30.0)
        yield case(measures={"intercept": through | {"crossed": turning, "angle_deg": None}})
        onto = builders.EPOCH + timedelta(seconds=M["onto course"])
        beside = [("onto course", "station", 8.5)]
        yield case(clockwise=beside, measures={"intercept": through | {"crossed": onto, "established": None}})
    for aside_deg in (7.8, 14.0):
        yield case(clockwise=[("turn off - 110", "turn off + 8", aside_deg)])
    for off_deg in (7.9, 12.0):
        yield case(clockwise=[("station - 26", "station - 18", off_deg)])
    for lower_ft in (-120.0, -350.0):
        yield case(higher=[("onto course - 5", "established + 30", lower_ft)])
    yield case(measures={"intercept": {"overshoot_nm": 0.0}})
    for limit_ft_min in (1300.0, 1100.0, 700.0, 500.0):
        standard = with_rule("descent_rate", at_most=limit_ft_min)
        gates = standard.gates.model_copy(update={"descent_rate_ft_min": limit_ft_min})
        yield case(standard=standard.model_copy(update={"gates": gates}), wander_ft=15.0)
    for past_nm, asked_ft_min in ((0.1, 500.0), (-0.1, 500.0), (0.52, 820.0), (1.4, 1000.0)):
        missed = {"missed_approach": {"start_past_point_nm": past_nm}}
        climb = with_rule("missed_approach", "ft/min", at_least=asked_ft_min)
        yield case(measures=missed, standard=climb, wander_ft=15.0)
        yield case(NDB, measures=missed, standard=climb)
    for size_deg in (9.0, 20.0):
        for in_cone in (False, True):
            yield case(measures=chase(size_deg, 5.0, in_cone=in_cone))
        yield case(measures=away(size_deg, 5.0))
        yield case(NDB, measures=away(size_deg, 5.0))
    for size_deg in (21.0, 30.0):
        yield case(measures=woven(size_deg, 5.0))
    yield _straight_in()
    yield _straight_in(passages=())
    for off_deg in (20.0, 30.5, -55.0):
        yield _straight_in(off_deg)
        yield _straight_in(off_deg, passages=())
    arc = builders.procedure(arc={"dme_nm": 3.0, "direction": "clockwise", "altitude": {"at_ft": 3000}})
    moment = builders.EPOCH + timedelta(seconds=M["on course"])
    for off_nm in (0.2, 1.01, 1.8):
        off = Spread(mean=off_nm, rms=off_nm, max_abs=off_nm, max_abs_time=moment, uncertainty=SURE_NM)
        for at in ("turn off", "into cone"):  # far out, and near the station
            here = builders.EPOCH + timedelta(seconds=M[at])
            flown_arc = ArcMeasures(
                start=moment,
                end=moment,
                from_radial_deg=200.0,
                to_radial_deg=290.0,
                off_nm=replace(off, max_abs_time=here),
                turn_in_radial_deg=None,
                turn_in_late_deg=None,
                altitude_ft=None,
            )
            yield case(arc, measures={"arc": flown_arc})
    for limit in ({"at_or_above_ft": 2600}, {"at_or_above_ft": 2740}, {"at_or_above_ft": 3000}):
        yield _on_the_arc(limit)
    for limit in ({"at_or_below_ft": 2510}, {"at_or_below_ft": 2300}):
        yield _on_the_arc(limit)
    slow = load_standard().gates.model_copy(update={"descent_rate_ft_min": 2000.0})
    for off_deg, sure_nm in ((10.5, 0.4), (14.0, SURE_NM)):
        standard = load_standard().model_copy(update={"gates": slow})
        yield case(clockwise=[("level", "climb", off_deg)], sure_nm=sure_nm, standard=standard)
    for lost_ft in (-150.0, -300.0):
        yield case(higher=[("station - 4", "final", lost_ft)])
        yield case(NDB, higher=[("station - 4", "final", lost_ft)])
    yield _circled("right")
    yield _circled("left")
    yield _circled("right", 60.0)
    yield _circled("right", 160.0)
    missed = {"altitude": {"at_ft": 3000}, "turn": "left"}
    published = builders.procedure(missed_approach=missed)
    for off_deg, level_ft in ((2.0, 3010.0), (11.0, 3130.0), (25.0, 3600.0), (-25.0, 2880.0), (0.0, 2400.0)):
        flown = {"course_off_deg": off_deg, "course_uncertainty_deg": 3.0, "level_altitude_ft": level_ft}
        yield case(published, measures={"missed_approach": flown | {"turn": "right"}})
    held = builders.procedure(missed_approach=missed | {"turn_at_ft": 2000})
    for off_deg in (11.0, 40.0):
        low_turn = {"course_off_deg": off_deg, "course_uncertainty_deg": 3.0, "turn_altitude_ft": 1400.0}
        yield case(held, measures={"missed_approach": low_turn})
    for begun_ft in (1400.0, 1880.0):
        only = {"course_off_deg": None, "course_uncertainty_deg": None, "turn_altitude_ft": begun_ft}
        yield case(held, measures={"missed_approach": only})
    climbing = builders.procedure(missed_approach=missed | {"altitude": {"at_or_above_ft": 3000}})
    yield case(climbing, measures={"missed_approach": {"level_altitude_ft": 3300.0}})
    yield case(measures={"arrival": _arrival(-150.0, straight_in=False, entry="parallel")})
    yield _landed()
    yield case(gaps=[(M["out of cone"] + 10.0, M["out of cone"] + 50.0)])
    yield case(no_altitude=[(-1.0, 1e6)])
    yield case(sure_ft=1000.0)
    yield _without(Phase.INTERMEDIATE)
    yield _with_log(median_interval_s=30.0)
    yield _with_log(other_pace=((0.0, 1e6, 2.0),))
    yield _at_a_rate("lantern-vor-22", 4.0)
    yield _at_a_rate("brandel-vor-09", 5.0)
    yield _joined_too_near()


def _at_a_rate(name: str, rate: float) -> Case:
    """A flight at another simulation rate, and no ground speed that would tell of it; straight in without a reversal."""
    procedure = load_procedure(name)
    course_deg = procedure.outbound_course_deg
    bearing_deg = procedure.inbound_course_deg + 180.0 if course_deg is None else course_deg + 150.0
    plan = FlightPlan(
        start_bearing_true_deg=procedure.true_deg(bearing_deg),
        start_distance_nm=20.0,
        attempts=(Attempt(straight_in=course_deg is None),),
    )
    return _case_of(procedure, plan, rate)


def _joined_too_near() -> Case:
    procedure = load_procedure("kestrey-ndb-09")
    plan = FlightPlan(
        start_bearing_true_deg=procedure.true_deg((procedure.outbound_course_deg or 0.0) + 230.0),
        wind=Blowing(from_true_deg=200.0, speed_kt=20.0),
        descent_ft_min=1300.0,
        attempts=(Attempt(ending="landing", faults=Faults(overshoot_nm=0.8, final_rate_ft_min=1300.0)),),
    )
    return _case_of(procedure, plan)


def _case_of(procedure: Procedure, plan: FlightPlan, rate: float = 1.0) -> Case:
    track = record(fly(procedure, plan), Sensor(columns=()))
    flight = look(replace(track, t_s=track.t_s / rate), procedure)
    found, standard = flight.attempts[0], load_standard()
    measured = measure(flight, found, None, gate_limits=standard.gate_limits)
    return Case(scene=scene_of(flight, found, None), measures=measured, standard=standard)


def _never_established(off_deg: float) -> Case:
    spans = tuple(
        replace(span, end_s=M["into cone"]) if span.phase is Phase.COURSE_REVERSAL else span
        for span in BUILT.attempt.spans
        if span.phase is not Phase.INTERMEDIATE
    )
    found = replace(BUILT.attempt, spans=spans, established_s=None)
    if off_deg > 45.0:  # never along the course for 10 s: the leg inbound is not there at all
        spans = tuple(
            replace(span, end_s=M["onto course"] + 8.0) if span.phase is Phase.COURSE_REVERSAL else span
            for span in spans
        )
        passages = (BUILT.attempt.passages[0], builders.passage(M["onto course"] + 8.0))
        return case(attempt=replace(found, spans=spans, passages=passages))
    return case(attempt=found, clockwise=[("onto course", "station", off_deg)])


def _on_the_arc(limit: dict[str, float]) -> Case:
    """A flown arc at 2,640 ft, held against another altitude."""
    published = load_procedure("gannetstone-vor-12")
    arc = Arc(dme_nm=10.0, direction="clockwise", altitude=AltitudeLimit.model_validate(limit))
    plan = published.model_copy(update={"arc": arc})
    found = look(_arc_track(), plan)
    measured = measure(found, found.attempts[0], None)
    return Case(scene=scene_of(found, found.attempts[0], None), measures=measured, standard=load_standard())


def _circled(side: Literal["left", "right"], low_ft: float = 0.0) -> Case:
    """Circling on one side, so far below the height that was planned."""
    published = load_procedure("pellarin-vor-17")
    attempt = Attempt(ending="landing", circle=side, faults=Faults(circling_low_ft=low_ft))
    flight = fly(published, FlightPlan(start_bearing_true_deg=330.0, attempts=(attempt,)))
    found = look(record(flight, Sensor(), 1), published)
    measured = measure(found, found.attempts[0], None)
    return Case(scene=scene_of(found, found.attempts[0], None), measures=measured, standard=load_standard())


@cache
def _arc_track() -> Track:
    plan = FlightPlan(start_bearing_true_deg=200.0, start_distance_nm=16.0, attempts=(Attempt(via_arc=True),))
    return record(fly(load_procedure("gannetstone-vor-12"), plan), Sensor(), 1)


def _arrival(off_deg: float, *, straight_in: bool, entry: Literal["parallel"] | None = None) -> Arrival:
    return Arrival(
        track_true_deg=(217.0 + off_deg) % 360.0,
        off_inbound_course_deg=off_deg,
        uncertainty_deg=1.0,
        straight_in=straight_in,
        entry=entry,
    )


def _straight_in(
    off_deg: float | None = None, passages: tuple[Passage, ...] = BUILT.attempt.passages
) -> Case:
    """Outbound and reversal left out; with an angle of arrival, where they may be within 30 degrees."""
    gone = (Phase.OUTBOUND, Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)
    spans = tuple(span for span in BUILT.attempt.spans if span.phase not in gone)
    not_seen = tuple(NotSeen(phase=phase, why="not flown") for phase in gone)
    found = replace(BUILT.attempt, spans=spans, not_seen=not_seen, passages=passages)
    if off_deg is None:
        return case(attempt=found)
    plan = builders.procedure(course_reversal={"when_straight_in_deg": 30})
    return case(plan, attempt=found, measures={"arrival": _arrival(off_deg, straight_in=True)})


def _landed() -> Case:
    """From the minimum on straight down to the runway, where the climb would have begun."""
    plan = builders.procedure(final={"altitude": {"at_or_above_ft": 970}})
    found = replace(
        BUILT.attempt,
        spans=tuple(span for span in BUILT.attempt.spans if span.phase is not Phase.MISSED_APPROACH),
        ending="landing",
    )
    down = [(f"level + {number}", "climb", -33.0) for number in range(1, 24)]
    return case(plan, attempt=found, higher=down)


def _without(phase: Phase) -> Case:
    hidden = NotSeen(phase=phase, why="not observed", start_s=500.0, end_s=640.0)
    spans = tuple(span for span in BUILT.attempt.spans if span.phase is not phase)
    return case(attempt=replace(BUILT.attempt, spans=spans, not_seen=(hidden,)))


def _with_log(**changes: Any) -> Case:
    whole = case()
    log = replace(whole.scene.flight.log, **changes)
    return replace(whole, scene=replace(whole.scene, flight=replace(whole.scene.flight, log=log)))


@cache
def everything() -> tuple[Assessment, ...]:
    """Every assessment of all those cases."""
    found: list[Assessment] = []
    for one in _rule_cases():
        for tolerance in one.standard.rule:
            found += RULES[tolerance.rule](one, tolerance)
    return tuple(found)


def _texts() -> list[tuple[str, str]]:
    texts = []
    for assessment in everything():
        if assessment.is_finding:
            texts += [(assessment.rule, message(assessment)), (assessment.rule, advice(assessment))]
            texts.append((assessment.rule, message(replace(assessment, times=3))))
        elif assessment.outcome == "within" and (said := praise(assessment)):
            texts.append((assessment.rule, said))
    return texts


def test_every_sentence_is_said_in_these_cases() -> None:
    said = {(a.rule, a.variant, a.outcome) for a in everything()}
    for (rule, variant), sentences in SENTENCES.items():
        if sentences.exceeded:
            assert {(rule, variant, "exceeded"), (rule, variant, "not flown")} & said, (rule, variant)
        if sentences.marginal:
            assert (rule, variant, "marginal") in said, (rule, variant)
        if sentences.well:
            assert (rule, variant, "within") in said, (rule, variant)


def test_no_verdict_is_without_its_sentence() -> None:
    for assessment in everything():
        if assessment.is_finding:
            assert message(assessment)
            assert advice(assessment)


def test_sentences_are_whole() -> None:
    for rule, text in _texts():
        assert re.fullmatch(r"[A-Z0-9].*[.]", text), (rule, text)
        assert "  " not in text, (rule, text)
        assert not re.search(r"None|nan|inf\b|unknown|[{}]| [.,;:]|\.\.", text), (rule, text)
        assert not re.search(r"(?<![\d:])-\d", text), (rule, text)


def test_they_speak_of_the_flying_and_not_of_the_flyer() -> None:
    for rule, text in _texts():
        assert not re.search(r"\b(you|your|pilot|student|poor|bad|careless)\b", text, re.IGNORECASE), (
            rule,
            text,
        )


def test_what_was_seen_has_a_number_or_a_name() -> None:
    for assessment in everything():
        if assessment.is_finding and assessment.variant not in ("phase",):
            assert re.search(r"\d|left|right|no altitude", message(assessment)), message(assessment)


@pytest.mark.parametrize("key", SENTENCES, ids=str)
def test_advice_says_how_much(key: tuple[str, str]) -> None:
    """A number or a quantity in each, but where there is nothing to change in the flying, or only to climb away."""
    template = SENTENCES[key].advice
    if (
        not template
        or key[0] == "log_quality"
        or key
        in {("reversal_missing", "left out"), ("reversal_missing", "left out, joined"), ("tracking", "lost")}
    ):
        return
    fields = [field for _, field, _, _ in Formatter().parse(template) if field]

    assert fields or re.search(r"\d", template), template


def test_a_repeated_fault_says_how_often() -> None:
    twice = next(a for a in everything() if a.rule == "altitude" and a.outcome == "exceeded")

    assert message(replace(twice, times=3)).endswith(". It happened 3 times; this was the worst.")


def test_items_are_named_apart() -> None:
    names = {}
    for assessment in assess(case()):
        if assessment.rule == "log_quality":
            continue
        name = item_name(assessment)
        assert name not in names, (name, names[name], assessment.rule)
        names[name] = assessment.rule


def test_a_finding_is_headed_by_what_it_is_about() -> None:
    """Climbing late stood under "Missed approach: missed approach", as did its climb and its course."""
    items = {
        item_name(assessment): finding_kind(assessment)
        for assessment in everything()
        if assessment.rule == "missed_approach"
    }
    assert items
    assert all(kind == item for item, kind in items.items())


def test_every_rule_says_why_it_matters_in_one_sentence() -> None:
    assert set(WHY) == set(get_args(RuleName))
    for rule in WHY:
        text = why_it_matters(rule)
        assert text.endswith(".")
        assert text.count(". ") == 0
        assert not re.search(r"\b(you|your|pilot)\b", text)  # of the flying, not of the flyer


def test_who_flies_by_a_pointer_is_told_of_no_needle() -> None:
    """NDB reports spoke of a needle's centre, its stop and a flag; a pointer has none of them."""
    needle = re.compile(r"needle\b(?!\})|\bflag\b|\bstop\b|\bcentre\b")
    for (rule, variant), sentences in SENTENCES.items():
        told = POINTER_ADVICE.get((rule, variant))
        assert told is not None or not needle.search(sentences.advice) or (rule, "pointer") in SENTENCES, (
            rule,
            variant,
        )
        assert told is None or not needle.search(told)
    for exercise in POINTER_EXERCISES.values():
        assert not needle.search(" ".join(exercise))
    for assessment in everything():
        if assessment.is_finding:
            assert re.fullmatch(r"[A-Z0-9].*[.]", advice(assessment, pointer=True))


def test_the_side_to_circle_on_is_published_and_no_standards() -> None:
    """A paragraph on the minimum of a straight-in approach stood under it."""
    found = assess(_circled("left"))

    [side] = [each for each in found if each.kind == "Side of circling"]
    assert str(side.tolerance.source) == "the published procedure is flown as drawn [common practice]"


@pytest.mark.parametrize(("shares", "said"), [(0.75, "2.25 degrees"), (0.5, "1.5 degrees")])
def test_a_limit_is_told_as_it_is(shares: float, said: str) -> None:
    """Three quarters of a localiser's full scale of 3 degrees were called 2.2 degrees, which they are not."""
    scale = NeedleScale(
        Guidance(unit="deg", full_scale=MOST_LOCALISER_DEG, course_true_deg=90.0, east_nm=0.0, north_nm=0.0)
    )

    assert scale.words(shares * FULL_SCALE_DEG) == said


def test_a_published_altitude_is_told_as_it_is() -> None:
    """A minimum of 625 ft was called 620 ft, and a flight to 615 ft was 5 ft below it."""
    lantern = load_procedure("lantern-vor-22")
    minimum = AltitudeLimit(at_or_above_ft=625)
    legs = tuple(
        leg.model_copy(update={"altitude": minimum}) if leg.phase == Phase.FINAL else leg
        for leg in lantern.leg
    )
    flown = fly(lantern, FlightPlan(attempts=(Attempt(faults=Faults(below_minimum_ft=150.0)),)))

    (attempt,) = debrief(record(flown, Sensor(), 3), lantern.model_copy(update={"leg": legs})).attempts

    (low,) = [each for each in attempt.findings if each.rule == "minimum_descent_altitude"]
    assert "the minimum descent altitude of 625 ft" in low.message


@pytest.mark.parametrize(
    "fault",
    [Faults(outbound_offset_deg=11.0), Faults(needle_reversed_deg=25.0), Faults(down_before_station_nm=3.0)],
)
def test_a_report_on_an_ndb_speaks_of_no_radial_and_no_needle(fault: Faults) -> None:
    """Of bearings and a pointer: a radial is a VOR's. Common practice."""
    procedure = load_procedure("brandel-ndb-27")
    assert procedure.outbound_course_deg is not None
    plan = FlightPlan(
        start_bearing_true_deg=procedure.true_deg(procedure.outbound_course_deg) + 120.0,
        attempts=(Attempt(faults=fault),),
    )
    log = record(fly(procedure, plan), Sensor(columns=("heading_true_deg",)))

    told = text_report(debrief(log, procedure))

    assert "Corrections towards the course" in told
    assert not re.search(r"\bradial\b|\bneedle\b", told, re.IGNORECASE)
