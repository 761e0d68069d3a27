"""Samples and findings as tables, and the result at a glance."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest

from debrief.errors import DebriefError
from debrief.result import (
    Attempt,
    Finding,
    Grade,
    Measures,
    PhaseSpan,
    ProcedureInfo,
    Result,
    StandardInfo,
    TrackInfo,
)
from tests.measures.builders import EPOCH, whole_approach

COLUMNS = [
    "time",
    "latitude",
    "longitude",
    "altitude_ft",
    "phase",
    "attempt",
    "groundspeed_kt",
    "ground_track_true_deg",
    "vertical_speed_fpm",
    "turn_rate_deg_s",
    "course_deg",
    "cross_track_nm",
    "deviation_deg",
    "deflection",
    "to_from",
    "dme_nm",
    "cone",
    "used",
    "bearing_deg",
    "relative_bearing_deg",
]


def finding(number: int, **changes) -> Finding:
    return replace(
        Finding(
            number=number,
            rule="altitude",
            phase="outbound",
            start=EPOCH + timedelta(seconds=300),
            end=EPOCH + timedelta(seconds=320),
            value=3300.0,
            limit=3500.0,
            unit="ft",
            verdict="exceeded",
            message="Down to 3,300 ft <for 20 s>.",
            advice="Level off.",
        ),
        **changes,
    )


@cache
def result(findings: tuple[Finding, ...] = (), *, with_flight: bool = True) -> Result:
    flight = whole_approach().flight
    grade = Grade(result="unsatisfactory", items=(), reason="")
    return Result(
        program="debrief test",
        track=TrackInfo(
            file="a&b.gpx",
            sha256="",
            samples=1,
            samples_used=1,
            start=EPOCH,
            end=EPOCH,
            median_interval_s=1.0,
            gaps=(),
            altitude_source="gps",
            altitude_uncertainty_ft=20.0,
            altitude_correction=None,
            altitude_offset_ft=None,
            position_noise_nm=0.0,
            altitude_noise_ft=0.0,
            warnings=(),
        ),
        procedure=ProcedureInfo(name="Test VOR/DME runway 22", file="", sha256=""),
        standard=StandardInfo(name="Instrument rating", source=""),
        attempts=(
            Attempt(
                number=1,
                phases=(PhaseSpan(phase="inbound", start=EPOCH, end=EPOCH),),
                not_seen=(),
                ending="missed approach",
                station_passages=(),
                turns=(),
                wind=None,
                measures=Measures(),
                findings=findings,
                grade=grade,
            ),
        ),
        flight=flight if with_flight else None,
    )


def test_samples_have_the_columns_of_the_definitions_in_their_order():
    assert list(result().samples().columns) == COLUMNS


def test_a_row_a_raw_sample_with_its_time_in_utc():
    table, track = result().samples(), whole_approach().flight.log.track

    assert len(table) == len(track)
    assert table["time"].iloc[0] == pd.Timestamp("2026-03-14T18:30:00Z")
    assert table["time"].iloc[-1] == pd.Timestamp(EPOCH) + pd.Timedelta(seconds=len(track) - 1)
    assert str(table["time"].dt.tz) == "UTC"
    assert np.array_equal(table["latitude"], track.latitude_deg)


def test_what_is_not_known_is_missing_and_never_an_empty_text_or_a_zero():
    table = result().samples()
    inbound, last = table[table["phase"] == "inbound"], table.iloc[-1]

    assert inbound["course_deg"].isna().all()
    assert inbound["to_from"].isna().all()
    assert pd.isna(last["phase"])  # the log goes on after the missed approach
    assert pd.isna(last["attempt"])
    assert set(table["attempt"].dropna()) == {1}
    assert set(table["to_from"].dropna()) == {"TO", "FROM"}
    assert set(table["cone"]) == {0, 1}
    assert set(table["used"]) == {1}


def test_a_csv_of_the_samples_leaves_empty_what_is_missing():
    header, first = result().samples().to_csv(index=False).splitlines()[:2]
    cells = dict(zip(header.split(","), first.split(","), strict=True))

    assert cells["phase"] == "inbound"
    assert (cells["course_deg"], cells["to_from"], cells["deviation_deg"]) == ("", "", "")
    assert cells["attempt"] == "1"


def test_a_result_read_from_a_file_has_no_samples_and_says_what_to_do():
    with pytest.raises(DebriefError) as caught:
        result(with_flight=False).samples()

    assert str(caught.value) == (
        "this result holds no samples: it was read from a file. Debrief the track again to get them."
    )


def test_findings_have_a_row_each():
    table = result((finding(1), finding(2, start=None, end=None, value=None, phase=None))).findings()

    assert table["number"].tolist() == [1, 2]
    assert table["attempt"].tolist() == [1, 1]
    assert table["start"].iloc[0] == pd.Timestamp("2026-03-14T18:35:00Z")
    assert pd.isna(table["start"].iloc[1])
    assert table["value"].iloc[0] == 3300.0
    assert np.isnan(table["value"].iloc[1])


def test_without_findings_the_table_is_empty_with_all_its_columns():
    none, some = result().findings(), result((finding(1),)).findings()

    assert len(none) == 0
    assert list(none.columns) == list(some.columns)
    assert none.dtypes["value"] == some.dtypes["value"]


def test_the_notebook_shows_what_was_flown_and_escapes_it():
    html = result((finding(1),))._repr_html_()

    assert "a&amp;b.gpx" in html
    assert "&lt;for 20 s&gt;" in html
    assert "unsatisfactory" in html
    assert "not for navigation" in html
    assert "No findings." in result()._repr_html_()
