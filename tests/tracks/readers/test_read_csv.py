"""CSV of any make: tables, numbers, positions, altitudes, speeds."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import read_track

from .flight import CLIMB_FT_MIN, SPEED_KT, flight, iso, table, usual

SEVENTH_DECIMAL_DEG = 0.6e-7
HALF_A_SECOND_OF_ARC_DEG = 0.5 / 3600
ONE_FOOT = 1.0
TENTH_OF_A_KNOT = 0.1
FEET_PER_METRE = 1 / 0.3048
METRES_PER_NM = 1852


def read(tmp_path, text, encoding="utf-8", name="flight.csv", **wishes):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return read_track(path, **wishes)


def refused(tmp_path, text, **wishes):
    with pytest.raises(TrackError) as error:
        read(tmp_path, text, **wishes)
    return str(error.value).replace(str(tmp_path / "flight.csv"), "flight.csv")


def is_the_flight(track, rows=None, tolerance_deg=SEVENTH_DECIMAL_DEG):
    rows = flight() if rows is None else rows
    assert len(track) == len(rows)
    assert track.epoch == rows[0].time
    np.testing.assert_allclose(
        track.t_s, [(r.time - rows[0].time).total_seconds() for r in rows], rtol=0, atol=1e-6
    )
    np.testing.assert_allclose(track.latitude_deg, [r.latitude for r in rows], rtol=0, atol=tolerance_deg)
    np.testing.assert_allclose(track.longitude_deg, [r.longitude for r in rows], rtol=0, atol=tolerance_deg)


def altitudes(rows=None):
    return [row.altitude_ft for row in (flight() if rows is None else rows)]


# Tables


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", ","), ("|", ".")]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_delimiters_decimals_and_line_ends(tmp_path, encoding, delimiter, decimal, end):
    columns = usual(**{"Höhe (ft)": lambda row: row.altitude_ft})

    track = read(tmp_path, table(columns, delimiter=delimiter, decimal=decimal, end=end), encoding)

    is_the_flight(track)
    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-6)
    assert track.line.tolist() == list(range(2, 122))
    assert track.format == "csv"


COLUMNS = {
    "time": iso,
    "lat": lambda row: row.latitude,
    "lon": lambda row: row.longitude,
    "alt_ft": lambda row: row.altitude_ft,
    "gs_kt": lambda row: SPEED_KT,
    "note": lambda row: "clear, of cloud; so far",
    "squawk": lambda row: 7000,
}


@given(
    order=st.permutations(list(COLUMNS)),
    marks=st.sampled_from(
        [(",", "."), (",", ","), (";", ","), (";", "."), ("\t", "."), ("\t", ","), ("|", ",")]
    ),
    end=st.sampled_from(["\n", "\r\n"]),
    latitude=st.floats(-75, 75),
    longitude=st.one_of(st.floats(-179, -0.001), st.floats(0.001, 178)),  # 0, 0 is no place of a log
)
def test_order_of_columns_and_marks_do_not_matter(tmp_path_factory, order, marks, end, latitude, longitude):
    rows = flight(20, latitude=latitude, longitude=longitude)
    text = table({name: COLUMNS[name] for name in order}, rows, *marks, end=end)

    track = read(tmp_path_factory.mktemp("csv"), text)

    is_the_flight(track, rows)
    np.testing.assert_allclose(track.altitude_ft, altitudes(rows), rtol=0, atol=1e-6)
    np.testing.assert_allclose(track.columns["groundspeed_kt"], SPEED_KT, rtol=0, atol=1e-9)
    assert track.notes == ()


def test_columns_set_apart_by_blanks(tmp_path):
    rows = flight(10)
    lines = [f"{iso(r)}   {r.latitude:.7f} {r.longitude:.7f}   {r.altitude_ft:.0f}" for r in rows]

    track = read(tmp_path, "time   lat lon   alt_ft\n" + "\n".join(lines))

    is_the_flight(track, rows)


@pytest.mark.parametrize(
    "preamble",
    [
        "Flight log, exported\nAircraft: single engine\n\n",
        "# comment, with, commas\n# another\n",
        "\n\n\n",
        "Pilot;A\nVersion;1,5;x;y\n",
        '"a title, quoted"\n',
    ],
)
def test_lines_before_the_headings(tmp_path, preamble):
    track = read(tmp_path, table(usual(), preamble=preamble))

    is_the_flight(track)
    assert track.line[0] == preamble.count("\n") + 2


def test_headings_behind_a_sign_for_comments(tmp_path):
    track = read(tmp_path, "# " + table(usual()))

    is_the_flight(track)


def test_a_row_of_units_under_the_headings(tmp_path):
    rows = flight(10)
    text = table(usual(Altitude=lambda row: row.altitude_ft * 0.3048, Speed__GS=lambda row: 222.24), rows)
    heading, _, rest = text.partition("\n")

    track = read(tmp_path, f"{heading}\n-,deg,deg,m,km/h\n{rest}")

    is_the_flight(track, rows)
    np.testing.assert_allclose(track.altitude_ft, altitudes(rows), rtol=0, atol=1e-5)
    assert track.columns["groundspeed_kt"][0] == pytest.approx(120, abs=1e-9)
    assert track.line[0] == 3


ENGINE_HEADINGS = ", volt1, amp1, FQtyL, E1 FFlow, E1 OilP, E1 RPM, COM1, HCDI, HSIS, AfcsOn, NormAc"
ENGINE_UNITS = ", volts, amps, gals, gph, psi, rpm, MHz, fsd, enum, bool, G"


@pytest.mark.parametrize("with_engine", [False, True])
def test_a_row_of_units_over_the_headings(tmp_path, with_engine):
    """Integrated cockpits write a line of units first, local times, and the offset in a column."""
    rows = flight(10)
    engine = ", 1" * ENGINE_HEADINGS.count(",") if with_engine else ""
    lines = [
        f"{r.time:%Y-%m-%d}, {r.time:%H:%M:%S}, +00:00, XYZ, {r.latitude:.7f}, {r.longitude:.7f}, "
        f"{r.altitude_ft:.1f}, 29.92, {r.altitude_ft + 60:.1f}, 95, 120, 480, 45{engine}"
        for r in rows
    ]
    text = (
        "#log, version=1\n"
        "#yyy-mm-dd, hh:mm:ss, hh:mm, ident, degrees, degrees, ft Baro, inch, ft msl, kt, kt, fpm, deg"
        f"{ENGINE_UNITS if with_engine else ''}\n"
        "  Lcl Date, Lcl Time, UTCOfst, AtvWpt, Latitude, Longitude, AltB, BaroA, AltMSL, IAS, GndSpd, VSpd, HDG"
        f"{ENGINE_HEADINGS if with_engine else ''}\n"
    )

    track = read(tmp_path, text + "\n".join(lines))

    is_the_flight(track, rows)
    assert track.altitude_source == "indicated"
    np.testing.assert_allclose(track.altitude_ft, altitudes(rows), rtol=0, atol=0.05)
    assert {name: values[0] for name, values in track.columns.items()} == {
        "groundspeed_kt": 120,
        "airspeed_kias": 95,
        "vertical_speed_ft_min": 480,
        "heading_true_deg": 45,
    }
    assert track.notes == (
        (
            "Column 'HDG' does not say which north: it was taken as true heading, unless the flight shows that it is "
            "magnetic."
        ),
        "Altitude was taken from column 'AltB', not from 'AltMSL'.",
    )


def test_blank_lines_comments_and_repeated_headings_among_the_rows(tmp_path):
    lines = table(usual()).splitlines()
    text = "\n".join([*lines[:50], "", "# a remark, here", lines[0], *lines[50:], ""])

    track = read(tmp_path, text)

    is_the_flight(track)
    assert track.notes == (
        "1 row without a position left out (the one in line 53).",
        "The log has no altitudes.",
    )


def test_rows_that_are_too_short_or_too_long_are_counted(tmp_path):
    lines = table(usual(remark=lambda row: "ok")).splitlines()
    lines[10] += ",extra"
    lines[20] = lines[20].partition(",")[0]
    lines[30] += ",,,"

    track = read(tmp_path, "\n".join(lines))

    assert len(track) == 118
    assert track.notes == (
        "1 row with more cells than headings left out (the first in line 11).",
        "1 row without a position left out (the one in line 21).",
        "The log has no altitudes.",
    )


def test_a_delimiter_at_the_end_of_each_row(tmp_path):
    is_the_flight(read(tmp_path, table(usual()).replace("\n", ",\n").replace(",\n", "\n", 1)))
    is_the_flight(read(tmp_path, table(usual()).replace("\n", ",\n")))


def test_zeros_at_the_end_as_a_power_cut_leaves_them(tmp_path):
    is_the_flight(read(tmp_path, table(usual()).encode() + b"\0" * 4096))


# Numbers


@pytest.mark.parametrize(
    ("heading", "write", "delimiter"),
    [
        ("alt_ft", lambda ft: f"{ft:,.0f}", ","),
        ("alt_ft", lambda ft: f"{ft:,.1f}".replace(",", "'"), ","),
        ("alt_ft", lambda ft: f"{ft:,.1f}".replace(",", " "), ","),
        ("alt", lambda ft: f"{ft:.0f} ft", ","),
        ("alt", lambda ft: f"{ft * 0.3048:.2f}m", ","),
        ("alt (m)", lambda ft: f"{ft * 0.3048:.2f}".replace(".", ","), ";"),
        ("alt_ft", lambda ft: f"+{ft:.0f}", ","),
        ("FL", lambda ft: f"{ft / 100:.2f}", ","),
        ("alt_km", lambda ft: f"{ft * 0.0003048:.5f}", ","),
    ],
    ids=["1,500", "1'500.0", "1 500.0", "1500 ft", "457.20m", "457,20", "+1500", "15.00 FL", "0.45720 km"],
)
def test_numbers_as_people_write_them(tmp_path, heading, write, delimiter):
    text = table(usual(**{heading: lambda row: write(row.altitude_ft)}), delimiter=delimiter)

    track = read(tmp_path, text)

    is_the_flight(track)
    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=ONE_FOOT)


def test_points_group_thousands_where_commas_are_decimal(tmp_path):
    def german(row):
        return f"{row.altitude_ft:,.1f}".translate(str.maketrans(",.", ".,"))

    track = read(tmp_path, table(usual(alt_ft=german), delimiter=";", decimal=","))

    is_the_flight(track)
    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=0.06)


def test_flight_levels_in_cells(tmp_path):
    rows = flight(20, altitude_ft=8500)

    track = read(tmp_path, table(usual(FL=lambda row: f"FL{row.altitude_ft / 100:03.0f}"), rows))

    np.testing.assert_allclose(track.altitude_ft, altitudes(rows), rtol=0, atol=50.1)
    assert track.altitude_source == "pressure"


def test_empty_cells_are_no_value(tmp_path):
    def sometimes(row):
        return "" if row.time.second % 2 else row.altitude_ft

    track = read(tmp_path, table(usual(alt_ft=sometimes)))

    is_the_flight(track)
    assert np.isnan(track.altitude_ft).sum() == sum(row.time.second % 2 for row in flight())


# Positions


def degrees_minutes(value, letters, seconds=False, width=2):
    size, letter = abs(value), letters[value < 0]
    whole, minutes = int(size), size % 1 * 60
    if seconds:
        return whole, int(minutes), minutes % 1 * 60, letter
    return whole, minutes, letter


def minutes_form(pattern):
    return (
        lambda row: pattern.format(*degrees_minutes(row.latitude, "NS"), w=2),
        lambda row: pattern.format(*degrees_minutes(row.longitude, "EW"), w=3),
    )


def seconds_form(pattern):
    return (
        lambda row: pattern.format(*degrees_minutes(row.latitude, "NS", seconds=True), w=2),
        lambda row: pattern.format(*degrees_minutes(row.longitude, "EW", seconds=True), w=3),
    )


@pytest.mark.parametrize(
    "form",
    [
        minutes_form("{0:0{w}d}{1:07.4f}{2}"),
        minutes_form("{2}{0:0{w}d}{1:07.4f}"),
        minutes_form("{0:d}° {1:.4f}' {2}"),
        minutes_form("{2} {0:d} {1:.4f}"),
        minutes_form("{2}{0:d}°{1:.4f}′"),
        seconds_form("{0:d}°{1:02d}'{2:05.2f}\"{3}"),
        seconds_form("{3} {0:d} {1:02d} {2:05.2f}"),
        seconds_form("{0:d}:{1:02d}:{2:05.2f}{3}"),
        seconds_form("{0:0{w}d}{1:02d}{2:05.2f}{3}"),
        (lambda r: f"{abs(r.latitude):.6f}S", lambda r: f"{r.longitude:.6f} E"),
        (lambda r: f"S {abs(r.latitude):.6f}", lambda r: f"E{r.longitude:.6f}°"),
        (lambda r: f"{r.latitude:.6f}°", lambda r: f"{r.longitude:.6f} deg"),
        (lambda r: f"\u2212{abs(r.latitude):.6f}", lambda r: f"{r.longitude:.6f}"),
    ],
    ids=lambda form: form[0](flight(1)[0]),
)
def test_positions_as_people_write_them(tmp_path, form):
    latitude, longitude = form

    track = read(tmp_path, table({"time": iso, "lat": latitude, "lon": longitude}, delimiter=";"))

    is_the_flight(track, tolerance_deg=HALF_A_SECOND_OF_ARC_DEG)
    assert track.assumed == ()


def test_degrees_and_minutes_in_one_number_without_letters(tmp_path):
    """Both axes must be impossible as degrees for this; then it is said."""

    def packed(value):
        whole, minutes = int(abs(value)), abs(value) % 1 * 60
        return f"{'-' if value < 0 else ''}{whole * 100 + minutes:.5f}"

    columns = {"time": iso, "lat": lambda r: packed(r.latitude), "lon": lambda r: packed(r.longitude)}
    track = read(tmp_path, table(columns))

    is_the_flight(track, tolerance_deg=HALF_A_SECOND_OF_ARC_DEG)
    assert track.assumed == ("Positions such as -1745.07 were read as degrees and minutes (DDMM.mmm).",)


def test_letters_of_the_hemisphere_in_columns_of_their_own(tmp_path):
    columns = {
        "time": iso,
        "lat": lambda r: abs(r.latitude),
        "N/S": lambda r: "S",
        "lon": lambda r: abs(r.longitude),
        "E/W": lambda r: "E",
    }

    is_the_flight(read(tmp_path, table(columns)))


def test_radians_and_ten_millionths_of_a_degree(tmp_path):
    columns = {
        "time": iso,
        "lat (rad)": lambda r: f"{np.radians(r.latitude):.12f}",
        "longitudeE7": lambda r: round(r.longitude * 1e7),
    }

    is_the_flight(read(tmp_path, table(columns)), tolerance_deg=2 * SEVENTH_DECIMAL_DEG)


@pytest.mark.parametrize(
    "write",
    [
        lambda r: f"{r.latitude:.7f},{r.longitude:.7f}",
        lambda r: f"({r.latitude:.7f}, {r.longitude:.7f})",
        lambda r: f"{r.latitude:.7f} {r.longitude:.7f}",
        lambda r: f"{r.latitude:.7f};{r.longitude:.7f}",
        lambda r: f"{r.latitude:.7f},{r.longitude:.7f}".replace(".", ","),
        lambda r: f"POINT({r.longitude:.7f} {r.latitude:.7f})",
        lambda r: f"POINT Z ({r.longitude:.7f} {r.latitude:.7f} 300)",
        lambda r: f"S{abs(r.latitude):.7f} E{r.longitude:.7f}",
        lambda r: f"{abs(r.latitude):.7f}S {r.longitude:.7f}E",
    ],
    ids=lambda write: write(flight(1)[0]),
)
def test_both_coordinates_in_one_column(tmp_path, write):
    is_the_flight(read(tmp_path, table({"time": iso, "position": write})))


def test_longitude_first_where_only_that_is_possible(tmp_path):
    track = read(tmp_path, table({"time": iso, "position": lambda r: f"{r.longitude:.7f},{r.latitude:.7f}"}))

    is_the_flight(track)
    assert track.notes == ("Column 'position' has the longitude first.", "The log has no altitudes.")


def test_both_coordinates_with_decimal_commas_settle_the_other_numbers(tmp_path):
    def german(row):
        return f"{row.latitude:.7f} {row.longitude:.7f}".replace(".", ",")

    columns = {
        "time": iso,
        "position": german,
        "alt_ft": lambda row: f"{row.altitude_ft:,.0f}".replace(",", "."),
    }
    track = read(tmp_path, table(columns, delimiter=";"))

    is_the_flight(track)
    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=ONE_FOOT)


def test_a_few_bad_positions_are_left_out_and_placed(tmp_path):
    lines = table(usual(alt_ft=lambda row: 1000)).splitlines()
    lines[3] = lines[3].replace("-17.", "-117.")
    lines[7] = lines[7].replace("-17.", "nan")
    lines[9] = "2026-05-04T22:12:47Z,0,0,0"

    track = read(tmp_path, "\n".join(lines))

    assert len(track) == 118
    assert track.notes == (
        "1 row without a position left out (the one in line 8).",
        "1 row with a position that is not on the Earth left out (the one in line 4).",
        "1 row at latitude 0, longitude 0, as a recorder without a position writes.",
    )


# Altitudes


def with_altitudes(**columns):
    """Headings with how far each lies above the truth."""
    return usual(**{name: (lambda row, by=by: row.altitude_ft + by) for name, by in columns.items()})


@pytest.mark.parametrize(
    ("columns", "above_ft", "source"),
    [
        ({"altitude_ft": 0}, 0, "unknown"),
        ({"altitude_ft": 0, "gps_altitude_ft": 50, "pressure_altitude_ft": 90}, 0, "unknown"),
        ({"gps_altitude_ft": 50, "pressure_altitude_ft": 90}, 50, "gps"),
        ({"pressure_altitude_ft": 90}, 90, "pressure"),
        ({"baro_altitude_ft": 90}, 90, "pressure"),
        ({"indicated_altitude_ft": 10, "altitude_msl_ft": 0, "altitude_ft": 20}, 10, "indicated"),
        ({"altitude_msl_ft": 0, "gps_altitude_ft": 50}, 0, "gps"),
    ],
)
def test_which_altitude_is_taken(tmp_path, columns, above_ft, source):
    track = read(tmp_path, table(with_altitudes(**columns)))

    np.testing.assert_allclose(track.altitude_ft - altitudes(), above_ft, rtol=0, atol=1e-6)
    assert track.altitude_source == source
    has_pressure = any(name.startswith(("pressure", "baro")) for name in columns)
    assert ("pressure_altitude_ft" in track.columns) == has_pressure
    if has_pressure:
        np.testing.assert_allclose(track.columns["pressure_altitude_ft"] - altitudes(), 90, rtol=0, atol=1e-6)
    assert track.assumed == ()


def test_an_altitude_that_is_mostly_empty_is_not_taken(tmp_path):
    columns = with_altitudes(pressure_altitude_ft=90) | {
        "gps_altitude_ft": lambda row: row.altitude_ft if row.time.second < 10 else ""
    }

    track = read(tmp_path, table(columns))

    assert track.altitude_source == "pressure"
    assert np.isfinite(track.altitude_ft).all()


def test_an_altitude_without_unit_is_feet_by_the_word_and_said(tmp_path):
    track = read(tmp_path, table(usual(altitude=lambda row: row.altitude_ft)))

    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-6)
    assert track.assumed == (
        "Column 'altitude' has no unit: it was taken as feet, as is usual under such a heading.",
    )


@pytest.mark.parametrize("word", ["elevation", "ele", "Height"])
def test_an_elevation_without_unit_is_metres_by_the_word_and_said(tmp_path, word):
    track = read(tmp_path, table(usual(**{word: lambda row: row.altitude_ft * 0.3048})))

    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-5)
    assert track.assumed == (
        f"Column '{word}' has no unit: it was taken as metres, as is usual under such a heading.",
    )


def test_the_person_decides_the_unit_of_the_altitude(tmp_path):
    text = table(usual(altitude_ft=lambda row: row.altitude_ft * 0.3048))

    track = read(tmp_path, text, altitude_unit="m")

    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-5)
    assert track.notes == ("Column 'altitude_ft' was taken as m, as asked, though its heading says ft.",)


@pytest.mark.parametrize(("altitude_unit", "feet"), [("ft", 1.0), ("m", FEET_PER_METRE)])
@pytest.mark.parametrize(("rate_unit", "ft_min"), [("ft/min", 1.0), ("m/s", 60 * FEET_PER_METRE)])
def test_vertical_speed_shows_the_units_that_are_not_written(
    tmp_path, altitude_unit, feet, rate_unit, ft_min
):
    columns = usual(alt=lambda row: row.altitude_ft / feet, vs=lambda row: CLIMB_FT_MIN / ft_min)

    track = read(tmp_path, table(columns))

    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-5)
    np.testing.assert_allclose(track.columns["vertical_speed_ft_min"], CLIMB_FT_MIN, rtol=0, atol=1e-3)
    assert track.notes == (
        f"Column 'vs' has no unit: the altitude shows that it is {rate_unit}.",
        f"Column 'alt' has no unit: the vertical speed shows that it is {altitude_unit}.",
    )


def test_a_transponders_altitude_is_pressure_altitude(tmp_path):
    columns = usual(icao24=lambda row: "abc123", altitude_ft=lambda row: row.altitude_ft)

    track = read(tmp_path, table(columns))

    assert track.altitude_source == "pressure"
    np.testing.assert_array_equal(track.columns["pressure_altitude_ft"], track.altitude_ft)
    assert track.notes == ("Column 'altitude_ft' comes from a transponder: it is pressure altitude.",)


# Speeds and directions


@pytest.mark.parametrize(
    ("unit", "kt"), [("kt", 1.0), ("km/h", 1000 / 1852), ("m/s", 3600 / 1852), ("mph", 1609.344 / 1852)]
)
@pytest.mark.parametrize("heading", ["speed", "groundspeed", "Velocity"])
def test_positions_show_the_unit_of_a_speed(tmp_path, unit, kt, heading):
    columns = usual(alt_ft=lambda row: 1000, **{heading: lambda row: SPEED_KT / kt})

    track = read(tmp_path, table(columns))

    np.testing.assert_allclose(track.columns["groundspeed_kt"], SPEED_KT, rtol=0, atol=TENTH_OF_A_KNOT)
    assert track.notes == (
        f"Column '{heading}' has no unit: the positions show that it is ground speed in {unit}.",
    )


def test_a_speed_that_is_not_the_ground_speed_is_left_out(tmp_path):
    track = read(tmp_path, table(usual(alt_ft=lambda row: 1000, speed=lambda row: 77.0)))

    assert dict(track.columns) == {}
    assert track.notes == ("Column 'speed' was left out: the positions do not show that it is ground speed.",)


def test_a_ground_speed_without_unit_on_a_short_log_is_knots_and_said(tmp_path):
    track = read(tmp_path, table(usual(alt_ft=lambda row: 1000, gs=lambda row: 77.0), flight(5)))

    assert track.columns["groundspeed_kt"].tolist() == [77] * 5
    assert track.assumed == ("Column 'gs' has no unit: it was taken as knots.",)


@pytest.mark.parametrize(
    ("heading", "value", "name", "expected", "assumed"),
    [
        ("ground speed (km/h)", 185.2, "groundspeed_kt", 100, False),
        ("track (true)", 365, "ground_track_true_deg", 5, False),
        ("track", 48, "ground_track_true_deg", 48, True),
        ("heading_mag_deg", 48, "heading_mag_deg", 48, False),
        ("true heading", -10, "heading_true_deg", 350, False),
        ("heading", 48, "heading_true_deg", 48, True),
        ("yaw (rad)", np.pi / 2, "heading_true_deg", 90, True),
        ("IAS (kt)", 95, "airspeed_kias", 95, False),
        ("KIAS", 95, "airspeed_kias", 95, False),
        ("airspeed (kt)", 95, "airspeed_kias", 95, True),
        ("TAS (km/h)", 185.2, "airspeed_ktas", 100, False),
        ("vertical speed (m/s)", 2.54, "vertical_speed_ft_min", 500, False),
        ("VS (ft/s)", 10, "vertical_speed_ft_min", 600, False),
        ("on ground", "true", "on_ground", 1, False),
        ("On Ground", 0, "on_ground", 0, False),
        ("WOW", "Yes", "on_ground", 1, False),
        ("airborne", "1", "on_ground", 0, False),
        ("air/ground", "ground", "on_ground", 1, False),
        ("onground", "False", "on_ground", 0, False),
    ],
)
def test_other_columns(tmp_path, heading, value, name, expected, assumed):
    columns = usual(alt_ft=lambda row: 1000, **{heading: lambda row: value})

    track = read(tmp_path, table(columns))

    assert list(track.columns) == [name]
    np.testing.assert_allclose(track.columns[name], expected, rtol=0, atol=1e-5)
    assert bool(track.assumed) == assumed


def test_a_magnetic_track_is_left_out(tmp_path):
    track = read(tmp_path, table(usual(alt_ft=lambda row: 1000, **{"track (mag)": lambda row: 48})))

    assert dict(track.columns) == {}
    assert track.notes == (
        "Column 'track (mag)' was left out: a magnetic track is measured from the positions.",
    )


def test_true_and_magnetic_heading_side_by_side(tmp_path):
    track = read(
        tmp_path, table(usual(alt_ft=lambda row: 1000, HDG__T=lambda row: 50, HDG__M=lambda row: 40))
    )

    assert {name: values[0] for name, values in track.columns.items()} == {
        "heading_true_deg": 50,
        "heading_mag_deg": 40,
    }


# A log as receivers of transponders write it


def test_a_log_of_a_receiver_network(tmp_path):
    """SI units under bare headings, seconds since 1970, empty positions, a geometric and a pressure altitude."""
    columns = {
        "time": lambda r: int(r.time.timestamp()),
        "icao24": lambda r: "abc123",
        "lat": lambda r: "" if r.time.second == 12 else r.latitude,
        "lon": lambda r: "" if r.time.second == 12 else r.longitude,
        "velocity": lambda r: SPEED_KT * 1852 / 3600,
        "heading": lambda r: 40.0,
        "vertrate": lambda r: CLIMB_FT_MIN * 0.3048 / 60,
        "callsign": lambda r: "XYZ12   ",
        "onground": lambda r: "False",
        "baroaltitude": lambda r: r.altitude_ft * 0.3048,
        "geoaltitude": lambda r: (r.altitude_ft + 100) * 0.3048,
    }
    rows = flight()
    kept = [row for row in rows if row.time.second != 12]

    track = read(tmp_path, table(columns))

    is_the_flight(track, kept)
    assert track.altitude_source == "gps"
    np.testing.assert_allclose(track.altitude_ft, np.array(altitudes(kept)) + 100, rtol=0, atol=0.01)
    np.testing.assert_allclose(track.columns["pressure_altitude_ft"], altitudes(kept), rtol=0, atol=0.01)
    np.testing.assert_allclose(track.columns["groundspeed_kt"], SPEED_KT, rtol=0, atol=TENTH_OF_A_KNOT)
    np.testing.assert_allclose(track.columns["vertical_speed_ft_min"], CLIMB_FT_MIN, rtol=0, atol=0.01)
    assert (track.columns["on_ground"] == 0).all()
    (assumed,) = track.assumed
    assert assumed.startswith(
        "Column 'heading' does not say which north: it was taken as true heading, unless "
    )
    assert track.heading_north_open
    assert (
        "Column 'geoaltitude' comes from a transponder: it is height above the ellipsoid, which lies up to 350 ft "
        "off the sea's level." in track.notes
    )


def test_a_pilot_column(tmp_path):
    assert read(tmp_path, table(usual(pilot=lambda row: " A. Example "))).pilot == "A. Example"
    assert read(tmp_path, table(usual())).pilot is None


# What a person may say, and what is refused


def test_columns_by_heading_and_by_position(tmp_path):
    columns = {
        "zulu": iso,
        "Y": lambda r: r.latitude,
        "X": lambda r: r.longitude,
        "H": lambda r: r.altitude_ft,
    }
    text = table(columns)

    track = read(tmp_path, text, columns={"latitude": "Y", "longitude": "3", "altitude_ft": "h"})

    is_the_flight(track)
    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=1e-6)


def test_columns_by_position_where_there_are_no_headings(tmp_path):
    text = table(usual()).partition("\n")[2]

    track = read(tmp_path, text, columns={"time": "1", "latitude": "2", "longitude": "3"})

    is_the_flight(track)
    assert track.line[0] == 1


def test_a_person_goes_over_the_headings(tmp_path):
    columns = usual(copy=lambda row: row.latitude) | {"latitude": lambda row: 12.0}

    is_the_flight(read(tmp_path, table(columns), columns={"latitude": "copy"}))


HEAD = "2026-05-04T10:12:07Z,47.1,8.1"


@pytest.mark.parametrize(
    ("text", "wishes", "said"),
    [
        (
            "when,lattitude,lon\n" + HEAD + "\n" + HEAD,
            {},
            (
                "flight.csv, line 1: no column is recognised as latitude among 'when', 'lattitude', 'lon'. "
                "Known headings are latitude: latitude, lat, geographic latitude, breite, .... "
                "Name yours: --column latitude=lattitude."
            ),
        ),
        (
            "a,b,c\n1,2,3\n4,5,6\n",
            {},
            (
                "flight.csv, line 1: no column is recognised as time, latitude or longitude among 'a', 'b', 'c'. "
                "Known headings are time: time, datetime, date time, date and time, ...; "
                "latitude: latitude, lat, geographic latitude, breite, ...; "
                "longitude: longitude, lon, long, lng, .... "
                "Name yours: --column time=HEADING --column latitude=HEADING --column longitude=HEADING."
            ),
        ),
        (
            HEAD + "\n" + HEAD,
            {},
            (
                "flight.csv: no row of headings says what the columns are. Name them by position, "
                "for example --column time=1 --column latitude=2 --column longitude=3."
            ),
        ),
        (
            "time,lat,lon\n" + HEAD + "\n" + HEAD,
            {"columns": {"latitude": "lta"}},
            (
                "flight.csv, line 1: --column latitude=lta: the file has no such heading. "
                "It has 'time', 'lat', 'lon'. Did you mean 'lat'?"
            ),
        ),
        (
            "time,lat,lon\n" + HEAD + "\n" + HEAD,
            {"columns": {"latitud": "lat"}},
            "flight.csv: --column latitud=lat: there is no column named 'latitud'. Did you mean latitude?",
        ),
        (
            "time,lat,lon\n" + HEAD + "\n" + HEAD,
            {"columns": {"latitude": "7"}},
            "flight.csv, line 1: --column latitude=7: the file has no such heading. It has 'time', 'lat', 'lon'.",
        ),
        (
            "time,lat,lon\n",
            {},
            "flight.csv, line 1: there are headings but no rows under them. Export the log again.",
        ),
        (
            "time,lat,lon\n" + HEAD + "\n",
            {},
            "flight.csv: only one row in it. A debrief needs a track: export the whole flight.",
        ),
        (
            "time,lat,lon\n2026-05-04T10:12:07Z,47,1,8,1\n2026-05-04T10:12:08Z,47,1,8,1\n",
            {},
            (
                "flight.csv, line 2: rows have 5 cells under 3 headings. "
                "Where numbers have decimal commas, separate the columns with semicolons."
            ),
        ),
        (
            "time,icao24,lat,lon\n2026-05-04T10:12:07Z,abc123,47,8\n2026-05-04T10:12:08Z,def456,57,8\n",
            {},
            "flight.csv, column 'icao24': rows of several aircraft are mixed: abc123, def456. Keep the rows of one.",
        ),
        (
            "time,lat,lon\n2026-05-04T10:12:07Z,,8\n2026-05-04T10:12:08Z,,8\n",
            {},
            "flight.csv: none of 2 rows has a position. Export the log again with latitude and longitude.",
        ),
        (
            "time,lat,lon\n2026-05-04T10:12:07Z,108.5,47\n2026-05-04T10:12:08Z,108.6,47\n",
            {},
            (
                "flight.csv, line 2: no position is on the Earth: latitude 108.5, longitude 47. "
                "Positions must be degrees, latitude -90 to 90 and longitude -180 to 180: these seem to be exchanged."
            ),
        ),
        (
            'time,lat,lon\n"2026-05-04T10:12:07Z,47,8\n' + "x" * 140_000,
            {},
            (
                "flight.csv, line 3: the table cannot be read from here on: field larger than field limit (131072). "
                "Look for a quotation mark that is opened and not closed."
            ),
        ),
        (
            "time,lat,lon\n" + "1" * 1_100_000,
            {},
            (
                "flight.csv, line 2: a line is longer than 1,000,000 characters. "
                "Write one row of the log on each line."
            ),
        ),
    ],
)
def test_what_cannot_be_read_is_one_clear_line(tmp_path, text, wishes, said):
    assert refused(tmp_path, text, **wishes) == said


def test_the_call_signs_of_one_aircraft_may_change(tmp_path):
    columns = usual(
        icao24=lambda row: "abc123", callsign=lambda row: "XYZ1" if row.time.minute < 15 else "XYZ2"
    )

    is_the_flight(read(tmp_path, table(columns), date=date(2026, 5, 4)))


# What was passed over without a word


def test_a_quotation_mark_that_is_never_closed_takes_no_rows_along(tmp_path):
    """All rows after it were one cell of the last row that was read, and nothing said so."""
    lines = table(usual(Remark=lambda row: "")).splitlines()
    lines[10] += '"left turn'
    said = refused(tmp_path, "\n".join(lines) + "\n")

    assert said == (
        f"flight.csv, line 11: a quotation mark is opened here and never closed, so {len(lines) - 11 + 1} lines are "
        "one cell. Close it or take it out, or export the log again."
    )


def test_a_file_that_breaks_off_in_a_quoted_cell_is_read(tmp_path):
    whole = table(usual(Remark=lambda row: "level, on course"))
    track = read(tmp_path, whole.rstrip()[:-5])

    assert len(track) == len(flight())


def test_a_quoted_cell_of_several_lines_is_one_cell(tmp_path):
    is_the_flight(read(tmp_path, table(usual(Remark=lambda row: 'one\ntwo "three"\nfour'))))


@pytest.mark.parametrize("heading", ["Altitude", "Altitude (m)", "Altitude (ft)"])
@pytest.mark.parametrize("in_metres", [slice(0, 30), slice(30, None), slice(None, None, 2)])
def test_each_cell_is_taken_in_its_own_unit(tmp_path, heading, in_metres):
    """A log whose unit was set anew in flight: feet were taken as metres, and the altitude jumped."""
    cells = [f"{altitude_ft:.1f} ft" for altitude_ft in altitudes()]
    cells[in_metres] = [f"{altitude_ft / FEET_PER_METRE:.2f} m" for altitude_ft in altitudes()[in_metres]]
    told = iter(cells)
    track = read(tmp_path, table(usual(**{heading: lambda row: next(told)})))

    np.testing.assert_allclose(track.altitude_ft, altitudes(), rtol=0, atol=0.1)


def test_a_column_without_any_number_is_named(tmp_path):
    """The log was said to have no altitudes, with a column of that name in it."""
    track = read(tmp_path, table(usual(**{"Altitude (ft)": lambda row: "n/a"})))

    assert "Column 'Altitude (ft)' was left out: it holds no numbers, but 'n/a'." in track.notes


def test_of_two_columns_of_one_name_it_is_said_which_was_taken(tmp_path):
    text = table(usual(Other=lambda row: row.latitude + 1.0)).replace("Other", "Latitude", 1)
    first = next(index for index, cell in enumerate(text.split("\n")[0].split(",")) if "atitude" in cell) + 1
    track = read(tmp_path, text)

    is_the_flight(track)
    assert any(remark.startswith(f"Columns {first} and") and "differ" in remark for remark in track.notes)


def test_two_columns_that_say_the_same_need_no_word(tmp_path):
    text = table(usual(Other=lambda row: row.latitude)).replace("Other", "Latitude", 1)

    assert not any("both called" in remark for remark in read(tmp_path, text).notes)
