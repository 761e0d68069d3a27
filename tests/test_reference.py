"""The reference flight: the errorless approach beside the pilot's, against formulas written out here."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.lines import Line2D

from debrief import debrief, load_procedure
from debrief.measures import measure
from debrief.navigation.geodesy import inverse
from debrief.navigation.magnetism import variation_deg
from debrief.pipeline import look
from debrief.procedures.model import Phase, Procedure
from debrief.reference import reference_flight, with_references
from debrief.reports.pages import build_pages
from debrief.reports.result_json import read_result, result_json
from debrief.reports.style import REFERENCE_LOOK
from debrief.result import FinalMeasures, Reference, Wind
from debrief.simulation import Attempt, Faults, FlightPlan, fly
from debrief.simulation import Wind as Blowing
from debrief.simulation.sensor import Sensor, record

TWO_PERCENT = 0.02
ONE_DEGREE = 1.0
KIAS = 110.0
CALM = Blowing()
CLEAN = Attempt()
LANTERN = load_procedure("lantern-vor-22")
SALLOW = load_procedure("sallow-vor-13")
EXACT_LOG = Sensor(position_noise_m=0.1, position_wander_m=0.0, altitude_noise_ft=1.0, altitude_wander_ft=0.0)


def flown(
    procedure: Procedure,
    wind: Blowing = CALM,
    change_deg: float = 60.0,
    attempt: Attempt = CLEAN,
    kias: float = KIAS,
    known: bool = True,
) -> tuple[Reference | None, str]:
    """The reference to a simulated flight that turns by ``change_deg`` at the station (right positive)."""
    assert procedure.outbound_course_deg is not None
    arrival_true_deg = procedure.true_deg(procedure.outbound_course_deg) - change_deg
    plan = FlightPlan(
        start_bearing_true_deg=arrival_true_deg + 180.0,
        start_distance_nm=8.0,
        cruise_kias=kias,
        approach_kias=kias,
        wind=wind,
        attempts=(attempt,),
    )
    flight = look(record(fly(procedure, plan), EXACT_LOG), procedure)
    found = flight.attempts[0]
    blows = Wind(
        from_true_deg=wind.from_true_deg,
        speed_kt=wind.speed_kt,
        speed_uncertainty_kt=1.0,
        tas_kt=None,
        method="given",
    )
    measured = blows if known else None
    return reference_flight(flight, found, measure(flight, found, measured), measured)


def reference(*args: object, **switches: object) -> Reference:
    found, why = flown(*args, **switches)  # type: ignore[arg-type]  # passed on as they are
    assert found is not None, why
    return found


def true_airspeed_kt(kias: float, altitude_ft: float) -> float:
    """By the density of the standard atmosphere (ICAO Doc 7488; mark: memory), without compressibility."""
    return float(kias * (1.0 - 6.8756e-6 * altitude_ft) ** -2.12795)


def kept(course_true_deg: float, ktas: float, wind: Blowing) -> tuple[float, float]:
    """Heading and ground speed that keep a course: the wind triangle, solved by its sine. [deg, kt]"""
    angle = np.radians(wind.from_true_deg - course_true_deg)
    correction = np.arcsin(wind.speed_kt * np.sin(angle) / ktas)
    along_kt = ktas * np.cos(correction) - wind.speed_kt * np.cos(angle)
    return float(course_true_deg + np.degrees(correction)), float(along_kt)


def lead_in_wind_nm(change_deg: float, out_true_deg: float, ktas: float, wind: Blowing) -> float:
    """Where a turn at 3 deg/s must begin to end on the course: summed up in small steps, not solved.

    The turn is flown from the origin; how far beside the outbound course it ends is how far along the way in
    it must be moved.
    """
    in_true_deg = out_true_deg - change_deg
    from_deg, _ = kept(in_true_deg, ktas, wind)
    to_deg, _ = kept(out_true_deg, ktas, wind)
    headings = np.radians(np.linspace(from_deg, to_deg, 20_001))
    seconds = abs(to_deg - from_deg) / 3.0
    blown = np.radians(wind.from_true_deg + 180.0)
    middle = (headings[1:] + headings[:-1]) / 2.0
    east_nm = np.mean(ktas * np.sin(middle) + wind.speed_kt * np.sin(blown)) * seconds / 3600.0
    north_nm = np.mean(ktas * np.cos(middle) + wind.speed_kt * np.cos(blown)) * seconds / 3600.0
    out = np.radians(out_true_deg)
    beside_nm = east_nm * np.cos(out) - north_nm * np.sin(out)
    return float(-beside_nm / np.sin(np.radians(change_deg)))


@pytest.mark.parametrize(
    ("change_deg", "from_true_deg", "speed_kt"),
    [(-95.0, 250.0, 20.0), (-60.0, 33.0, 25.0), (45.0, 120.0, 15.0), (90.0, 310.0, 30.0), (60.0, 0.0, 0.0)],
)
def test_the_lead_is_that_of_the_exact_formula_in_the_wind(change_deg, from_true_deg, speed_kt):
    wind = Blowing(from_true_deg=from_true_deg, speed_kt=speed_kt)
    late = Attempt(faults=Faults(turn_late_nm=0.5))  # the pilot's own error is not in it

    found = reference(LANTERN, wind, change_deg, late)

    inbound = LANTERN.leg_of("inbound")
    assert inbound is not None
    assert inbound.altitude is not None
    assert inbound.altitude.low_ft is not None
    ktas = true_airspeed_kt(KIAS, inbound.altitude.low_ft)
    exact_nm = lead_in_wind_nm(change_deg, LANTERN.true_deg(LANTERN.outbound_course_deg), ktas, wind)
    assert found.errorless.lead_nm == pytest.approx(exact_nm, rel=TWO_PERCENT)
    assert found.flown.lead_nm is not None
    assert found.flown.lead_nm < exact_nm - 0.3


@pytest.mark.parametrize("toward_kt", [-25.0, 0.0, 20.0])
def test_a_timed_outbound_leg_is_as_long_as_the_wind_asks(toward_kt):
    """T x TAS / ground speed: the miles of the published time in still air. Habit of the trade: common practice."""
    course_true_deg = SALLOW.true_deg(SALLOW.outbound_course_deg)
    wind = Blowing(from_true_deg=(course_true_deg + 180.0) % 360.0 if toward_kt > 0 else course_true_deg)
    wind = replace(wind, speed_kt=abs(toward_kt))

    found = reference(SALLOW, wind)

    leg = SALLOW.outbound
    assert leg is not None
    assert leg.length is not None
    assert leg.length.minutes is not None
    assert leg.altitude is not None
    assert leg.altitude.low_ft is not None
    ktas = true_airspeed_kt(KIAS, leg.altitude.low_ft)
    exact_s = leg.length.minutes * 60.0 * ktas / (ktas + toward_kt)
    assert found.errorless.outbound_time_s == pytest.approx(exact_s, rel=TWO_PERCENT)


def test_an_outbound_leg_by_dme_ends_there_and_its_heading_allows_for_the_wind():
    wind = Blowing(from_true_deg=300.0, speed_kt=22.0)
    longer = Attempt(faults=Faults(outbound_longer_nm=1.5, outbound_offset_deg=6.0))

    found = reference(LANTERN, wind, 60.0, longer)

    leg, station = LANTERN.outbound, LANTERN.station
    assert leg is not None
    assert leg.length is not None
    assert leg.length.dme_nm is not None
    assert found.errorless.turn_off_dme_nm == pytest.approx(leg.length.dme_nm, rel=TWO_PERCENT)
    assert found.flown.turn_off_dme_nm == pytest.approx(leg.length.dme_nm + 1.5, rel=TWO_PERCENT)
    heading_true_deg, _ = kept(
        LANTERN.true_deg(LANTERN.outbound_course_deg), true_airspeed_kt(KIAS, 2500.0), wind
    )
    today_deg = variation_deg(station.latitude, station.longitude, 0.0, FlightPlan().epoch)
    heading_mag_deg = found.errorless.outbound_heading_mag_deg
    assert heading_mag_deg == pytest.approx((heading_true_deg - today_deg) % 360.0, abs=ONE_DEGREE)


@pytest.mark.parametrize("change_deg", [165.0, -140.0, 60.0])
def test_the_outbound_heading_is_that_along_the_course_and_not_on_the_way_onto_it(change_deg):
    """After a turn overhead a third of the leg is an intercept: its heading moved the mean by 25 degrees and more."""
    wind = Blowing(from_true_deg=300.0, speed_kt=22.0)

    found = reference(LANTERN, wind, change_deg)

    station = LANTERN.station
    heading_true_deg, _ = kept(
        LANTERN.true_deg(LANTERN.outbound_course_deg), true_airspeed_kt(KIAS, 2900.0), wind
    )
    today_deg = variation_deg(station.latitude, station.longitude, 0.0, FlightPlan().epoch)
    for figures in (found.flown, found.errorless):
        assert figures.outbound_heading_mag_deg == pytest.approx(
            (heading_true_deg - today_deg) % 360.0, abs=3.0 * ONE_DEGREE
        )


@pytest.mark.parametrize(("from_true_deg", "speed_kt"), [(0.0, 0.0), (250.0, 20.0), (100.0, 25.0)])
def test_an_intercept_that_is_held_is_flown_at_45_deg_over_the_ground(from_true_deg, speed_kt):
    """Where the leg away is long, the turn back ends well before the needle comes alive."""
    legs = tuple(
        leg.model_copy(update={"leg_seconds": 150.0, "within_nm": 20.0})
        if leg.phase == "course_reversal"
        else leg
        for leg in LANTERN.leg
    )
    long_way = LANTERN.model_copy(update={"leg": legs})
    steep = Attempt(faults=Faults(intercept_angle_deg=70.0))

    found = reference(long_way, Blowing(from_true_deg=from_true_deg, speed_kt=speed_kt), 60.0, steep)

    assert found.errorless.intercept_angle_deg == pytest.approx(45.0, rel=TWO_PERCENT)
    assert found.flown.intercept_angle_deg is not None
    assert found.flown.intercept_angle_deg > 60.0


def test_what_the_pilot_did_wrong_does_not_move_it():
    wind = Blowing(from_true_deg=280.0, speed_kt=15.0)
    clean = reference(LANTERN, wind)
    wrong = Attempt(faults=Faults(wrong_side=True, turn_late_nm=0.6, final_offset_deg=4.0))
    faulty = reference(LANTERN, wind, 60.0, wrong)

    assert clean.errorless.reversal_width_nm == pytest.approx(faulty.errorless.reversal_width_nm, rel=0.05)
    assert clean.errorless.lead_nm == pytest.approx(faulty.errorless.lead_nm, rel=TWO_PERCENT)
    assert clean.errorless.descent_angle_deg == pytest.approx(faulty.errorless.descent_angle_deg, rel=0.05)
    assert clean.possible
    assert clean.why == ""


def test_the_same_attempt_gives_the_same_reference():
    wind = Blowing(from_true_deg=280.0, speed_kt=15.0)

    first, second = reference(LANTERN, wind), reference(LANTERN, wind)

    assert first == second
    assert np.array_equal(first.flight.view.east_nm, second.flight.view.east_nm)


def test_too_fast_for_the_distance_limit_is_said():
    found = reference(SALLOW, Blowing(from_true_deg=133.0, speed_kt=30.0), kias=185.0)

    limit_nm = SALLOW.reversal.within_nm if SALLOW.reversal is not None else None
    assert limit_nm is not None
    assert found.errorless.reversal_max_distance_nm is not None
    assert found.errorless.reversal_max_distance_nm > limit_nm
    assert not found.possible
    assert f"stay within {limit_nm:g} NM" in found.why
    assert "at most 140 kt are published" in found.why


def test_without_a_wind_it_is_flown_in_still_air_at_ground_speed_and_says_so():
    found = reference(LANTERN, Blowing(from_true_deg=213.0, speed_kt=15.0), known=False)

    assert found.wind_speed_kt is None
    assert found.wind_from_true_deg is None
    assert "still air" in found.method
    assert "ground speeds" in found.method
    assert found.approach_kias > KIAS + 3.0  # a tailwind outbound, for most of the way
    assert found.errorless.outbound_heading_mag_deg is None


def test_a_wind_that_nobody_could_fly_in_gives_a_reason_instead():
    flight = look(record(fly(LANTERN, FlightPlan()), EXACT_LOG), LANTERN)
    attempt = flight.attempts[0]
    storm = Wind(from_true_deg=0.0, speed_kt=90.0, speed_uncertainty_kt=1.0, tas_kt=110.0, method="given")
    still = replace(storm, speed_kt=0.0)

    nothing, why = reference_flight(flight, attempt, measure(flight, attempt, still), storm)

    assert nothing is None
    assert why.startswith("No flight without error")
    assert "90 kt" in why


def test_a_reversal_alone_has_none_and_no_reason():
    flight = look(record(fly(LANTERN, FlightPlan()), EXACT_LOG), LANTERN)
    whole = flight.attempts[0]
    part = replace(whole, spans=whole.spans[:1])

    assert reference_flight(flight, part, measure(flight, whole, None), None) == (None, "")


def test_the_result_file_holds_its_figures_and_not_its_arrays(tmp_path):
    log = record(fly(LANTERN, FlightPlan(wind=Blowing(from_true_deg=250.0, speed_kt=14.0))))
    result = with_references(debrief(log, LANTERN))
    text = result_json(result)
    file = tmp_path / "result.json"
    file.write_text(text, encoding="utf-8")

    assert result.attempts[0].reference is not None
    assert result.attempts[0].reference.flight is not None
    written = json.loads(text)["attempts"][0]["reference"]
    assert "flight" not in written
    assert set(written["flown"]) == set(written["errorless"])
    assert read_result(file).attempts == result.attempts


def test_pictures_and_table_show_it_beside_the_flight():
    log = record(fly(LANTERN, FlightPlan(wind=Blowing(from_true_deg=250.0, speed_kt=14.0))))
    pages = build_pages(with_references(debrief(log, LANTERN)), "A4")
    words = [{text.text for text in page.texts} for page in pages]
    dotted = [
        sum(line.get_color() == REFERENCE_LOOK.colour for line in page.figure.findobj(Line2D))
        for page in pages
    ]

    plan = next(i for i, said in enumerate(words) if "As published, still air" in said)
    profile = next(i for i, said in enumerate(words) if "The final" in said)
    assert REFERENCE_LOOK.name in words[plan] & words[profile]
    assert dotted[plan] >= 2  # the line, and its sample in the legend
    assert dotted[profile] >= 3  # on the profile, on the final, in the legend
    assert any("Beside an errorless flight in the same wind" in said for said in words)


def test_nothing_is_drawn_where_there_is_none():
    log = record(fly(LANTERN, FlightPlan(wind=Blowing(from_true_deg=250.0, speed_kt=14.0))))
    result = debrief(log, LANTERN)

    said = {text.text for page in build_pages(result, "A4") for text in page.texts}

    assert REFERENCE_LOOK.name not in said
    assert not any("errorless" in text for text in said)


@pytest.mark.parametrize("wind_kt", [-15.0, 0.0, 15.0])
@pytest.mark.parametrize(
    "name",
    [
        "brandel-ndb-27",
        "dunmarrow-localiser-09",
        "ember-vor-17",
        "lantern-vor-22",
        "marrow-vor-31",
        "ulvering-vor-24",
    ],
)
def test_it_goes_down_from_the_fix_at_the_published_angle_and_never_through_a_limit(name, wind_kt):
    """Or at what it takes from the lowest altitude at the fix to 50 ft over the threshold, where that is steeper.

    50 ft: ICAO Doc 8168 Vol II, I-4-5, 5.5.1. Mark: seen. It waited for the end of the cone, and was as much steeper.
    """
    procedure = load_procedure(name)
    final, at_fix, runway = procedure.final, procedure.leg_of("intermediate"), procedure.runway
    assert final is not None
    assert final.altitude is not None
    assert runway is not None
    assert at_fix is not None
    assert at_fix.altitude is not None
    assert final.missed_approach_point is not None
    wind = Blowing(from_true_deg=procedure.true_deg(final.course_deg or 0.0), speed_kt=abs(wind_kt))
    wind = replace(wind, from_true_deg=wind.from_true_deg + (180.0 if wind_kt < 0.0 else 0.0))

    found = reference(procedure, wind)

    station = procedure.station
    far_nm, _ = inverse(station.latitude, station.longitude, runway.latitude, runway.longitude)
    down_ft = (at_fix.altitude.low_ft or 0.0) + FlightPlan().altitude_margin_ft - runway.elevation_ft - 50.0
    takes_deg = np.degrees(np.arctan(down_ft / (far_nm * 1852.0 / 0.3048)))
    assert found.errorless.descent_angle_deg == pytest.approx(
        max(final.descent_angle_deg or 0.0, takes_deg), abs=0.1
    )
    begins_nm = (
        far_nm
        - down_ft / np.tan(np.radians(max(final.descent_angle_deg or 0.0, takes_deg))) * 0.3048 / 1852.0
    )
    assert found.errorless.descent_start_distance_nm == pytest.approx(begins_nm + 0.08, abs=0.12)
    flight = found.flight
    assert flight is not None
    span = flight.attempts[0].last(Phase.FINAL)
    assert span is not None
    view = flight.view.between(span.start_s, span.end_s)
    up_nm = (view.altitude_ft - station.elevation_ft) * 0.3048 / 1852.0
    dme_nm = np.hypot(view.distance_nm, up_nm)
    lowest_ft = np.full(len(view), final.altitude.low_ft)
    for step in final.step_down:
        lowest_ft[dme_nm < step.until_dme_nm] = np.maximum(
            lowest_ft[dme_nm < step.until_dme_nm], step.at_or_above_ft
        )
    assert (view.altitude_ft >= lowest_ft).all()
    at_point = int(np.argmax(dme_nm >= final.missed_approach_point.dme_nm))
    assert view.altitude_ft[at_point] == pytest.approx((final.altitude.low_ft or 0.0) + 40.0, abs=15.0)


def measure_of(found: Reference) -> FinalMeasures:
    """The final of a reference, measured as a log's."""
    assert found.flight is not None
    final = measure(found.flight, found.flight.attempts[0], None).final
    assert final is not None
    return final


@pytest.mark.parametrize("name", ["dateline-ndb-35", "tarnwick-vor-27"])
def test_it_goes_down_more_steeply_where_a_timed_final_ends_before_the_runways_path_is_at_the_minimum(name):
    """But not steeper than 400 ft/NM. Source: FAA Order 8260.3 (TERPS). Mark: seen (2nd hand)."""
    procedure = load_procedure(name)
    course_deg = procedure.true_deg(procedure.inbound_course_deg)

    still, headwind = (
        reference(procedure),
        reference(procedure, Blowing(from_true_deg=course_deg, speed_kt=20.0)),
    )

    assert still.errorless.descent_angle_deg is not None
    assert headwind.errorless.descent_angle_deg is not None
    assert still.errorless.descent_angle_deg < 3.2
    assert still.errorless.descent_angle_deg + 0.3 < headwind.errorless.descent_angle_deg
    # the height that is kept while the descent begins is lost on the rest of the way
    assert headwind.errorless.descent_angle_deg < np.degrees(np.arctan(400.0 * 0.3048 / 1852.0)) + 0.3
    final = measure_of(headwind)
    assert procedure.final is not None
    assert final.altitude_at_missed_approach_point_ft is not None
    assert final.altitude_at_missed_approach_point_ft < procedure.low_ft("final") + 60.0
