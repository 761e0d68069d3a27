"""What a standard's items add up to: all must pass or by weights, and what a brief excursion is worth."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from debrief.errors import StandardError
from debrief.grading import load_standard
from debrief.grading.assessment import Assessment, Outcome
from debrief.grading.grade import grade
from debrief.grading.standard import Adding, Excursion, Source, Standard, Tolerance
from debrief.grading.standard_reader import path_of

SOURCE = Source(title="a test", mark="common practice")
STANDARD = load_standard("instrument-rating")
WEIGHED = STANDARD.model_copy(update={"adding": Adding(way="by weights", pass_share=0.7, source=SOURCE)})
BRIEF = Excursion(rules=("tracking",), seconds=6.0, depth=1.0, times=1, worth=0.5, source=SOURCE)


def tolerance(rule: str = "tracking", weight: float = 1.0, *, required: bool = True) -> Tolerance:
    return Tolerance(
        rule=rule,
        phases=("final",),
        unit="deg",
        within=5.0,
        required=required,
        weight=weight,
        serious=2.0,
        source=SOURCE,
    )  # type: ignore[arg-type]  # its name is checked by the model


def judged(
    outcome: Outcome, weight: float = 1.0, *, excess: float = -1.0, lasted_s: float = 60.0, times: int = 1
) -> Assessment:
    return Assessment(
        tolerance=tolerance(weight=weight), outcome=outcome, phase="final", value=1.0, limit=5.0, unit="deg",
        excess=excess, uncertainty=0.1, start_s=100.0, end_s=100.0 + lasted_s, times=times,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("outcomes", "result", "share"),
    [
        ([("within", 8.0), ("exceeded", 2.0)], "satisfactory", 0.8),
        ([("within", 6.0), ("exceeded", 4.0)], "unsatisfactory", 0.6),
        ([("within", 6.0), ("marginal", 4.0)], "satisfactory", 1.0),
        ([("within", 8.0), ("not assessable", 2.0)], "satisfactory", 1.0),
        ([("within", 6.0), ("not assessable", 4.0)], "not assessable", 1.0),
        ([("exceeded", 4.0), ("not assessable", 6.0)], "unsatisfactory", 0.0),
    ],
)
def test_by_weights(outcomes: list[tuple[Outcome, float]], result: str, share: float) -> None:
    """70 % are asked. What was not seen decides only where it could."""
    graded = grade([judged(outcome, weight) for outcome, weight in outcomes], WEIGHED)

    assert graded.result == result
    assert graded.share == pytest.approx(share)
    assert graded.pass_share == 0.7


def test_the_share_is_said() -> None:
    graded = grade([judged("within", 8.0), judged("exceeded", 2.0, excess=3.0)], WEIGHED)

    assert graded.reason == "80 % of the weights earned, 70 % asked; lost on tracking, final."


@pytest.mark.parametrize(
    ("assessment", "item_result"),
    [
        (judged("exceeded", excess=1.9, lasted_s=5.0), "marginal"),
        (judged("exceeded", excess=2.1, lasted_s=5.0), "unsatisfactory"),  # too deep
        (judged("exceeded", excess=1.9, lasted_s=7.0), "unsatisfactory"),  # too long
        (judged("exceeded", excess=1.9, lasted_s=5.0, times=2), "unsatisfactory"),  # too often
        (judged("not flown", excess=1.9, lasted_s=5.0), "unsatisfactory"),
    ],
)
def test_a_brief_excursion_counts_as_marginal(assessment: Assessment, item_result: str) -> None:
    forgiving = STANDARD.model_copy(update={"excursion": BRIEF})

    (item,) = grade([assessment], forgiving).items

    assert item.result == item_result
    assert item.worth == (0.5 if item_result == "marginal" else 0.0)
    if item_result == "marginal":
        assert item.reason == "a brief excursion of 5 s, promptly corrected"


def test_without_an_excursion_in_the_standard_none_is_forgiven() -> None:
    (item,) = grade([judged("exceeded", excess=0.1, lasted_s=0.5)], STANDARD).items

    assert item.result == "unsatisfactory"


def test_an_excursion_of_another_rule_is_not_forgiven() -> None:
    other = replace(judged("exceeded", excess=0.1, lasted_s=1.0), tolerance=tolerance("tracking"))
    strict = STANDARD.model_copy(update={"excursion": BRIEF.model_copy(update={"rules": ("altitude",)})})

    assert grade([other], strict).result == "unsatisfactory"


def written(tmp_path, **tables: str):
    text = path_of("instrument-rating").read_text(encoding="utf-8")
    start = text.index("[adding]")
    end = text.index("# Altitudes", start)
    path = tmp_path / "club.toml"
    path.write_text(text[:start] + "\n".join(tables.values()) + "\n" + text[end:], encoding="utf-8")
    return path


def test_a_file_without_the_new_tables_reads_as_before(tmp_path) -> None:
    standard = load_standard(written(tmp_path))

    assert (standard.pass_share, standard.counting_attempt, standard.excursion) == (None, "first", None)


@pytest.mark.parametrize(
    ("table", "line"),
    [
        ('[adding]\nway = "by weights"', 'pass_share: way = "by weights" needs it'),
        ("[adding]\npass_share = 0.5", 'pass_share: it stands only beside way = "by weights"'),
        (
            '[adding]\nattempt = "worst"',
            'attempt: "worst" is not known. Allowed: "first", "best", "last", "all".',
        ),
        ("[excursion]\nrules = []\nseconds = 5\ndepth = 1", "rules: a list is not a list with entries"),
        (
            '[excursion]\nrules = ["altitude"]\nseconds = 500\ndepth = 1',
            "seconds: 500 is out of range. Allowed: above 0",
        ),
    ],
)
def test_a_mistake_in_them_is_one_line(tmp_path, table: str, line: str) -> None:
    source = 'source = { title = "ours", mark = "common practice" }'
    path = written(tmp_path, table=f"{table}\n{source}")

    with pytest.raises(StandardError) as error:
        load_standard(path)

    assert line.split(":")[0] in str(error.value)
    assert line.split(": ", 1)[1] in str(error.value)
    assert "\n" not in str(error.value)


def test_every_bundled_standard_says_how_it_adds_up() -> None:
    for name in ("instrument-rating", "airline-transport", "european-instrument", "training"):
        told = tomllib.loads(path_of(name).read_text(encoding="utf-8"))
        assert told["adding"]["way"] == "all must pass"
        assert isinstance(load_standard(name), Standard)
