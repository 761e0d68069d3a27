"""The pictures: what a pilot must be able to read from each of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from debrief import debrief, load_procedure, read_track
from debrief.phases.model import Span
from debrief.procedures.model import AltitudeLimit, Extent, Phase
from debrief.reference import with_references
from debrief.reports.bands import Band, phase_bands
from debrief.reports.chart import Chart, reach, round_values
from debrief.reports.final import draw_final
from debrief.reports.front import plan_entries
from debrief.reports.layout import Rect
from debrief.reports.limits import limit_stretches
from debrief.reports.overview import draw_log
from debrief.reports.page import Page, number_across_pt, number_radius_pt
from debrief.reports.placing import Placer
from debrief.reports.plan import draw_plan
from debrief.reports.plan_marks import courses, rings
from debrief.reports.profile import draw_profile, limit_label
from debrief.reports.scene import Scene, scenes
from debrief.reports.strips import draw_strips
from debrief.reports.style import FAINT, INK, NOMINAL_LOOK, OUTSIDE_LOOK, PHASE_LOOKS, REFERENCE_LOOK, SOFT
from debrief.reports.window import window_over
from debrief.simulation import Attempt, Faults, FlightPlan, fly
from debrief.simulation.sensor import Sensor, record
from tests.reports import fake
from tests.reports.setting import overlapping

Floats = NDArray[np.float64]

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
BOX = Rect(40.0, 40.0, 555.0, 640.0)
COURSES_NAMED = (
    ("sallow-two-attempts.gpx", "sallow-vor-13"),
    ("ember-altitude-bust.gpx", "ember-vor-17"),
    ("frosthelm-late-turn.gpx", "frosthelm-vor-04"),
)


def scene_of(**switches: bool | int) -> Scene:
    result = fake.result(**switches)  # type: ignore[arg-type]  # switches of several types
    return scenes(result.flight, result.attempts)[0]


def track_lines(page: Page) -> list[tuple[Floats, Floats]]:
    """The lines of the track on a page, in its points: those in the colours of the track."""
    return lines_in(page, {look.colour for look in (*PHASE_LOOKS.values(), OUTSIDE_LOOK)})


def lines_in(page: Page, colours: set[str], width_pt: float | None = None) -> list[tuple[Floats, Floats]]:
    """The lines of some colours, and of one width where it is given, in the page's points."""
    from matplotlib.lines import Line2D

    lines = [artist for artist in page.figure.get_children() if isinstance(artist, Line2D)]
    return [
        (np.asarray(line.get_xdata(), dtype=np.float64), np.asarray(line.get_ydata(), dtype=np.float64))
        for line in lines
        if line.get_color() in colours and width_pt in (None, line.get_linewidth())
    ]


def words_of(page: Page) -> list[str]:
    return [text.text for text in page.texts]


def luminance(colour: str) -> float:
    """Relative luminance. Source: W3C, Web Content Accessibility Guidelines 2.1. Mark: memory."""
    from matplotlib.colors import to_rgb

    red, green, blue = (
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour)
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_phases_differ_by_dashes_or_weight_as_well_as_by_colour() -> None:
    looks = list(PHASE_LOOKS.values())

    assert set(PHASE_LOOKS) == {phase.value for phase in Phase}
    assert len({look.colour for look in looks}) == len(looks)
    assert len({(look.dashes, look.width_pt) for look in looks}) == len(looks)


def test_every_phase_stands_out_from_white_paper() -> None:
    """3 to 1 is asked of the lines in a picture. Source: W3C, WCAG 2.1, 1.4.11. Mark: memory."""
    for look in PHASE_LOOKS.values():
        assert 1.05 / (luminance(look.colour) + 0.05) >= 3.0, look


def test_the_plan_names_station_courses_wind_scale_and_times() -> None:
    page = Page(595.0, 842.0)

    draw_plan(page, BOX, scene_of(findings=4))

    said = words_of(page)
    for text in (
        "LQN",
        "Runway 22",
        "radial 044°, course 224°",
        "final 224°",
        "N",
        "2:53",
        "1",
        "2",
        "3",
        "4",
    ):
        assert text in said
    assert "Wind 247° true, 18 ± 2 kt" in said
    assert any(text.endswith(" NM") for text in said)


def test_the_times_of_the_passages_stand_once_beside_the_station() -> None:
    """Six labels crowded round it: where each passage begins and ends, and both names of one line."""
    scene = scene_of()
    page = Page(595.0, 842.0)
    draw_plan(page, BOX, scene)

    said = words_of(page)
    near_s = [p.t_s for p in scene.found.passages if p.distance_nm < 0.5]
    began = [s for s in scene.found.spans if s.phase == Phase.STATION_PASSAGE]
    assert near_s
    assert began
    assert f"passed {', '.join(scene.elapsed(t_s) for t_s in near_s)}" in said
    assert not {scene.elapsed(span.start_s) for span in began} & set(said)


def test_radial_and_course_on_two_lines_have_a_label_each() -> None:
    procedure = load_procedure("sallow-vor-13")
    base = procedure.outbound
    assert base is not None
    legs = [leg.model_copy(update={"radial_deg": 300.0}) if leg is base else leg for leg in procedure.leg]
    apart = procedure.model_copy(update={"leg": tuple(legs)})
    page, placer = Page(595.0, 842.0), Placer(BOX)
    window = window_over(BOX, [(np.array([-6.0, 6.0]), np.array([-6.0, 6.0]))])
    courses(page, window, placer, apart)

    assert {"radial 300°", "course 132°"} <= set(words_of(page))


@pytest.mark.parametrize(("track", "procedure"), COURSES_NAMED)
def test_the_name_of_a_course_lies_on_no_line(track: str, procedure: str) -> None:
    """Where the map ends close by, it lay on the published outline, the track and its own course."""
    found = with_references(debrief(read_track(SAMPLES / track), load_procedure(procedure)))
    assert found.flight is not None
    for scene in scenes(found.flight, found.attempts):
        page = Page(595.0, 842.0)
        draw_plan(page, BOX, scene)
        names = [text for text in page.texts if text.text.startswith(("radial", "course", "final"))]
        dashes = lines_in(page, {FAINT}, 0.5)  # the courses themselves
        lines = [*track_lines(page), *lines_in(page, {NOMINAL_LOOK.colour, REFERENCE_LOOK.colour}), *dashes]

        assert names
        assert dashes
        for name in names:
            box = name.box.inset(1.0)
            for x, y in lines:
                for part in np.linspace(0.0, 1.0, 200):
                    on_x, on_y = x[:-1] + part * np.diff(x), y[:-1] + part * np.diff(y)
                    inside = (on_x > box.left) & (on_x < box.right) & (on_y > box.top) & (on_y < box.bottom)
                    assert not inside.any(), name.text


def test_a_label_keeps_off_a_line_that_runs_along_its_edge() -> None:
    placer = Placer(Rect(0.0, 0.0, 200.0, 200.0))
    along = np.arange(0.0, 200.0, 3.0)
    placer.avoid(np.full_like(along, 121.0), along)

    box = placer.among([(110.0, 50.0), (100.0, 50.0)], 20.0, 8.0)

    assert box is not None
    assert box.right < 121.0 - 2.0


def test_a_findings_number_keeps_off_the_label_beside_it() -> None:
    """The ring round a number touched the figure of a limit in the page's profile."""
    placer = Placer(Rect(0.0, 0.0, 200.0, 200.0))
    label = Rect(60.0, 60.0, 95.0, 68.0)
    placer.take(label)
    across = number_across_pt(3)

    place = placer.near(99.0, 80.0, across, across, far_pt=140.0)

    assert place is not None
    ring_pt = number_radius_pt(3) + 0.45  # and half its line
    middle = (place.left + place.right) / 2, (place.top + place.bottom) / 2
    apart_pt = np.hypot(
        max(label.left - middle[0], 0.0, middle[0] - label.right),
        max(label.top - middle[1], 0.0, middle[1] - label.bottom),
    )
    assert apart_pt - ring_pt >= 2.0


def test_of_many_places_one_off_the_lines_is_taken() -> None:
    """The name of a course lay on the published pattern, though the course had room nearer to the station."""
    placer = Placer(Rect(0.0, 0.0, 700.0, 200.0))
    for x in (510.0, 540.0, 570.0):
        placer.avoid(np.full(2, x), np.array([99.0, 101.0]))
    centres = [(x, 100.0 + side) for x in range(560, 100, -10) for side in (1.0, -1.0, 2.5, -2.5)]

    box = placer.among(centres, 80.0, 8.0)

    assert box is not None
    assert box.right < 510.0


def test_the_final_shows_no_leg_flown_the_other_way() -> None:
    """With the station on the aerodrome the way out of the reversal lay as a second line over the way in."""
    plan = FlightPlan(start_bearing_true_deg=60.0, attempts=(Attempt(),))
    procedure = load_procedure("sallow-vor-13")
    result = debrief(record(fly(procedure, plan), Sensor(), 3), procedure)
    assert result.flight is not None
    scene = scenes(result.flight, result.attempts)[0]
    page = Page(595.0, 842.0)
    draw_final(page, BOX, scene)

    ways = [x[np.isfinite(y)] for x, y in lines_in(page, {PHASE_LOOKS["course_reversal"].colour})]
    assert ways
    for x in ways:
        assert (np.diff(x) > -0.5).all()


def test_no_label_hides_the_line_from_a_number_to_its_point() -> None:
    """Below a circling minimum the number stood under a label that covered its line."""
    placer = Placer(Rect(0.0, 0.0, 200.0, 200.0))
    label = Rect(90.0, 105.0, 140.0, 113.0)
    placer.take(label)
    placer.avoid(
        *(np.ravel(grid) for grid in np.meshgrid(np.arange(40.0, 160.0, 3.0), np.arange(40.0, 114.0, 3.0)))
    )
    across = number_across_pt(1)

    place = placer.near(100.0, 100.0, across, across, far_pt=140.0, tied=True)

    assert place is not None
    share = np.linspace(0.0, 1.0, 400)
    x = 100.0 + share * ((place.left + place.right) / 2 - 100.0)
    y = 100.0 + share * ((place.top + place.bottom) / 2 - 100.0)
    assert not ((x > label.left) & (x < label.right) & (y > label.top) & (y < label.bottom)).any()


def test_a_number_on_the_line_of_a_final_is_tied_to_a_point_that_can_be_seen() -> None:
    from matplotlib.patches import Circle

    page = Page(200.0, 200.0)
    page.pin(50.0, 50.0, Rect(70.0, 40.0, 85.0, 55.0), 1, Rect(0.0, 0.0, 200.0, 200.0))

    rings = [artist for artist in page.figure.get_children() if isinstance(artist, Circle)]
    white, dot = rings[0], rings[1]
    assert white.get_radius() > dot.get_radius()
    assert white.get_facecolor() == (1.0, 1.0, 1.0, 1.0)
    assert [line for line in lines_in(page, {INK}) if line[0][0] == 50.0]


def test_a_fault_that_grows_worse_while_circling_is_told_where_the_final_ends() -> None:
    """The track went below the circling minimum in the picture, and no number stood beside it."""
    plan = FlightPlan(
        start_bearing_true_deg=40.0,
        attempts=(Attempt(circle="right", ending="landing", faults=Faults(circling_low_ft=150.0)),),
    )
    procedure = load_procedure("pellarin-vor-17")
    result = debrief(record(fly(procedure, plan), Sensor(), 3), procedure)
    assert result.flight is not None
    scene = scenes(result.flight, result.attempts)[0]
    page = Page(595.0, 842.0)
    draw_final(page, BOX, scene)

    low = next(f for f in scene.attempt.findings if f.rule == "minimum_descent_altitude")
    circling, moment_s = scene.attempt.measures.circling, scene.moment_of(low)
    assert circling is not None
    assert moment_s is not None
    assert moment_s > scene.seconds(circling.start)
    assert str(low.number) in words_of(page)


def test_the_plan_has_north_up_and_one_scale_both_ways() -> None:
    window = window_over(Rect(0.0, 0.0, 400.0, 300.0), [(np.array([0.0, 3.0]), np.array([0.0, 9.0]))])

    x, y = window.at(0.0, 0.0)
    north_x, north_y = window.at(0.0, 1.0)
    east_x, east_y = window.at(1.0, 0.0)
    assert (north_x, north_y) == pytest.approx((x, y - window.points_per_nm))
    assert (east_x, east_y) == pytest.approx((x + window.points_per_nm, y))
    assert window.shows(3.0, 9.0)
    assert window.shows(0.0, 0.0)


def test_a_gap_is_never_bridged_and_is_named() -> None:
    """Flown at 100 to 131 kt: 0.04 NM a second, and about a mile in the 35 s of the gap."""
    scene = scene_of(gap=True)
    page = Page(595.0, 842.0)
    draw_plan(page, BOX, scene)

    lines = track_lines(page)
    assert len(lines) >= len(scene.paths)
    longest_pt = max(np.nanmax(np.hypot(np.diff(x), np.diff(y))) for x, y in lines)
    start_s, end_s = scene.gaps[0]
    ends = scene.flight.at(np.array([start_s, end_s]))
    hole_nm = float(np.hypot(np.diff(ends.east_nm), np.diff(ends.north_nm))[0])
    points_per_nm = BOX.height / 16.0  # about: 13 NM and the air round it, in the height of the box
    assert longest_pt < 0.2 * hole_nm * points_per_nm
    assert f"not observed for 0:{end_s - start_s:.0f}" in words_of(page)


def test_without_wind_the_plan_says_so() -> None:
    page = Page(595.0, 842.0)

    draw_plan(page, BOX, scene_of(wind=False))

    assert "Wind not known" in words_of(page)


def test_the_errorless_profile_stands_beside_the_flown_one_where_the_first_passage_was_not_seen() -> None:
    """Its first passage was laid on the pilot's second: the dotted line fell from cruise to final in a mile."""
    track = read_track(SAMPLES / "lantern-gap-over-station.gpx")
    result = with_references(debrief(track, load_procedure("lantern-vor-22")))
    page = Page(595.0, 842.0)
    draw_profile(page, BOX, scenes(result.flight, result.attempts)[0])
    x = np.concatenate([x for x, _ in lines_in(page, {REFERENCE_LOOK.colour}, REFERENCE_LOOK.width_pt)])

    assert np.ptp(x[np.isfinite(x)]) > 0.6 * (BOX.right - BOX.left)


def test_the_profile_shows_each_published_altitude() -> None:
    page = Page(595.0, 842.0)

    draw_profile(page, BOX, scene_of())

    for text in ("3,500 ft", "2,800 ft", "2,300 ft", "1,800 ft", "1,100 ft", "620 ft"):
        assert text in words_of(page)


def test_a_step_down_holds_until_its_distance_is_read() -> None:
    """The made-up procedure: 1,100 ft until 2.0 DME, then the minimum of 620 ft."""
    scene = scene_of()

    step, minimum = [limit for limit in limit_stretches(scene) if limit.phase == Phase.FINAL]

    assert (step.altitude_ft, minimum.altitude_ft) == (1100, 620)
    assert step.end_s == minimum.start_s
    assert float(scene.flight.at(np.array([step.end_s])).dme_nm[0]) == pytest.approx(2.0, abs=0.05)


def test_the_needle_is_blank_in_the_cone_and_without_a_course() -> None:
    scene = scene_of()
    needles = {span.phase: scene.needle(span, path) for span, path in scene.paths}

    assert np.isnan(needles[Phase.INBOUND]).all()
    assert np.isfinite(needles[Phase.OUTBOUND]).any()
    for span, path in scene.paths:
        assert np.isnan(scene.needle(span, path)[path.in_cone]).all()


def test_times_count_from_the_first_passage_unless_it_was_not_seen() -> None:
    from dataclasses import replace

    scene = scene_of()
    second_only = replace(scene, found=replace(scene.found, passages=scene.found.passages[1:]))

    assert scene.zero_s == scene.found.passages[0].t_s
    assert scene.zero_name == "the first station passage"
    assert second_only.zero_s == scene.found.start_s
    assert second_only.zero_name == "the beginning of the attempt"


def test_a_number_stands_where_the_worst_of_it_was() -> None:
    from dataclasses import replace

    scene = scene_of(findings=1)
    finding = scene.attempt.findings[0]
    start_s, end_s = scene.seconds(finding.start), scene.seconds(finding.end)  # type: ignore[arg-type]
    worst_s = start_s + 8.0
    index = int(np.searchsorted(scene.flight.log.track.t_s, worst_s))
    latitude_deg = float(scene.flight.log.track.latitude_deg[index])
    longitude_deg = float(scene.flight.log.track.longitude_deg[index])
    placed = replace(finding, latitude_deg=latitude_deg, longitude_deg=longitude_deg)

    assert scene.moment_of(placed) == pytest.approx(worst_s, abs=1.0)
    assert scene.moment_of(finding) == pytest.approx((start_s + end_s) / 2.0)
    assert scene.moment_of(replace(finding, start=None, end=None)) is None
    assert scene.moment_of(replace(placed, rule="log_quality")) is None


def test_the_needles_limit_ends_where_nothing_is_judged_by_the_needle_any_more() -> None:
    """Beside a station on the aerodrome the needle ran through the limit while the pilot landed within it."""
    from dataclasses import replace

    scene = scene_of()
    procedure = scene.flight.procedure
    assert procedure.final is not None
    nearer = procedure.final.model_copy(update={"missed_approach_point": Extent(dme_nm=3.0)})
    legs = [nearer if leg is procedure.final else leg for leg in procedure.leg]
    flight = replace(scene.flight, procedure=procedure.model_copy(update={"leg": legs}))
    final, out = scene.found.last(Phase.FINAL), scene.found.last(Phase.OUTBOUND)
    assert final is not None
    assert out is not None

    until_s = replace(scene, flight=flight).scored_until_s(final)

    assert float(flight.at(np.array([until_s])).dme_nm[0]) == pytest.approx(3.0, abs=0.05)
    assert scene.scored_until_s(final) > until_s + 10.0
    assert scene.scored_until_s(out) == out.end_s


def test_a_legend_names_the_grey_line_for_what_it_is() -> None:
    grey = [
        [entry.text for entry in plan_entries(scene) if entry.look == OUTSIDE_LOOK]
        for scene in (scene_of(attempts=2), scene_of())
    ]

    assert grey == [["other attempts, before and after"], ["Before and after"]]


def test_of_a_clock_far_too_fast_speeds_have_round_figures_and_no_number_is_in_the_legend() -> None:
    """The scale had two figures, 601 and -44 kt; all that was found is of the whole log, which has no place on the map."""
    from dataclasses import replace

    procedure = load_procedure("lantern-vor-22")
    track = record(fly(procedure, FlightPlan(attempts=(Attempt(ending="landing"),))), Sensor(), seed=1)
    result = debrief(replace(track, t_s=track.t_s / 5.0), procedure)
    (scene,) = scenes(result.flight, result.attempts)
    page = Page(595.0, 842.0)

    draw_strips(page, BOX, scene)

    assert {"200", "400", "600"} <= set(words_of(page))
    assert [finding.rule for finding in scene.attempt.findings] == ["log_quality"]
    assert "finding" not in [entry.sign for entry in plan_entries(scene)]


def test_a_log_of_one_attempt_and_no_more_has_no_grey_line() -> None:
    from dataclasses import replace

    scene = scene_of()
    times_s = scene.flight.view.t_s
    all_of_it = Span(phase=Phase.INBOUND, start_s=times_s[0], end_s=times_s[-1])
    whole = replace(scene, found=replace(scene.found, spans=(all_of_it,)))

    assert OUTSIDE_LOOK not in [entry.look for entry in plan_entries(whole)]


def test_a_ring_that_no_label_can_name_is_not_drawn() -> None:
    """Two dashed corners of the reversal's limit stood on a map, and nothing said what they were."""
    from matplotlib.colors import to_rgba
    from matplotlib.patches import Circle

    window = window_over(BOX, [(np.array([-9.0, 9.0]), np.array([-9.0, 9.0]))])
    drawn = {}
    for full in (False, True):
        page, placer = Page(595.0, 842.0), Placer(BOX)
        if full:
            placer.take(BOX)
        rings(page, window, placer, scene_of().flight.procedure)
        dashed = [
            patch
            for patch in page.figure.get_children()
            if isinstance(patch, Circle) and patch.get_edgecolor() == to_rgba(SOFT)
        ]
        drawn[full] = any(text.startswith("stay within") for text in words_of(page)), len(dashed)

    assert drawn == {False: (True, 1), True: (False, 0)}


def test_the_strips_name_every_phase_and_every_quantity() -> None:
    page = Page(595.0, 842.0)

    draw_strips(page, BOX, scene_of())

    said = words_of(page)
    for text in ("Needle", "Altitude", "Ground speed", "Vertical speed", "Rate of turn", "UTC", "min:s"):
        assert text in said
    for text in (
        "Inbound",
        "over LQN",
        "Outbound",
        "Course reversal",
        "Intermediate",
        "Final",
        "Missed approach",
    ):
        assert text in said


def test_the_whole_log_shows_its_attempts_and_gaps_by_the_time_of_day() -> None:
    scene = scene_of(attempts=2, gap=True, before_s=9000)
    page = Page(595.0, 842.0)

    draw_log(page, Rect(40.0, 40.0, 555.0, 152.0), scene.flight)

    said = words_of(page)
    for text in ("altitude as logged", "UTC", "20:00", "21:00", "attempt 1", "attempt 2"):
        assert text in said
    assert not overlapping(page.texts)


boxes = st.tuples(st.floats(0, 180), st.floats(0, 180), st.floats(5, 60), st.floats(5, 20))


@given(wanted=st.lists(boxes, max_size=25))
def test_labels_never_overlap_and_stay_in_the_frame(wanted: list[tuple[float, float, float, float]]) -> None:
    area = Rect(0.0, 0.0, 200.0, 200.0)
    placer = Placer(area)
    placed: list[Rect] = []
    for x, y, wide, tall in wanted:
        box = placer.near(x, y, wide, tall, far_pt=62.0)
        if box is not None:
            assert area.meet(box) == box
            assert not any(box.overlaps(other) for other in placed)
            placed.append(box)


def test_a_label_keeps_off_the_track_where_it_can() -> None:
    placer = Placer(Rect(0.0, 0.0, 200.0, 200.0))
    x = np.linspace(0.0, 200.0, 200)
    placer.avoid(x, np.full(200, 100.0))

    box = placer.near(100.0, 100.0, 30.0, 8.0, far_pt=34.0)

    assert box is not None
    assert placer.crowding(box) == 0


def test_where_nothing_is_free_no_label_is_placed() -> None:
    placer = Placer(Rect(0.0, 0.0, 50.0, 50.0))
    placer.take(Rect(0.0, 0.0, 50.0, 50.0))

    assert placer.near(25.0, 25.0, 10.0, 5.0, far_pt=230.0) is None


def test_scales_have_round_figures_and_hold_their_values() -> None:
    assert round_values(-0.3, 4.2, (0.5, 1.0, 2.0), 6) == [0.0, 1.0, 2.0, 3.0, 4.0]
    low, high = reach(np.array([100.0, np.nan, 900.0]), (50.0,), least=100.0)
    assert low < 50.0
    assert high > 900.0
    assert reach(np.array([np.nan]), least=100.0) == (0.0, 100.0)


def test_one_wild_value_does_not_flatten_a_scale() -> None:
    values = np.concatenate([np.linspace(-3.0, 3.0, 999), [900.0]])

    assert reach(values, least=6.0, trim=0.004)[1] < 10.0


def test_labels_keep_off_the_limits_of_the_profile() -> None:
    """The angle of the published path stood across a step's line, and hid a piece of it."""
    page = Page(400.0, 300.0)
    chart = Chart(page, Rect(40.0, 20.0, 380.0, 260.0), 0.0, 6.0, 0.0, 2000.0)
    placer = Placer(chart.box)
    limit_label(chart, placer, (1.0, 5.0), 1000.0, below=True)

    y = float(chart.y(1000.0))
    box = placer.near(float(chart.x(2.0)), y, 60.0, 9.0, far_pt=62.0)

    assert box is not None
    assert not box.top < y < box.bottom


def test_the_figure_of_a_limit_does_not_hide_what_was_flown_below_it() -> None:
    """Far below its minimum a flight ran on behind the minimum's own figure."""
    page = Page(400.0, 300.0)
    chart = Chart(page, Rect(40.0, 20.0, 380.0, 260.0), 0.0, 6.0, 0.0, 2000.0)
    placer = Placer(chart.box)
    x = np.linspace(40.0, 380.0, 400)
    placer.avoid(x, np.full(len(x), float(chart.y(1000.0)) + 9.0))
    limit_label(chart, placer, (1.0, 5.0), 1000.0, below=True)

    (figure,) = [text for text in page.texts if text.text == "1,000 ft"]
    assert figure.box.bottom < float(chart.y(1000.0))


def test_a_limit_that_goes_on_in_the_next_phase_has_one_figure() -> None:
    page = Page(595.0, 842.0)
    scene = scene_of()
    legs = [
        leg.model_copy(update={"altitude": AltitudeLimit(at_or_above_ft=2300)})
        if leg.phase in (Phase.OUTBOUND, Phase.COURSE_REVERSAL)
        else leg
        for leg in scene.flight.procedure.leg
    ]
    procedure = scene.flight.procedure.model_copy(update={"leg": tuple(legs)})
    draw_profile(page, BOX, replace(scene, flight=replace(scene.flight, procedure=procedure)))

    assert [text.text for text in page.texts].count("2,300 ft") == 1


def test_no_line_down_from_a_phase_s_name_runs_through_another_name() -> None:
    """Over a short leg back in and the passage after it, the passage's line ran through the leg's name."""
    page = Page(595.0, 842.0)
    bands = [
        Band("course_reversal", 40.0, 400.0, "Course reversal"),
        Band("intermediate", 400.0, 432.0, "Intermediate"),
        Band("station_passage", 432.0, 440.0, "over QLW"),
        Band("final", 440.0, 550.0, "Final"),
    ]
    phase_bands(page, bands, 40.0, 550.0, 60.0)

    (leg,) = [text for text in page.texts if text.text == "Intermediate"]
    assert leg.box.right < 436.0
    assert leg.box.left < 416.0


def test_a_missed_approach_point_by_the_clock_stands_where_the_clock_said_so() -> None:
    """It stood where a flight in still air passes it: by the picture, the climb began half a mile before it."""
    procedure = load_procedure("quillow-ndb-18")
    result = debrief(read_track(SAMPLES / "quillow-overshoot.gpx"), procedure)
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)
    page = Page(595.0, 842.0)
    draw_final(page, BOX, scene)

    final = result.attempts[0].measures.final
    assert final is not None
    assert final.missed_approach_point is not None
    passed = scene.flight.at(np.array([scene.seconds(final.missed_approach_point)]))
    left = {text.text: text.box.left for text in page.texts}
    middle = {text.text: (text.box.left + text.box.right) / 2 for text in page.texts}
    a_mile_pt = (middle["4.0"] - middle["0.0"]) / 4.0
    from_station_nm = (left["missed approach point, by the clock"] - left["QLW"]) / a_mile_pt

    assert from_station_nm == pytest.approx(float(passed.distance_nm[0]), abs=0.05)


def test_the_missed_approach_point_is_named_with_its_distance() -> None:
    """Its name alone, under that of the step before it, seemed to be the step's."""
    procedure = load_procedure("brandel-ndb-27")
    result = debrief(record(fly(procedure, FlightPlan()), Sensor()), procedure)
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)
    page = Page(595.0, 842.0)

    draw_final(page, BOX, scene)

    said = {text.text for text in page.texts}
    assert {"3.8 DME", "missed approach point, 5.2 DME"} <= said
