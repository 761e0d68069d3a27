"""Standards: every published figure against its source, and every mistake in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import StandardError
from debrief.grading import DEFAULT_STANDARD, bundled_standards, load_standard
from debrief.grading.rules import RULES
from debrief.grading.standard import SHAPES, Standard, Tolerance
from tests.vectors import read_vectors

STANDARDS = {
    "instrument-rating": "FAA-S-ACS-8C instrument rating",
    "airline-transport": "FAA-S-ACS-11A airline transport pilot",
    "european-instrument": "EASA Part-FCL Appendix 7 IR skill test",
}
PUBLISHED = ("FAA-S-ACS-8C", "FAA-S-ACS-11A", "Regulation (EU) No 1178/2011")

#: Which rules a published quantity governs, and where in a rule its low and high limit stand.
QUANTITIES = {
    "altitude": (("altitude", "altitude_before_station", "missed_approach", "arc"), "below", "above"),
    "distance": (("arc",), "within", "within"),
    "heading": (("missed_approach",), "within", "within"),
    "mda": (("minimum_descent_altitude",), "below", "above"),
    "airspeed": (("reversal_speed",), None, "above"),
    "cdi_deflection": (("tracking",), "full_scale_fraction", "full_scale_fraction"),
    "tracking": (("tracking",), "within", "within"),
}


def _covers(row: object, tolerance: Tolerance) -> set[str]:
    """The phases that both name; a rule with several limits goes by its unit."""
    if tolerance.rule == "missed_approach" and tolerance.unit != row.unit:  # type: ignore[attr-defined]
        return set()
    if tolerance.rule == "arc":  # bound to no phase
        return {"dme_arc"} & set(row.phases.split(";")) if tolerance.unit == row.unit else set()  # type: ignore[attr-defined]
    return set(row.phases.split(";")) & set(tolerance.phases)  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", STANDARDS)
def test_figures_are_those_of_the_published_tests(name: str) -> None:
    """Each row of the table that a rule of ours covers, both ways. Marks: in the table's first line."""
    standard = load_standard(name)
    rows = [row for row in read_vectors("tolerances.csv") if row.standard == STANDARDS[name]]
    checked = set()
    for row in rows:
        rules, low_key, high_key = QUANTITIES.get(row.quantity, ((), None, None))
        for tolerance in (t for t in standard.rule if t.rule in rules and _covers(row, t)):
            if row.low is None:  # "tracks accurately": no number is published
                assert tolerance.source.mark == "common practice"
                continue
            low = getattr(tolerance, low_key) if low_key else None
            high = getattr(tolerance, high_key)
            assert low is None or low == pytest.approx(abs(row.low)), (tolerance.rule, row)
            assert high is None or high == pytest.approx(row.high), (tolerance.rule, row)
            assert row.reference.replace("App.", "Appendix").replace("para", "paragraph") in (
                tolerance.source.part,
                tolerance.source.part.replace(",", ""),
            )
            checked.add((tolerance.rule, tolerance.unit, tolerance.phases))
    ours = {(t.rule, t.unit, t.phases) for t in standard.rule if t.source.title.startswith(PUBLISHED)}
    assert ours == {key for key in checked if key in ours}
    assert ours


def test_every_standard_has_every_rule() -> None:
    for name, standard in bundled_standards().items():
        assert {tolerance.rule for tolerance in standard.rule} == set(RULES), name


def test_the_registry_and_the_shapes_name_the_same_rules() -> None:
    assert {rule for rule, _ in SHAPES} == set(RULES)


#: Common practice, DEVELOPERS.md, Definitions: rule, unit, key, default.
DEFAULTS = [
    ("tracking", "deg", "full_scale_fraction", 0.75),
    ("tracking", "deg", "held_s", 4.0),
    ("reverse_sensing", "deg", "at_most", 8.0),
    ("needle_chasing", "deg", "at_most", 6.0),
    ("weaving", "deg", "at_most", 20.0),
    ("station_missed", "NM", "at_most", 1.5),
    ("turn_lead", "NM", "within", 0.6),
    ("outbound_length", "NM", "within", 0.7),
    ("outbound_length", "s", "within", 20.0),
    ("reversal_distance", "NM", "above", 0.0),
    ("intercept_angle", "deg", "at_most", 55.0),
    ("intercept_overshoot", "NM", "at_most", 0.4),
    ("descent_rate", "ft/min", "at_most", 1000.0),
    ("missed_approach", "NM", "above", 0.5),
    ("missed_approach", "ft/min", "at_least", 500.0),
]


@pytest.mark.parametrize(("rule", "unit", "key", "value"), DEFAULTS)
def test_where_nothing_is_published_the_habit_of_the_trade_stands(
    rule: str, unit: str, key: str, value: float
) -> None:
    found = [t for t in load_standard("training").rule if (t.rule, t.unit) == (rule, unit)]

    assert [getattr(t, key) for t in found] == [value] * len(found)


@pytest.mark.parametrize(
    "name", ["instrument-rating", "Instrument rating", "instrument_rating", " INSTRUMENT-RATING "]
)
def test_a_name_is_found_however_it_is_written(name: str) -> None:
    assert load_standard(name).name == "Instrument rating"


def test_the_default_is_bundled() -> None:
    assert DEFAULT_STANDARD in bundled_standards()


def test_what_a_report_says_of_it() -> None:
    info = load_standard("european-instrument").info()

    assert info.name == "European instrument skill test"
    assert info.source == (
        "Regulation (EU) No 1178/2011, Annex I (Part-FCL), Appendix 7, paragraph 11 [seen]"
    )
    assert info.file == "european-instrument.toml"
    assert len(info.sha256) == 64


def _changed(tmp_path: Path, old: str, new: str) -> Path:
    text = (Path(__file__).parents[2] / "debrief/grading/standards/instrument-rating.toml").read_text("utf-8")
    assert old in text
    path = tmp_path / "club.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_a_club_changes_a_number(tmp_path: Path) -> None:
    standard = load_standard(_changed(tmp_path, "at_most = 55", "at_most = 45"))

    assert next(t for t in standard.rule if t.rule == "intercept_angle").at_most == 45.0


MISTAKES = {
    "misspelt key": (
        "within = 0.6",
        "withn = 0.6",
        (
            "key rule 12 (turn_lead).withn: the key is unknown. Did you mean within? Keys here: rule, phases, unit, "
            "below, above, within, full_scale_fraction, at_most, at_least, held_s, within_nm, overhead_from_deg, "
            "wind_within, required, may_be_unseen, weight, serious, source."
        ),
    ),
    "a step of nothing": (
        "serious = 100",
        "serious = 1e-308",
        "key rule 1 (altitude).serious: 1e-308 is out of range. Allowed: 0.001 to 100000.",
    ),
    "a limit beyond any": (
        "above = 100",
        "above = 1e308",
        "key rule 1 (altitude).above: 1e+308 is out of range. Allowed: 0 to 100000.",
    ),
    "out of range": (
        "weight = 8",
        "weight = 800",
        "key rule 1 (altitude).weight: 800 is out of range. Allowed: above 0 to 100.",
    ),
    "not finite": (
        "weight = 8",
        "weight = nan",
        "key rule 1 (altitude).weight: nan is not a number. Give a number, without quotes and unit.",
    ),
    "another unit": (
        'unit = "ft"',
        'unit = "NM"',
        'key rule 1 (altitude).unit: altitude takes unit = "ft".',
    ),
    "another shape": (
        "below = 100",
        "at_most = 100",
        "key rule 1 (altitude).at_most: altitude does not take it; it takes below, above, held_s.",
    ),
    "not true or false": (
        "required = true",
        "required = 1",
        "key rule 1 (altitude).required: 1 is neither true nor false. Give true or false, without quotes.",
    ),
    "a phase it does not have": (
        'phases = ["inbound"',
        'phases = ["final"',
        (
            "key rule 1 (altitude).phases: altitude is not held against final; allowed: inbound, outbound, "
            "course_reversal, intermediate."
        ),
    ),
    "no limit": (
        "at_most = 55\n",
        "",
        "key rule 19 (intercept_angle).at_most: intercept_angle needs a limit: at_most.",
    ),
    "twice": (
        'rule = "step_down"\n',
        'rule = "minimum_descent_altitude"\n',
        "key rule: minimum_descent_altitude for final stands twice.",
    ),
    "missing": ('name = "Instrument rating"\n', "", "key name: the key is missing. Add name = ..."),
    "not TOML": (
        "room_s = 120",
        "room_s = ",
        'line 15: this is not valid TOML: invalid value. A line reads key = value, a text stands in "quotes".',
    ),
}


@pytest.mark.parametrize("kind", MISTAKES)
def test_a_mistake_is_one_line(tmp_path: Path, kind: str) -> None:
    old, new, said = MISTAKES[kind]
    path = _changed(tmp_path, old, new)
    with pytest.raises(StandardError) as raised:
        load_standard(path)

    assert str(raised.value).removeprefix(f"{path}, ").removeprefix(f"{path}: ").rstrip(".") == said.rstrip(
        "."
    )


def test_a_name_that_is_none() -> None:
    with pytest.raises(StandardError) as raised:
        load_standard("instrument-ratings")

    assert str(raised.value) == (
        'no standard is called "instrument-ratings". Did you mean "instrument-rating"? Give a file (.toml) or one '
        "of airline-transport, european-instrument, instrument-rating, training."
    )


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    with pytest.raises(StandardError) as raised:
        load_standard(path)

    assert str(raised.value) == (
        f"{path}: there is no such file. Give a standard file (.toml), or the name of a bundled one."
    )


def test_a_standard_is_frozen() -> None:
    standard: Standard = load_standard()
    with pytest.raises(ValueError, match="frozen"):
        standard.name = "other"  # type: ignore[misc]
