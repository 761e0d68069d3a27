"""The strip of instrument pictures: what is drawn where, and what is said to be read from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.lines import Line2D

from debrief.language import speaking
from debrief.procedures.model import Pattern
from debrief.reports.instruments import TYPE_PT, draw_missing, draw_needle, draw_pointer
from debrief.reports.layout import Rect
from debrief.reports.page import Page
from debrief.reports.pages import build_pages
from debrief.reports.readings import sentences, title
from debrief.result import Attempt, Shown
from tests.reports import fake

BOX = Rect(20.0, 20.0, 140.0, 90.0)
MIDDLE_PT = (BOX.left + BOX.right) / 2.0


def at(moment: str, **changes: object) -> Shown:
    found = next(entry for entry in fake.result().attempts[0].shown if entry.moment == moment)
    return replace(found, **changes)  # type: ignore[arg-type]  # by name


def lines(page: Page) -> list[np.ndarray]:
    return [
        np.column_stack([artist.get_xdata(), artist.get_ydata()])
        for artist in page.figure.get_children()
        if isinstance(artist, Line2D)
    ]


def needle_x_pt(shown: Shown) -> float:
    page = Page(200.0, 120.0)
    draw_needle(page, BOX, shown)
    (bar,) = lines(page)
    return float(bar[0, 0])


def pointer_deg(shown: Shown) -> float:
    """Where the arrow points, clockwise from the top of its card."""
    page = Page(200.0, 160.0)
    draw_pointer(page, Rect(20.0, 20.0, 140.0, 140.0), shown)
    arrow = lines(page)[-1]
    east, up = arrow[1, 0] - arrow[0, 0], arrow[0, 1] - arrow[1, 1]
    return float(np.degrees(np.arctan2(east, up)) % 360.0)


def said(shown: Shown, attempt: Attempt | None = None, kind: str = "VOR/DME") -> str:
    result = fake.result(kind=kind)
    return sentences(shown, attempt or result.attempts[0], result.flight.procedure)


@pytest.mark.parametrize(
    ("kind", "deflection", "expected"),
    [
        ("VOR/DME", 0.26, "Needle 2.6° left; flown against 044°, which lies 0.22 NM to the right."),
        (
            "VOR/DME",
            1.7,
            "Needle at its left stop; flown against 044°, which lies more than 10° to the right.",
        ),
        ("NDB", 0.26, "044° lies 0.22 NM to the right."),
    ],
)
def test_on_a_racetracks_way_out_the_course_lies_on_the_side_where_the_pilot_finds_it(
    kind: str, deflection: float, expected: str
) -> None:
    """Set for the way back in, it is flown against: it was said to lie left, with the turn inbound to the right."""
    result = fake.result(kind=kind)
    procedure = result.flight.procedure
    legs = tuple(
        leg.model_copy(update={"pattern": Pattern.RACETRACK}) if leg.phase == "course_reversal" else leg
        for leg in procedure.leg
    )
    turned = procedure.model_copy(update={"leg": legs})

    text = sentences(at("turn off", deflection=deflection), result.attempts[0], turned)

    assert expected in text


@pytest.mark.parametrize(("deflection", "side"), [(0.5, -1.0), (-0.5, 1.0), (0.0, 0.0)])
def test_the_needle_stands_on_the_side_where_the_course_lies(deflection: float, side: float) -> None:
    assert np.sign(needle_x_pt(at("turn off", deflection=deflection)) - MIDDLE_PT) == side


def test_full_scale_is_twice_as_far_out_as_half_and_inside_the_frame() -> None:
    half, full = (needle_x_pt(at("turn off", deflection=share)) for share in (-0.5, -1.0))

    assert full - MIDDLE_PT == pytest.approx(2.0 * (half - MIDDLE_PT), abs=0.01)
    assert full < BOX.right


def test_a_blank_needle_and_flag_are_said_and_not_left_empty() -> None:
    page = Page(200.0, 120.0)
    draw_needle(page, BOX, at("station passage"))

    assert lines(page) == []
    assert {"blank", "no needle"} <= {text.text for text in page.texts}


def test_the_pointer_points_to_the_station_from_the_nose_and_without_a_heading_from_north() -> None:
    assert pointer_deg(at("turn off")) == pytest.approx(352.7, abs=0.1)
    assert pointer_deg(at("turn off", relative_bearing_deg=None)) == pytest.approx(219.4, abs=0.1)


def test_every_type_in_the_pictures_is_8_points_and_more_and_inside_them() -> None:
    for shown in fake.result().attempts[0].shown:
        for draw in (draw_needle, draw_pointer):
            page = Page(200.0, 120.0)
            draw_missing(page, BOX) if shown.time is None else draw(page, BOX, shown)
            for text in page.texts:
                assert text.size_pt >= TYPE_PT >= 8.0
                assert text.box.meet(BOX) == text.box


def test_what_can_be_read_is_said_with_side_and_numbers() -> None:
    assert "Needle 2.6° left: 044° lies 0.22 NM left." in said(at("turn off"))
    assert "Needle at its right stop: 044° lies more than 10° right." in said(at("turn at the station"))
    assert "Needle centred: on 224°." in said(at("minimum"))
    assert "Needle 4.9° right" in said(at("established"))
    assert "Pointer 7° left of the nose." in said(at("turn off"), kind="NDB")
    assert "fly headings there, not the needle" in said(at("station passage"))


def test_the_moment_is_held_against_what_is_published() -> None:
    assert "Published: turn at DME 5.0." in said(at("turn off"))
    assert "30 ft above the minimum of 620 ft." in said(at("minimum", altitude_ft=650.0))
    assert "At the minimum of 620 ft." in said(at("minimum", altitude_ft=612.0))
    assert "0.7 NM before the missed approach point, DME 4.6." in said(
        at("minimum", dme_nm=3.9, to_from="FROM")
    )
    assert "Begun 0.41 NM before the station; 0.22 NM before it suits 37° at 126 kt." in said(
        at("turn at the station")
    )


def test_a_missing_moment_keeps_its_place_and_its_reason() -> None:
    texts = [text.text for page in build_pages(fake.result(), "A4") for text in page.texts]

    assert "What the pilot saw" in texts
    at_place = texts.index("Needle alive")
    assert "Not shown: it lies in a" in " ".join(texts[at_place + 1 : at_place + 3])


def test_a_result_without_moments_has_no_strip() -> None:
    result = fake.result()
    result = replace(result, attempts=(replace(result.attempts[0], shown=()),))

    assert not any("pilot saw" in text.text for page in build_pages(result, "A4") for text in page.texts)


@pytest.mark.parametrize(
    ("altitude_ft", "name"),
    [(620.0, "At the minimum"), (710.0, "At the minimum"), (730.0, "Lowest on final")],
)
def test_a_final_that_ends_far_above_its_minimum_was_never_at_it(altitude_ft: float, name: str) -> None:
    """A heading "At the minimum" stood over "330 ft above the minimum of 440 ft"."""
    result = fake.result()

    shown = at("minimum", altitude_ft=altitude_ft)
    assert title(shown, result.attempts[0], result.flight.procedure) == name


def test_a_pointer_over_the_station_swings_in_the_reports_language() -> None:
    page = Page(200.0, 160.0)
    with speaking("de"):
        draw_pointer(page, Rect(20.0, 20.0, 140.0, 140.0), at("station passage", cone=True))

    assert "schlägt um" in {text.text for text in page.texts}


@pytest.mark.parametrize(("deflection", "deviation_deg"), [(-1.0, -10.1), (-0.99, -9.9)])
def test_a_needle_that_leaves_its_stop_is_told_in_degrees(deflection: float, deviation_deg: float) -> None:
    """It was said to stand at its stop and, in the next sentence, to leave it."""
    assert "Needle at its" not in said(
        at("needle alive", deflection=deflection, deviation_deg=deviation_deg, why="")
    )
