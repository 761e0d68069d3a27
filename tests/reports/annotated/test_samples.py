"""The table of samples as files: its columns, its values, and what stands for none."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pandas as pd
import pytest

from debrief.reports.annotated import annotated_files
from tests.reports.annotated.flights import FLIGHTS, result_of

#: Source: DEVELOPERS.md, "Samples".
COLUMNS = [
    "time", "latitude", "longitude", "altitude_ft", "phase", "attempt", "groundspeed_kt", "ground_track_true_deg",
    "vertical_speed_fpm", "turn_rate_deg_s", "course_deg", "cross_track_nm", "deviation_deg", "deflection", "to_from",
    "dme_nm", "cone", "used", "bearing_deg", "relative_bearing_deg",
]  # fmt: skip
#: A quarter of what is asked of the needle, the DME and the ground speed, and as fine for the rest.
WITHIN = {
    "altitude_ft": 0.051, "groundspeed_kt": 0.051, "ground_track_true_deg": 0.0051, "vertical_speed_fpm": 0.51,
    "turn_rate_deg_s": 0.00051, "course_deg": 0.051, "cross_track_nm": 0.000051, "deviation_deg": 0.00051,
    "deflection": 0.000051, "dme_nm": 0.00051, "bearing_deg": 0.0051,
    "relative_bearing_deg": 0.0051, "latitude": 0.51e-7, "longitude": 0.51e-7,
}  # fmt: skip


def rows_of(name: str) -> list[dict[str, str]]:
    text = annotated_files(result_of(name), ["csv"])[".samples.csv"].decode()
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_columns_and_one_row_a_raw_sample(name: str) -> None:
    rows = rows_of(name)

    assert list(rows[0]) == COLUMNS
    assert len(rows) == result_of(name).track.samples
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", row["time"]) for row in rows)
    assert [row["time"] for row in rows] == sorted(row["time"] for row in rows)


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_values_are_those_of_the_table(name: str) -> None:
    table = result_of(name).samples()

    rows = rows_of(name)

    for column, within in WITHIN.items():
        written = np.array([float(row[column]) if row[column] else np.nan for row in rows])
        np.testing.assert_allclose(written, table[column].to_numpy(), rtol=0, atol=within, err_msg=column)
    for column in ("phase", "to_from", "attempt"):
        expected = [
            "" if value else str(known)
            for value, known in zip(table[column].isna(), table[column], strict=True)
        ]
        assert [row[column] for row in rows] == expected
    for column in ("cone", "used"):
        assert [int(row[column]) for row in rows] == table[column].tolist()


def test_what_was_not_measured_is_empty() -> None:
    rows = rows_of("antimeridian")  # over an NDB, which has no DME

    assert {row["dme_nm"] for row in rows} == {""}
    assert {row["course_deg"] for row in rows if row["phase"] == "inbound"} == {""}
    assert {row["deflection"] for row in rows if row["cone"] == "1"} == {""}
    assert not any(word in row.values() for row in rows for word in ("nan", "None", "<NA>", "NaT"))


def test_the_last_sample_of_a_flight_that_ends_with_an_attempt_is_of_it() -> None:
    last = rows_of("two attempts")[-1]

    assert (last["phase"], last["attempt"]) == ("landing", "2")


@pytest.mark.parametrize("name", FLIGHTS)
def test_parquet_holds_the_table_with_its_types(name: str) -> None:
    content = annotated_files(result_of(name), ["parquet"])[".samples.parquet"]

    table = pd.read_parquet(io.BytesIO(content), engine="pyarrow")

    expected = result_of(name).samples()
    pd.testing.assert_frame_equal(table, expected)
    assert list(table.columns) == COLUMNS


@pytest.mark.parametrize("format_", ["csv", "parquet"])
def test_the_same_result_gives_the_same_bytes(format_: str) -> None:
    one, other = (annotated_files(result_of("gap"), [format_]) for _ in range(2))  # type: ignore[list-item]

    assert one == other
