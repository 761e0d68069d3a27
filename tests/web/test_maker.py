"""The procedure maker: every bundled procedure goes through its form unchanged; each mistake stands at its field."""

from __future__ import annotations

import tomllib

import pytest

from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.toml_writer import procedure_toml
from debrief.web.maker import form_fields, mistakes, procedure_data

LANTERN = form_fields(load_procedure("lantern-vor-22"))


@pytest.mark.parametrize("procedure", bundled_procedures(), ids=lambda procedure: procedure.file)
def test_a_procedure_comes_out_of_its_form_as_it_went_in(procedure):
    data = procedure_data(form_fields(procedure))

    assert mistakes(data) == {}
    again = Procedure.model_validate(tomllib.loads(procedure_toml(data)))
    assert again.model_dump(exclude={"note"}) == procedure.model_dump(exclude={"note"})


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"station.latitude": "95"}, "station.latitude", "95 is out of range. Allowed: -90 to 90."),
        ({"station.latitude": "north"}, "station.latitude", "is not a number"),
        ({"station.latitude": ""}, "station.latitude", "Fill this in."),
        ({"name": ""}, "name", "Fill this in."),
        ({"outbound.direction_deg": "144"}, "outbound.direction_deg", "lies 100 degrees from 44"),
        ({"final.minimum_ft": "90"}, "final.minimum_ft", "does not fit the threshold's elevation"),
        ({"final.minimum_ft": ""}, "final.minimum_ft", "Fill this in."),
        ({"course_reversal.within_nm": "3"}, "course_reversal.within_nm", "leaves no room"),
        ({"final.step.0.at_or_above_ft": "500"}, "final.step.0.at_or_above_ft", "is not above the minimum"),
        ({"station.kind": "VOR"}, "outbound.length.value", "has no DME"),
        ({"runway.latitude": "-47.1"}, "runway.latitude", "NM from the station"),
        ({"intermediate.course_deg": ""}, "intermediate.course_deg", "Fill this in."),
        ({"hold.course_deg": "400"}, "hold.course_deg", "out of range"),
        ({"hold.altitude.first": "3000"}, "hold.course_deg", "Fill this in."),
        ({"arc.dme_nm": "1", "arc.direction": "clockwise"}, "arc.dme_nm", "out of range"),
        ({"arc.lead_radial_deg": "292", "arc.direction": "clockwise"}, "arc.dme_nm", "Fill this in."),
        ({"arc.dme_nm": "10", "arc.direction": "up"}, "arc.direction", "clockwise"),
        (
            {"arc.dme_nm": "10", "arc.direction": "clockwise", "arc.lead_radial_deg": "361"},
            "arc.lead_radial_deg",
            "out of range",
        ),
        (
            {"arc.dme_nm": "10", "arc.direction": "clockwise", "arc.altitude.first": "x"},
            "arc.altitude.first",
            "is not a number",
        ),
        ({"missed_approach.course_deg": "224"}, "missed_approach.altitude.first", "Fill this in."),
        (
            {"final.step.1.station": "XYZ", "final.step.1.radial_deg": "10"},
            "final.step.1.at_or_above_ft",
            "Fill",
        ),
        ({"issued": "in May"}, "issued", "is not a date"),
        (
            {
                "inbound.altitude.kind": "between_ft",
                "inbound.altitude.first": "5000",
                "inbound.altitude.second": "4000",
            },
            "inbound.altitude.first",
            "low below high",
        ),
    ],
)
def test_a_mistake_stands_at_its_field_in_words(changed, field, said):
    found = mistakes(procedure_data(LANTERN | changed))

    assert said in found[field]
    assert "{" not in found[field]


@pytest.mark.parametrize("kept", ['{"leg": []}', '{"surprise": 1}', "[1]", "{", '{"arc": {"dme_nm": "x"}}'])
def test_nothing_slips_into_a_file_with_what_is_kept(kept):
    data = procedure_data(LANTERN | {"carried": kept})

    assert [leg["phase"] for leg in data["leg"]][-1] == "final"
    assert set(data) <= set(Procedure.model_fields) or mistakes(data)


@pytest.mark.parametrize("text", ['a "b" \\ c', "tab\tline\x7f", "üñ – 夜", "'''", "]]\n[x]\na = 1"])
def test_no_text_escapes_from_its_place_in_the_file(text):
    data = procedure_data(LANTERN | {"name": text, "note": text})

    parsed = tomllib.loads(procedure_toml(data))

    assert parsed["name"] == " ".join(text.split())
    assert set(parsed) == {"format", "name", "note", "issued", "station", "runway", "leg"}


def test_the_interface_tells_mistakes_by_field_and_else_shows_the_procedure(site):
    wrong = site.send("POST", "/api/v1/procedures/check", data=LANTERN | {"station.latitude": "95"}).json()
    right = site.send("POST", "/api/v1/procedures/check", data=LANTERN).json()

    assert list(wrong["mistakes"]) == ["station.latitude"]
    assert right["mistakes"] == {}
    assert right["picture"].startswith("data:image/svg+xml;base64,")
    assert any("radial 044" in text for text in right["words"])
    assert tomllib.loads(right["file"])["station"]["ident"] == "LQN"


def test_what_stands_beside_the_legs_is_in_the_live_picture(site):
    """The picture that comes with each change, of a form with an arc, a missed approach, a hold and a crossing radial."""
    fields = form_fields(load_procedure("tarnwick-vor-27"))
    plain = {
        name: value
        for name, value in fields.items()
        if not name.startswith(("missed_approach.", "hold.", "arc."))
    }
    with_arc = LANTERN | {"arc.dme_nm": "12", "arc.direction": "anticlockwise", "arc.lead_radial_deg": "60"}

    def drawn(form):
        answer = site.send("POST", "/api/v1/procedures/check", data=form).json()
        assert answer["mistakes"] == {}
        return answer

    assert drawn(fields)["picture"] != drawn(plain)["picture"]
    assert drawn(with_arc)["picture"] != drawn(LANTERN)["picture"]
    assert any("12.0 DME" in text for text in drawn(with_arc)["words"])
    assert tomllib.loads(drawn(with_arc)["file"])["arc"]["lead_radial_deg"] == 60


def test_a_saved_procedure_is_what_flights_are_held_against(site, log):
    answer = site.post("/procedures", LANTERN | {"name": "Lantern, my own"})
    key = answer.headers["location"].removeprefix("/procedures/")
    assert key.startswith("own-lantern-my-own-")
    shown = site.get(f"/procedures/{key}")
    assert "Lantern, my own" in shown.text
    assert load_procedure(site.store.procedures / f"{key}.toml").name == "Lantern, my own"

    flight = site.drop(log)
    site.post(f"/flights/{flight}/answers", {"procedure": key})
    site.work()

    assert site.row(flight).summary["procedure"] == "Lantern, my own"


def test_a_form_with_mistakes_is_shown_again_with_what_was_entered(site):
    answer = site.post("/procedures", LANTERN | {"station.latitude": "95", "name": "<b>Kept</b>"})

    assert answer.status_code == 400
    assert "95 is out of range" in answer.text
    assert "&lt;b&gt;Kept&lt;/b&gt;" in answer.text
    assert list(site.store.procedures.iterdir()) == []


@pytest.mark.parametrize("key", ["own-x-00000000", "../secret", "lantern-vor-22.toml", "nowhere"])
def test_a_procedure_that_is_not_there(site, key):
    assert site.get(f"/procedures/{key}").status_code == 404
