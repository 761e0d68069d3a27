"""Every mistake in a procedure file is named on one line: the whole text of each."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from debrief.procedures import load_procedure
from debrief.procedures.remarks import remarks
from tests.procedures.practice import VALID, changed, message

STATION_KEYS = "ident, kind, latitude, longitude, elevation_ft, declination_deg"
TOP_KEYS = "format, name, note, issued, station, runway, leg, other_station, arc, final_guidance, visual_segment, circling, missed_approach, hold"

MISTAKES = {
    "misspelt key": (
        ("latitude = 47.1", "lattitude = 47.1"),
        f"p.toml, key station.lattitude: the key is unknown. Did you mean latitude? Keys here: {STATION_KEYS}.",
    ),
    "key without its unit": (
        ("within_nm = 10", "within = 10"),
        (
            "p.toml, key leg 3 (course_reversal).within: the key is unknown. Did you mean within_nm? "
            "Keys here: phase, pattern, side, within_nm, leg_seconds, max_speed_kias, "
            "when_straight_in_deg, altitude."
        ),
    ),
    "misspelt value": (
        ('side = "left"', 'side = "lft"'),
        (
            'p.toml, key leg 3 (course_reversal).side: "lft" is not known. Allowed: "left", "right". '
            'Did you mean "left"?'
        ),
    ),
    "misspelt phase": (
        ('"final"', '"Final"'),
        (
            'p.toml, key leg 5 (Final).phase: "Final" is not known. Allowed: "inbound", "outbound", '
            '"course_reversal", "intermediate", "final". Did you mean "final"?'
        ),
    ),
    "latitude off the Earth": (
        ("latitude = 47.1", "latitude = 95"),
        "p.toml, key station.latitude: 95 is out of range. Allowed: -90 to 90.",
    ),
    "radial beyond the circle": (
        ("radial_deg = 44", "radial_deg = 400"),
        "p.toml, key leg 2 (outbound).radial_deg: 400 is out of range. Allowed: 0 to 360.",
    ),
    "speed of nothing": (
        ("max_speed_kias = 200", "max_speed_kias = 0"),
        "p.toml, key leg 3 (course_reversal).max_speed_kias: 0 is out of range. Allowed: above 0 to 500.",
    ),
    "number in quotes": (
        ("radial_deg = 44", 'radial_deg = "44"'),
        'p.toml, key leg 2 (outbound).radial_deg: "44" is not a number. Give a number, without quotes and unit.',
    ),
    "not a number at all": (
        ("elevation_ft = 310", "elevation_ft = nan"),
        "p.toml, key station.elevation_ft: nan is not a number. Give a number, without quotes and unit.",
    ),
    "text without quotes": (
        ('ident = "22"', "ident = 22"),
        'p.toml, key runway.ident: 22 is not a text. Give a text in "quotes".',
    ),
    "later format": (("format = 1", "format = 2"), "p.toml, key format: 2 is not known. Allowed: 1."),
    "date in words": (
        ("2026-01-15", '"soon"'),
        'p.toml, key issued: "soon" is not a date. Write 2026-01-15, without quotes.',
    ),
    "both ways to end a step": (
        (
            "{ until_dme_nm = 2.0,",
            '{ until_dme_nm = 2.0, until_radial = { station = "MWX", radial_deg = 196 },',
        ),
        (
            "p.toml, key leg 5 (final).step_down 1: takes exactly one of until_dme_nm, until_radial; both given."
        ),
    ),
    "a crossing radial of a station that is not given": (
        ("{ until_dme_nm = 2.0,", '{ until_radial = { station = "MWX", radial_deg = 196 },'),
        (
            "p.toml, key leg 5 (final).step_down 1.until_radial.station: there is no other station MWX. Add an "
            "[[other_station]] with its ident and position."
        ),
    ),
    "a missed approach that does not climb": (
        ("[station]", "[missed_approach]\naltitude = { at_or_above_ft = 900 }\n\n[station]"),
        (
            "p.toml, key missed_approach.altitude: 900 ft is not above the minimum of 980 ft. The missed approach "
            "climbs."
        ),
    ),
    "a turn altitude without a turn": (
        (
            "[station]",
            "[missed_approach]\nturn_at_ft = 1500\naltitude = { at_or_above_ft = 3000 }\n\n[station]",
        ),
        (
            "p.toml, key missed_approach.turn_at_ft: it gives where to turn, but turn is missing. Give turn = "
            '"left" or turn = "right", or leave it out.'
        ),
    ),
    "a hold under the ground": (
        (
            "[station]",
            '[hold]\ncourse_deg = 224\nside = "left"\naltitude = { at_or_above_ft = 300 }\n\n[station]',
        ),
        (
            "p.toml, key hold.altitude: 300 ft is not above the station, which stands at 310 ft. Altitudes are feet "
            "above mean sea level."
        ),
    ),
    "key that the reader fills": (
        ("format = 1", 'format = 1\nsha256 = "0"'),
        f"p.toml, key sha256: the key is unknown. Keys here: {TOP_KEYS}.",
    ),
    "two mistakes": (
        ("[station]", "pilot = 3\n[station]\nmast = 1"),
        f"p.toml, key station.mast: the key is unknown. Keys here: {STATION_KEYS}. (1 more mistake in this file.)",
    ),
    "table left out": (
        ("[station]", "[runway.station]"),
        (
            "p.toml, key runway.station: the key is unknown. "
            "Keys here: ident, latitude, longitude, elevation_ft, course_true_deg. (1 more mistake in this file.)"
        ),
    ),
    "both lengths": (
        ("{ dme_nm = 5.0 }", "{ dme_nm = 5.0, minutes = 2 }"),
        "p.toml, key leg 2 (outbound).length: takes exactly one of dme_nm, minutes; both given.",
    ),
    "length as a number": (
        ("{ dme_nm = 5.0 }", "5.0"),
        "p.toml, key leg 2 (outbound).length: 5 is not a table. Keys here: dme_nm, minutes.",
    ),
    "two altitude limits": (
        ("{ at_or_above_ft = 4000 }", "{ at_or_above_ft = 4000, at_ft = 4000 }"),
        (
            "p.toml, key leg 1 (inbound).altitude: takes exactly one of at_or_above_ft, at_or_below_ft, at_ft, "
            "between_ft; 2 given."
        ),
    ),
    "band upside down": (
        ("{ at_or_above_ft = 4000 }", "{ between_ft = [4000, 3000] }"),
        "p.toml, key leg 1 (inbound).altitude: between_ft takes [low, high] with low below high.",
    ),
    "half a band": (
        ("{ at_or_above_ft = 4000 }", "{ between_ft = [4000] }"),
        "p.toml, key leg 1 (inbound).altitude.between_ft 2: value 2 is missing. Give both, as [low, high].",
    ),
    "key of another leg": (
        ("course_deg = 224\naltitude = { at_or_above_ft = 2800 }", "course_deg = 224\nradial_deg = 44"),
        (
            "p.toml, key leg 4 (intermediate).radial_deg: radial_deg does not belong to a leg of this phase. "
            "It takes phase, course_deg, altitude."
        ),
    ),
    "course for a radial": (
        ("radial_deg = 44", "course_deg = 44"),
        (
            "p.toml, key leg 2 (outbound).course_deg: only the outbound leg of a racetrack takes course_deg. "
            "Give radial_deg, the radial flown outbound."
        ),
    ),
    "final course across the others": (
        (
            "course_deg = 224\naltitude = { at_or_above_ft = 980 }",
            "course_deg = 314\naltitude = { at_or_above_ft = 980 }",
        ),
        (
            "p.toml, key leg 5 (final).course_deg: 314 lies 90 degrees from 224, the intermediate course, which the "
            "outbound leg agrees with. Give the magnetic course flown inbound."
        ),
    ),
    "latitude and longitude swapped beyond the pole": (
        ("latitude = 47.1\nlongitude = -31.2\n", "latitude = 131.2\nlongitude = 47.1\n"),
        "p.toml, key station.latitude: 131.2 is out of range. Allowed: -90 to 90.",
    ),
    "decimal comma": (
        ("latitude = 47.1\n", "latitude = 47,1234\n"),
        ("p.toml, line 8: a number stands with a decimal comma. Write a point in its place: 47.1234."),
    ),
    "decimal comma in a table": (
        ("dme_nm = 5.0", "dme_nm = 5,5"),
        ("p.toml, line 27: a number stands with a decimal comma. Write a point in its place: 5.5."),
    ),
    "latitude and longitude of the runway swapped": (
        ("latitude = 47.03\nlongitude = -31.266", "latitude = -31.266\nlongitude = 47.03"),
        (
            "p.toml, key runway: the threshold lies 6,304 NM from the station. "
            "Latitude and longitude of one of the two seem to be exchanged."
        ),
    ),
    "latitude and longitude of the station swapped": (
        ("latitude = 47.1\nlongitude = -31.2\n", "latitude = -31.2\nlongitude = 47.1\n"),
        (
            "p.toml, key runway: the threshold lies 6,304 NM from the station. "
            "Latitude and longitude of one of the two seem to be exchanged."
        ),
    ),
    "the beginning of a table's name": (
        ("[station]", "[missed]\naltitude = { at_or_above_ft = 3000 }\n\n[station]"),
        f"p.toml, key missed: the key is unknown. Did you mean missed_approach? Keys here: {TOP_KEYS}.",
    ),
    "radial across the course": (
        ("radial_deg = 44", "radial_deg = 144"),
        (
            "p.toml, key leg 2 (outbound).radial_deg: 144 lies 100 degrees from 44, the way back along the "
            "inbound course 224; one of the two is wrong. In a 45/180 the two agree within a few degrees."
        ),
    ),
    "no length": (
        ("length = { dme_nm = 5.0 }\n", ""),
        (
            "p.toml, key leg 2 (outbound).length: the key is missing. "
            "Give length = { dme_nm = ... } or length = { minutes = ... }."
        ),
    ),
    "no pattern": (
        ('pattern = "45/180"\n', ""),
        (
            "p.toml, key leg 3 (course_reversal).pattern: the key is missing. "
            'Give one of "45/180", "80/260", "base turn", "racetrack".'
        ),
    ),
    "no side": (
        ('side = "left"\n', ""),
        (
            "p.toml, key leg 3 (course_reversal).side: the key is missing. "
            'Give the side of the outbound course on which it is flown: "left" or "right".'
        ),
    ),
    "no room": (
        ("within_nm = 10", "within_nm = 4"),
        (
            "p.toml, key leg 3 (course_reversal).within_nm: 4 leaves no room after an outbound leg to 5 DME. "
            "It counts from the station and holds the whole reversal."
        ),
    ),
    "distance without DME": (
        ('"VOR/DME"', '"VOR"'),
        (
            "p.toml, key leg 2 (outbound).length.dme_nm: the station is a VOR, which has no DME. "
            'Give minutes, or station.kind = "VOR/DME". (2 more mistakes in this file.)'
        ),
    ),
    "sign of the longitude": (
        ("longitude = -31.2\n", "longitude = 31.2\n"),
        (
            "p.toml, key runway: the threshold lies 2,491 NM from the station. "
            "Check latitude and longitude of both: south and west are negative."
        ),
    ),
    "minimum under the runway": (
        ("at_or_above_ft = 980", "at_or_above_ft = 98"),
        (
            "p.toml, key leg 5 (final).altitude: the minimum of 98 ft does not fit the threshold's elevation of "
            "214 ft. It lies above it, by 5,000 ft at most."
        ),
    ),
    "minimum above the way there": (
        ("at_or_above_ft = 980", "at_or_above_ft = 2900"),
        (
            "p.toml, key leg 5 (final).altitude: the minimum of 2900 ft is higher than the 2800 ft of the "
            "course_reversal leg. The final leg descends."
        ),
    ),
    "altitude under the station": (
        ("elevation_ft = 310", "elevation_ft = 5310"),
        (
            "p.toml, key leg 1 (inbound).altitude: 4000 ft is not above the station, which stands at 5310 ft. "
            "Altitudes are feet above mean sea level."
        ),
    ),
    "step under the minimum": (
        ("at_or_above_ft = 1700", "at_or_above_ft = 900"),
        (
            "p.toml, key leg 5 (final).step_down 1.at_or_above_ft: 900 is not above the minimum of 980 ft. "
            "A step-down holds the aircraft above the minimum for a while."
        ),
    ),
    "step past the missed approach point": (
        ("until_dme_nm = 2.0", "until_dme_nm = 5.0"),
        (
            "p.toml, key leg 5 (final).step_down 1.until_dme_nm: 5 is not before the missed approach point at "
            "4.6 DME. A step ends before the missed approach point."
        ),
    ),
    "steps that come back": (
        (
            "{ until_dme_nm = 2.0, at_or_above_ft = 1700 }",
            "{ until_dme_nm = 2.0, at_or_above_ft = 1700 }, { until_dme_nm = 1.0, at_or_above_ft = 1500 }",
        ),
        (
            "p.toml, key leg 5 (final).step_down 2.until_dme_nm: 1 comes after 2. "
            "In the order flown the distances grow away from the station."
        ),
    ),
    "steps that climb": (
        (
            "{ until_dme_nm = 2.0, at_or_above_ft = 1700 }",
            "{ until_dme_nm = 2.0, at_or_above_ft = 1700 }, { until_dme_nm = 3.0, at_or_above_ft = 1800 }",
        ),
        (
            "p.toml, key leg 5 (final).step_down 2.at_or_above_ft: 1800 is not below the 1700 before it. "
            "Each step is lower than the one before."
        ),
    ),
    "two legs of a phase": (
        ('"intermediate"', '"outbound"'),
        "p.toml, key leg 4 (outbound).phase: there are two outbound legs. Leave one.",
    ),
    "intermediate course elsewhere": (
        ("course_deg = 224\naltitude = { at_or_above_ft = 2800 }", "course_deg = 184"),
        (
            "p.toml, key leg 4 (intermediate).course_deg: 184 lies 40 degrees from the final course 224. "
            "The two agree within 30 degrees."
        ),
    ),
    "no course": (
        ("course_deg = 224\naltitude = { at_or_above_ft = 980 }", "altitude = { at_or_above_ft = 980 }"),
        "p.toml, key leg 5 (final).course_deg: the key is missing. Give the magnetic course flown inbound.",
    ),
    "no minimum": (
        ("{ at_or_above_ft = 980 }", "{ at_or_below_ft = 980 }"),
        (
            "p.toml, key leg 5 (final).altitude: the minimum descent altitude is missing. "
            "Give altitude = { at_or_above_ft = ... }."
        ),
    ),
    "no 45-degree leg": (
        ("leg_seconds = 60", "leg_seconds = 0"),
        (
            "p.toml, key leg 3 (course_reversal).leg_seconds: it is 0, but a 45/180 needs its 45-degree leg. "
            "Give 60, or 75."
        ),
    ),
    "value left out": (
        ("radial_deg = 44", "radial_deg = "),
        (
            "p.toml, line 26: this is not valid TOML: invalid value. "
            'A line reads key = value, a text stands in "quotes".'
        ),
    ),
    "key twice": (
        ("leg_seconds = 60", "leg_seconds = 60\nleg_seconds = 75"),
        (
            "p.toml, line 36: this is not valid TOML: cannot overwrite a value. "
            "The same key or table stands twice, or [name] for [[name]]."
        ),
    ),
    "bracket left open": (
        ("descent_angle_deg = 3.0", "descent_angle_deg = [3.0"),
        (
            "p.toml, line 50: this is not valid TOML: unclosed array. "
            'A line reads key = value, a text stands in "quotes".'
        ),
    ),
    "thousands of digits": (
        ("within_nm = 10", f"within_nm = {'9' * 5000}"),
        (
            "p.toml: this is not valid TOML: a number has thousands of digits. "
            'A line reads key = value, a text stands in "quotes".'
        ),
    ),
    "thousands of brackets": (
        ("within_nm = 10", f"within_nm = {'[' * 5000}"),
        "p.toml: the brackets are nested too deeply. A procedure file is TOML.",
    ),
}


@pytest.mark.parametrize(("change", "text"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_is_named(change: tuple[str, str], text: str, folder: Path) -> None:
    assert message(changed(*change), folder) == text


def test_both_courses_back_across_the_runway_and_the_outbound_leg_are_blamed_not_that_leg(
    folder: Path,
) -> None:
    assert message(VALID.replace("course_deg = 224", "course_deg = 314"), folder) == (
        "p.toml, key leg 4 (intermediate).course_deg: 314 lies 90 degrees from 224, the runway's direction by the "
        "station's alignment, which the outbound leg agrees with. Give the magnetic course flown inbound. "
        "(1 more mistake in this file.)"
    )


def test_a_latitude_beyond_the_pole_that_is_the_longitude_is_told(folder: Path) -> None:
    east = VALID.replace("longitude = -31.2\n", "longitude = 131.2\n").replace("-31.266", "131.134")
    swapped = east.replace("latitude = 47.03\nlongitude = 131.134", "latitude = 131.134\nlongitude = 47.03")

    assert message(swapped, folder) == (
        "p.toml, key runway.latitude: 131.134 is out of range. Allowed: -90 to 90. Latitude and longitude seem to be "
        "exchanged."
    )


def leg_texts() -> list[str]:
    return VALID.split("[[leg]]\n")


def test_legs_out_of_order_are_named(folder: Path) -> None:
    head, inbound, outbound, reversal, intermediate, final = leg_texts()
    content = "[[leg]]\n".join((head, inbound, outbound, reversal, final, intermediate))

    assert message(content, folder) == (
        "p.toml, key leg 5 (intermediate).phase: the intermediate leg comes after the final leg. "
        "Legs stand in the order flown: inbound, outbound, course_reversal, intermediate, final."
    )


@pytest.mark.parametrize(
    ("kept", "text"),
    [
        ((0, 1, 2, 3, 4), 'key leg: there is no final leg. Add a [[leg]] with phase = "final" at the end.'),
        (
            (0, 1, 3, 4, 5),
            (
                "key leg 2 (course_reversal).phase: there is a course_reversal leg but no outbound leg. "
                "Add the outbound leg before it."
            ),
        ),
        (
            (0, 1, 2, 4, 5),
            (
                "key leg 2 (outbound).phase: there is an outbound leg but no course_reversal leg. "
                "Add the reversal, or leave out the outbound leg of a straight-in approach."
            ),
        ),
        (
            (0, 1, 4, 5),
            (
                "key leg 2 (intermediate).phase: there is an intermediate leg but no course_reversal leg. "
                "A straight-in approach takes an inbound and a final leg only."
            ),
        ),
    ],
    ids=["final", "outbound", "course_reversal", "straight-in with an intermediate"],
)
def test_a_leg_left_out_is_named(kept: tuple[int, ...], text: str, folder: Path) -> None:
    legs = leg_texts()

    assert message("[[leg]]\n".join(legs[number] for number in kept), folder) == f"p.toml, {text}"


def test_a_straight_in_approach_needs_no_reversal(folder: Path) -> None:
    legs = leg_texts()
    (folder / "p.toml").write_text("[[leg]]\n".join((legs[0], legs[1], legs[5])))

    procedure = load_procedure("p.toml")

    assert procedure.reversal is None
    assert not procedure.station_on_aerodrome


RACETRACK = (
    VALID.replace("radial_deg = 44", "course_deg = 44")
    .replace('"45/180"', '"racetrack"')
    .replace("leg_seconds = 60", "leg_seconds = 0")
)


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (
            "course_deg = 44",
            "radial_deg = 44",
            (
                "key leg 2 (outbound).radial_deg: the outbound leg of a racetrack is flown beside the radial, "
                "not on it. Give course_deg, parallel to the inbound course."
            ),
        ),
        (
            "course_deg = 44",
            "course_deg = 64",
            (
                "key leg 2 (outbound).course_deg: 64 lies 20 degrees from 44, the way back along the inbound "
                "course 224; one of the two is wrong. The legs of a racetrack are parallel."
            ),
        ),
        (
            "course_deg = 44\n",
            "",
            (
                "key leg 2 (outbound).course_deg: the key is missing. The outbound leg of a racetrack takes "
                "course_deg, parallel to the inbound course."
            ),
        ),
        (
            "{ dme_nm = 5.0 }",
            "{ minutes = 2.0 }",
            (
                "key leg 3 (course_reversal).leg_seconds: it is 0, but no DME distance ends the outbound leg of the "
                "racetrack. Give the seconds flown outbound, or length = { dme_nm = ... } in the outbound leg."
            ),
        ),
        (
            "length = { dme_nm = 5.0 }\n",
            "",
            (
                "key leg 2 (outbound).length: nothing ends the outbound leg of the racetrack. "
                "Give length = { dme_nm = ... } here, or leg_seconds in the course_reversal leg."
            ),
        ),
    ],
)
def test_a_racetrack_has_its_own_rules(old: str, new: str, text: str, folder: Path) -> None:
    assert old in RACETRACK

    assert message(RACETRACK.replace(old, new, 1), folder) == f"p.toml, {text}"


def test_a_racetrack_by_the_clock_needs_no_length(folder: Path) -> None:
    content = RACETRACK.replace("length = { dme_nm = 5.0 }\n", "").replace("_seconds = 0", "_seconds = 60")
    (folder / "p.toml").write_text(content)

    assert load_procedure("p.toml").outbound_course_deg == 44


BASE_TURN = VALID.replace('"45/180"', '"base turn"').replace("radial_deg = 44", "radial_deg = 58")


@pytest.mark.parametrize(("radial_deg", "side"), [(58, "left"), (30, "right")])
def test_the_two_directions_of_a_base_turn_give_its_side(radial_deg: int, side: str, folder: Path) -> None:
    content = BASE_TURN.replace("radial_deg = 58", f"radial_deg = {radial_deg}").replace(
        'side = "left"\n', ""
    )
    (folder / "p.toml").write_text(content)

    reversal = load_procedure("p.toml").reversal

    assert reversal is not None
    assert reversal.side == side


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (
            "radial_deg = 58",
            "radial_deg = 44",
            (
                "key leg 2 (outbound).radial_deg: 44 lies 0 degrees from 44, the way back along the inbound course 224; one of the two is wrong. "
                "In a base turn it is 1 to 90 degrees."
            ),
        ),
    ],
)
def test_a_base_turn_has_its_own_rules(old: str, new: str, text: str, folder: Path) -> None:
    assert message(BASE_TURN.replace(old, new, 1), folder) == f"p.toml, {text}"


def test_a_base_turn_that_leads_away_is_unusual_but_valid(folder: Path) -> None:
    (folder / "p.toml").write_text(BASE_TURN.replace('"left"', '"right"'))

    procedure = load_procedure("p.toml")

    assert (
        "side is 'right', which leads away from the inbound course: it lies to the left of radial 58."
        in remarks(procedure, date(2026, 6, 1))
    )


VISUAL = VALID + "\n[visual_segment]\nbegins = { dme_nm = 4.0 }\n"


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (
            "dme_nm = 4.0 }\n",
            "dme_nm = 4.8 }\n",
            (
                "key visual_segment.begins.dme_nm: 4.8 DME lies past the missed approach point at 4.6 DME. It begins "
                "at the missed approach point, or before it."
            ),
        ),
        (
            "dme_nm = 4.0 }\n",
            "dme_nm = 6 }\n",
            (
                "key visual_segment.begins.dme_nm: 6 DME lies past the threshold, which is 5.0 NM from the station "
                "along the final course. It begins before the runway. (1 more mistake in this file.)"
            ),
        ),
        (
            "dme_nm = 4.0 }\n",
            "dme_nm = -1 }\n",
            "key visual_segment.begins.dme_nm: -1 is out of range. Allowed: above 0 to 60.",
        ),
        (
            "begins = { dme_nm = 4.0 }\n",
            "begins = 4.0\n",
            "key visual_segment.begins: 4 is not a table. Keys here: dme_nm, minutes.",
        ),
        (
            "begins = { dme_nm = 4.0 }\n",
            "from = { dme_nm = 4.0 }\n",
            "key visual_segment.from: the key is unknown. Keys here: begins.",
        ),
        (
            "course_true_deg = 213.0",
            "course_true_deg = 300.0",
            (
                "key visual_segment: the runway points 300 true, 87 degrees from the final course. A visual segment "
                "leads to a runway within 60 degrees of the course."
            ),
        ),
    ],
)
def test_a_visual_segment_has_its_own_rules(old: str, new: str, text: str, folder: Path) -> None:
    assert old in VISUAL

    assert message(VISUAL.replace(old, new, 1), folder) == f"p.toml, {text}"


def test_a_visual_segment_needs_a_runway(folder: Path) -> None:
    runway = VISUAL[VISUAL.index("[runway]") : VISUAL.index("[[leg]]")]

    assert message(VISUAL.replace(runway, ""), folder) == (
        "p.toml, key visual_segment: there is no runway to fly to by eye. Add [runway], or leave [visual_segment] out."
    )


def test_a_visual_segment_may_begin_at_the_missed_approach_point(folder: Path) -> None:
    (folder / "p.toml").write_text(VALID + "\n[visual_segment]\n")

    segment = load_procedure("p.toml").visual_segment

    assert segment is not None
    assert segment.begins is None


CIRCLING = (
    VALID
    + """
[circling]
altitude = { at_or_above_ft = 1200 }
side = "left"

[circling.runway]
ident = "04"
latitude = 47.0160
longitude = -31.2800
elevation_ft = 190
course_true_deg = 33.0
"""
)


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (
            "at_or_above_ft = 1200",
            "at_or_above_ft = 900",
            (
                "key circling.altitude: the minimum of 900 ft is lower than the 980 ft of the final leg. Circling takes "
                "no less than a landing straight in."
            ),
        ),
        (
            "at_or_above_ft = 1200",
            "at_or_above_ft = 6000",
            (
                "key circling.altitude: the minimum of 6000 ft does not fit the runway's elevation of 190 ft. It lies "
                "above it, by 5,000 ft at most."
            ),
        ),
        (
            "at_or_above_ft = 1200",
            "at_or_below_ft = 1200",
            "key circling.altitude: the circling minimum is missing. Give altitude = { at_or_above_ft = ... }.",
        ),
        (
            'side = "left"\n\n[circling.runway]',
            'side = "north"\n\n[circling.runway]',
            'key circling.side: "north" is not known. Allowed: "left", "right".',
        ),
        (
            "latitude = 47.0160\nlongitude = -31.2800\nelevation_ft = 190\ncourse_true_deg = 33.0",
            "latitude = 47.0300\nlongitude = -31.2660\nelevation_ft = 190\ncourse_true_deg = 213.0",
            (
                "key circling.runway: it is the same as [runway] 22. Give the runway that is landed on by circling."
            ),
        ),
        (
            "latitude = 47.0160",
            "latitude = 47.2160",
            (
                "key circling.runway: its threshold lies 11.2 NM from that of [runway]. Both lie on one aerodrome, "
                "within 3 NM."
            ),
        ),
        (
            "course_true_deg = 33.0",
            "course_deg = 33.0",
            (
                "key circling.runway.course_deg: the key is unknown. Did you mean course_true_deg? Keys here: ident, "
                "latitude, longitude, elevation_ft, course_true_deg."
            ),
        ),
    ],
)
def test_circling_has_its_own_rules(old: str, new: str, text: str, folder: Path) -> None:
    assert old in CIRCLING

    assert message(CIRCLING.replace(old, new, 1), folder) == f"p.toml, {text}"


def test_circling_needs_its_runway(folder: Path) -> None:
    content = CIRCLING[: CIRCLING.index("[circling.runway]")]

    assert message(content, folder) == (
        "p.toml, key circling.runway: the table is missing. Add [circling.runway] with ident, latitude, longitude, "
        "elevation_ft, course_true_deg."
    )


LOCALISER = VALID + '\n[final_guidance]\nkind = "localiser"\nantenna = { past_threshold_ft = 7000 }\n'


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        (
            "antenna = { past_threshold_ft = 7000 }\n",
            "",
            (
                "key final_guidance.antenna: the key is missing. Give antenna = { past_threshold_ft = ... }, or its "
                "latitude and longitude."
            ),
        ),
        (
            "past_threshold_ft = 7000",
            "latitude = 47.02",
            "key final_guidance.antenna: takes past_threshold_ft, or latitude and longitude.",
        ),
        (
            "past_threshold_ft = 7000",
            "latitude = 47.04, longitude = -31.256",
            (
                "key final_guidance.antenna: it stands 0.7 NM from the threshold, before it. It stands past the "
                "threshold, within 5 NM."
            ),
        ),
        (
            "past_threshold_ft = 7000 }",
            "past_threshold_ft = 7000 }\nfull_scale_nm = 0.3",
            (
                "key final_guidance.full_scale_nm: full_scale_nm does not belong to a localiser course. It takes kind, "
                "course_true_deg, antenna, full_scale_deg."
            ),
        ),
        (
            "past_threshold_ft = 7000 }",
            "past_threshold_ft = 7000 }\nfull_scale_deg = 10",
            "key final_guidance.full_scale_deg: 10 is out of range. Allowed: 0.5 to 3.",
        ),
        (
            "past_threshold_ft = 7000 }",
            "past_threshold_ft = 7000 }\ncourse_true_deg = 228",
            (
                "key final_guidance.course_true_deg: 228 lies 15 degrees from 213, the final course by the station. The "
                "two agree within 10 degrees. This one is from true north."
            ),
        ),
        (
            'kind = "localiser"',
            'kind = "satellite"',
            (
                "key final_guidance.antenna: antenna does not belong to a satellite course. It takes kind, "
                "course_true_deg, full_scale_nm."
            ),
        ),
        (
            'kind = "localiser"',
            'kind = "glide"',
            'key final_guidance.kind: "glide" is not known. Allowed: "localiser", "satellite".',
        ),
    ],
)
def test_guidance_of_the_final_has_its_own_rules(old: str, new: str, text: str, folder: Path) -> None:
    assert old in LOCALISER

    assert message(LOCALISER.replace(old, new, 1), folder) == f"p.toml, {text}"


def test_guidance_needs_a_runway(folder: Path) -> None:
    runway = LOCALISER[LOCALISER.index("[runway]") : LOCALISER.index("[[leg]]")]

    assert message(LOCALISER.replace(runway, ""), folder) == (
        "p.toml, key final_guidance: there is no runway that it leads to. Add [runway], or leave [final_guidance] out."
    )
