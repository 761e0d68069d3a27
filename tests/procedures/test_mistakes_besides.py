"""Mistakes in the tables beside the legs are one clear line, too."""

from __future__ import annotations

from copy import deepcopy

import pytest

from debrief.errors import ProcedureError
from debrief.procedures import load_procedure
from debrief.procedures.mistakes import every_mistake

TARNWICK = load_procedure("tarnwick-vor-27").model_dump(mode="python", exclude_unset=True)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (
            '[hold]\ncourse_deg = 400\nside = "left"\n',
            "key hold.course_deg: 400 is out of range. Allowed: 0 to 360.",
        ),
        (
            '[hold]\ncourse_deg = 40\nside = "north"\n',
            'key hold.side: "north" is not known. Allowed: "left", "right".',
        ),
        (
            '[arc]\ndme_nm = 500\ndirection = "clockwise"\n',
            "key arc.dme_nm: 500 is out of range. Allowed: above 2 to 60.",
        ),
        ('[arc]\ndme_nm = 10\nway = "left"\n', "Keys here: dme_nm, direction, lead_radial_deg, altitude."),
        ("[missed_approach]\ncourse_deg = 40\n", "key missed_approach.altitude: the key is missing."),
        (
            '[missed_approach]\nturn = "up"\naltitude = { at_ft = 3000 }\n',
            'key missed_approach.turn: "up" is not known.',
        ),
        (
            '[missed_approach]\nturn = "left"\nturn_at_ft = -1\naltitude = { at_ft = 3000 }\n',
            (
                "key missed_approach.turn_at_ft: -1 ft is not above the threshold, which lies at 182 ft. "
                "Altitudes are feet above mean sea level."
            ),
        ),
        (
            '[hold]\ncourse_deg = 40\nside = "left"\nmax_speed_kias = 0.5\n',
            (
                "key hold.max_speed_kias: 0.5 kt is slower than an aeroplane flies. "
                "It is the greatest indicated airspeed, 50 kt at least."
            ),
        ),
        ('[hold]\nspeed = 1\ncourse_deg = 40\nside = "left"\n', "key hold.speed: the key is unknown."),
    ],
)
def test_a_mistake_beside_the_legs_is_one_clear_line(tmp_path, table, said):
    from debrief.procedures.toml_writer import procedure_toml

    whole = load_procedure("lantern-vor-22").model_dump(mode="python", exclude_unset=True)
    path = tmp_path / "own.toml"
    path.write_text(f"{procedure_toml(whole)}\n{table}", encoding="utf-8")

    with pytest.raises(ProcedureError) as told:
        load_procedure(path)

    assert said in str(told.value)


def test_every_mistake_is_told_with_its_place():
    data = TARNWICK | {"hold": {"course_deg": 400, "side": "north"}}

    places = [location for location, _, _ in every_mistake(data)]

    assert places == [("hold", "course_deg"), ("hold", "side")]


def test_an_ident_that_a_terminal_would_obey_is_told_without_it():
    data = deepcopy(TARNWICK)
    data["leg"][-1]["step_down"][0]["until_radial"]["station"] = "A\x1b[1m"

    ((_, what, _),) = every_mistake(data)

    assert what == "there is no other station A [1m"
