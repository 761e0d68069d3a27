"""Needle, flag, distance and pointer of every sample, against a geodesic library that the program does not use.

The independent side works on the raw positions of an exact log (geographiclib, the definitions of DEVELOPERS.md);
the program's goes through projection, smoothing and its own selection of the course.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pandas as pd
import pytest
from geographiclib.geodesic import Geodesic

from debrief.pipeline import debrief
from debrief.procedures.model import Procedure
from tests.ensembles import PERFECT, Case, clean_flights

#: What is asked.
NEEDLE_DEG = 0.05
DME_NM = 0.005
#: Of a pointer by a heading that is logged in tenths each second, of which the middle one of three is taken.
POINTER_DEG = 0.2
FT_PER_NM = 1852.0 / 0.3048
ABEAM_DEG = 5.0  # no flag within this of abeam
COUNT = 10  # one a bundled procedure


def signed(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def course_of(procedure: Procedure, phase: str) -> float | None:
    legs = {"outbound": procedure.outbound, "final": procedure.final}
    if phase == "outbound" and legs["outbound"] is not None and legs["outbound"].radial_deg is not None:
        return legs["outbound"].radial_deg
    if phase in ("outbound", "course_reversal", "intermediate"):
        intermediate = procedure.leg_of("intermediate") or procedure.leg_of("final")
        return None if intermediate is None else intermediate.course_deg
    if phase in ("final", "missed_approach", "landing"):
        return None if legs["final"] is None else legs["final"].course_deg
    return None


def to_station(procedure: Procedure, phase: str, radial_deg: float, course_deg: float) -> bool:
    if phase == "outbound":
        return procedure.outbound is not None and procedure.outbound.radial_deg is None
    if phase in ("course_reversal", "intermediate"):
        return True
    return abs(signed(radial_deg - course_deg)) > 90.0


@pytest.fixture(scope="module")
def cases() -> list[tuple[Case, pd.DataFrame]]:
    exact = replace(PERFECT, columns=("heading_true_deg",), direction_noise_deg=0.0)
    return [(case, debrief(case.track, case.procedure).samples()) for case in clean_flights(COUNT, 3, exact)]


@pytest.mark.parametrize("number", range(COUNT))
def test_every_sample_shows_what_an_independent_computation_gives(
    cases: list[tuple[Case, pd.DataFrame]], number: int
) -> None:
    case, table = cases[number]
    procedure, station = case.procedure, case.procedure.station
    half_angle = math.radians(40.0 if station.kind.startswith("NDB") else 50.0)
    needles = flags = 0
    for row in table[table["phase"].notna()].itertuples():
        line = Geodesic.WGS84.Inverse(station.latitude, station.longitude, row.latitude, row.longitude)
        distance_nm = line["s12"] / 1852.0
        height_nm = (row.altitude_ft - station.elevation_ft) / FT_PER_NM
        radial_deg = (line["azi1"] - station.declination_deg) % 360.0
        assert abs(signed(row.bearing_deg - radial_deg - 180.0)) * min(distance_nm, 1.0) < NEEDLE_DEG
        if "DME" in station.kind:
            assert row.dme_nm == pytest.approx(math.hypot(distance_nm, height_nm), abs=DME_NM)
        else:
            assert math.isnan(row.dme_nm)
        edge_nm = distance_nm - height_nm * math.tan(half_angle)
        course_deg = course_of(procedure, row.phase)
        if row.phase == "station_passage" or abs(edge_nm) < DME_NM:
            continue  # the cone and its edge: the next test
        if course_deg is None:
            assert row.phase == "inbound"
            assert math.isnan(row.course_deg)
            continue
        assert row.course_deg == course_deg
        if edge_nm < 0:
            continue
        inbound = to_station(procedure, row.phase, radial_deg, course_deg)
        off_deg = signed(course_deg + 180.0 - radial_deg) if inbound else signed(radial_deg - course_deg)
        assert abs(signed(row.deviation_deg - off_deg)) < NEEDLE_DEG
        assert row.deflection == pytest.approx(max(-1.0, min(1.0, off_deg / 10.0)), abs=NEEDLE_DEG / 10.0)
        from_abeam_deg = 90.0 - abs(signed(radial_deg - course_deg))
        expected = "" if abs(from_abeam_deg) <= ABEAM_DEG else "FROM" if from_abeam_deg > 0 else "TO"
        assert ("" if pd.isna(row.to_from) else row.to_from) == expected
        needles += 1
        flags += expected != ""
    assert needles > 100
    assert flags > 100


@pytest.mark.parametrize("number", range(COUNT))
def test_in_the_cone_needle_and_flag_are_blank(cases: list[tuple[Case, pd.DataFrame]], number: int) -> None:
    case, table = cases[number]
    cone = table[table["cone"] == 1]

    assert len(cone) or case.procedure.station_on_aerodrome
    assert cone["deviation_deg"].isna().all()
    assert cone["to_from"].isna().all()


@pytest.mark.parametrize("number", range(COUNT))
def test_a_pointer_stands_where_the_heading_puts_the_station(
    cases: list[tuple[Case, pd.DataFrame]], number: int
) -> None:
    case, table = cases[number]
    station = case.procedure.station
    heading = case.track.columns["heading_true_deg"]
    far = table[table["relative_bearing_deg"].notna() & (table["cone"] == 0)]

    assert len(far) > 100
    for row in far.iloc[::5].itertuples():
        line = Geodesic.WGS84.Inverse(row.latitude, row.longitude, station.latitude, station.longitude)
        if line["s12"] > 2000.0 and abs(row.turn_rate_deg_s) < 0.5:
            assert abs(signed(row.relative_bearing_deg - line["azi1"] + heading[row.Index])) < POINTER_DEG
