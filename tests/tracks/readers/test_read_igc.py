"""IGC: fixes and headers, against aerofiles as an independent writer and reader, and what is said about the rest."""

import datetime as dt
import io
from datetime import UTC, datetime, timedelta

import aerofiles.igc
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.conditioning import condition
from debrief.tracks.readers import read_track

from .flight import flight

FEET_PER_METRE = 1 / 0.3048
KNOTS_PER_KM_H = 1 / 1.852
HALF_A_THOUSANDTH_OF_A_MINUTE_DEG = 0.0005 / 60
ROUNDING_DEG = 1e-9
ONE_MICROSECOND_S = 1e-6
ELLIPSOID_SAID = "Altitude is the recorder's GNSS altitude, which IGC counts from the ellipsoid"


def angle(degrees, width, letters):
    thousandths = round(abs(degrees) * 60_000)
    return f"{thousandths // 60_000:0{width}d}{thousandths % 60_000:05d}{letters[degrees < 0]}"


def fix(row, validity="A", pressure_m=None, gnss_m=None, more=""):
    """A B record, column by column; the tests' own."""
    gnss_m = round(row.altitude_ft * 0.3048) if gnss_m is None else gnss_m
    pressure_m = gnss_m - 40 if pressure_m is None else pressure_m
    return (
        f"B{row.time:%H%M%S}{angle(row.latitude, 2, 'NS')}{angle(row.longitude, 3, 'EW')}{validity}"
        f"{pressure_m:05d}{gnss_m:05d}{more}"
    )


def igc(rows=None, headers=("HFDTE040526",), end="\r\n", **how):
    rows = flight() if rows is None else rows
    fixes = [row if isinstance(row, str) else fix(row, **how) for row in rows]
    return end.join(["AXXX001 invented recorder", *headers, *fixes, "GSECURITY", ""])


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "flight.igc"
    path.write_bytes(text.encode(encoding))
    return path


def refused(path, **wishes):
    with pytest.raises(TrackError) as error:
        read_track(path, **wishes)
    assert "\n" not in str(error.value)
    return str(error.value).removeprefix(f"{path}: ")


def moments(track):
    return [track.epoch + timedelta(seconds=float(t)) for t in track.t_s]


def test_a_published_fix(tmp_path):
    """The example B record of the standard: 11:01:35, 52 06.343 N, 000 06.198 W, 587 m, 558 m. Mark: seen."""
    record = "B1101355206343N00006198WA0058700558"
    text = igc([record, record.replace("B110135", "B110136")])

    track = read_track(written(tmp_path, text))

    assert track.epoch == datetime(2026, 5, 4, 11, 1, 35, tzinfo=UTC)
    assert track.latitude_deg[0] == pytest.approx(52.1057167, abs=1e-7)
    assert track.longitude_deg[0] == pytest.approx(-0.1033000, abs=1e-7)
    assert track.altitude_ft[0] == pytest.approx(558 * FEET_PER_METRE, abs=0.01)
    assert track.columns["pressure_altitude_ft"][0] == pytest.approx(587 * FEET_PER_METRE, abs=0.01)


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_fix_comes_back(tmp_path, end, encoding):
    rows = flight(latitude=-17.75, longitude=-178.45)

    track = read_track(written(tmp_path, igc(rows, ("HFDTE040526", "HFPLTPILOT: Zoë Çelik"), end), encoding))

    assert (track.format, track.altitude_source, track.pilot) == ("igc", "ellipsoid", "Zoë Çelik")
    assert moments(track) == [row.time for row in rows]
    np.testing.assert_allclose(
        track.latitude_deg, [r.latitude for r in rows], rtol=0, atol=HALF_A_THOUSANDTH_OF_A_MINUTE_DEG * 1.01
    )
    np.testing.assert_allclose(
        track.longitude_deg,
        [r.longitude for r in rows],
        rtol=0,
        atol=HALF_A_THOUSANDTH_OF_A_MINUTE_DEG * 1.01,
    )
    np.testing.assert_allclose(
        track.altitude_ft, [r.altitude_ft for r in rows], rtol=0, atol=0.5 * FEET_PER_METRE * 1.01
    )
    assert track.line.tolist() == list(range(4, 124))
    assert track.assumed == track.notes
    assert track.notes[0].startswith(ELLIPSOID_SAID)


def degrees(limit):
    """In thousandths of a minute, as a recorder writes; never 0, which one without a position writes."""
    return st.integers(-limit * 60_000 + 1, limit * 60_000 - 1).filter(bool).map(lambda n: n / 60_000)


@given(
    rows=st.lists(
        st.tuples(
            st.integers(0, 86_399),
            degrees(90),
            degrees(180),
            st.integers(-999, 9999),
            st.integers(-999, 9999),
        ),
        min_size=2,
        max_size=30,
        unique_by=lambda row: row[0],
    )
)
def test_what_aerofiles_writes_and_reads_is_what_is_read(tmp_path_factory, rows):
    """In order of time: aerofiles takes every step back for a midnight."""
    file = io.BytesIO()
    writer = aerofiles.igc.Writer(file)
    writer.write_headers(
        {"manufacturer_code": "XXX", "logger_id": "TBX", "date": dt.date(2026, 5, 4), "logger_type": "invented",
         "fix_accuracy": 50, "pilot": "X", "copilot": "", "glider_type": "", "glider_id": "", "firmware_version": "",
         "hardware_version": "", "gps_receiver": "", "pressure_sensor": "", "competition_id": "", "competition_class": ""}
    )  # fmt: skip
    for second, lat, lon, pressure_m, gnss_m in sorted(rows):
        time = dt.time(second // 3600, second // 60 % 60, second % 60)
        writer.write_fix(
            time, latitude=lat, longitude=lon, valid=True, pressure_alt=pressure_m, gps_alt=gnss_m
        )
    path = tmp_path_factory.mktemp("igc") / "flight.igc"
    path.write_bytes(file.getvalue())
    with path.open(encoding="utf-8") as text:
        fixes = aerofiles.igc.Reader().read(text)["fix_records"][1]

    track = read_track(path)

    assert len(track) == len(fixes) == len(rows)
    for moment, each in zip(moments(track), fixes, strict=True):
        assert moment.replace(tzinfo=None) == each["datetime"].replace(tzinfo=None)
    np.testing.assert_allclose(track.latitude_deg, [f["lat"] for f in fixes], rtol=0, atol=ROUNDING_DEG)
    np.testing.assert_allclose(track.longitude_deg, [f["lon"] for f in fixes], rtol=0, atol=ROUNDING_DEG)
    if any(f["gps_alt"] for f in fixes):
        np.testing.assert_allclose(
            track.altitude_ft, [f["gps_alt"] * FEET_PER_METRE for f in fixes], rtol=0, atol=0.001
        )
    if any(f["pressure_alt"] for f in fixes):
        np.testing.assert_allclose(
            track.columns["pressure_altitude_ft"],
            [f["pressure_alt"] * FEET_PER_METRE for f in fixes],
            rtol=0,
            atol=0.001,
        )


@pytest.mark.parametrize(
    "header", ["HFDTE040526", "HFDTEDATE:040526,01", "HFDTEDATE: 040526", "HODTE040526", "HPDTE:040526"]
)
def test_the_forms_of_a_date(tmp_path, header):
    track = read_track(written(tmp_path, igc(headers=(header,))))

    assert track.epoch == flight()[0].time


def test_the_date_runs_on_at_midnight(tmp_path):
    rows = flight(start=datetime(2026, 12, 31, 23, 55, tzinfo=UTC))

    track = read_track(written(tmp_path, igc(rows, ("HFDTE311226",))))

    assert moments(track) == [row.time for row in rows]
    assert "The log runs past midnight: the date was counted on." in track.notes


def test_a_step_back_in_time_is_no_midnight(tmp_path):
    rows = flight()
    rows[40], rows[41] = rows[41], rows[40]

    track = read_track(written(tmp_path, igc(rows)))

    assert moments(track) == [row.time for row in rows]


def test_one_wrong_time_moves_no_other(tmp_path):
    rows = flight(start=datetime(2026, 5, 4, 20, 0, tzinfo=UTC))
    wrong = fix(rows[40]).replace("B200320", "B000000")

    track = read_track(written(tmp_path, igc([*rows[:40], wrong, *rows[41:]])))

    assert [m for n, m in enumerate(moments(track)) if n != 40] == [
        r.time for n, r in enumerate(rows) if n != 40
    ]


def test_a_recorder_that_was_off_for_half_the_day_went_on_the_same_day(tmp_path):
    morning = flight(40, start=datetime(2026, 5, 4, 7, 0, tzinfo=UTC))
    evening = flight(40, start=datetime(2026, 5, 4, 20, 0, tzinfo=UTC))

    track = read_track(written(tmp_path, igc([*morning, *evening])))

    assert moments(track) == [row.time for row in (*morning, *evening)]


def test_a_date_in_the_middle_holds_from_there(tmp_path):
    first = flight(40, start=datetime(2026, 5, 4, 9, 0, tzinfo=UTC))
    second = flight(40, start=datetime(2026, 5, 6, 9, 0, tzinfo=UTC))

    track = read_track(written(tmp_path, igc([*first, "HFDTE060526", *second])))

    assert moments(track) == [row.time for row in (*first, *second)]


@pytest.mark.parametrize(
    ("headers", "said"),
    [(("HFPLTPILOT:X",), "it gives no date"), (("HFDTE000000",), "its date 'HFDTE000000' is none")],
)
def test_a_log_without_a_date(tmp_path, headers, said):
    path = written(tmp_path, igc(headers=headers))

    assert refused(path) == f"{said}. Pass the day of the flight (UTC), for example --date 2026-05-04."
    assert read_track(path, date=dt.date(2026, 5, 4)).epoch == flight()[0].time


def test_fixes_without_a_position_in_space_are_left_out(tmp_path):
    rows = flight()
    fixes = [fix(row, "V" if 20 <= n < 25 else "A") for n, row in enumerate(rows)]

    track = read_track(written(tmp_path, igc(fixes)))

    assert len(track) == 115
    assert "5 points marked V (no position in space) left out (the first in line 23)." in track.notes


def test_where_no_fix_is_in_space_the_pressure_altitude_is_left(tmp_path):
    rows = flight()

    track = read_track(written(tmp_path, igc(rows, validity="V")))

    assert track.altitude_source == "pressure"
    assert track.altitude_ft[0] == pytest.approx((round(1500 * 0.3048) - 40) * FEET_PER_METRE, abs=0.01)
    assert track.assumed == (
        "Every fix is marked V (no position in space): the positions were taken all the same.",
    )


def test_a_recorder_without_a_pressure_sensor(tmp_path):
    track = read_track(written(tmp_path, igc(pressure_m=0)))

    assert track.altitude_source == "ellipsoid"
    assert "pressure_altitude_ft" not in track.columns
    assert track.notes[-1].endswith("--altitude-offset-ft corrects it where the difference is known.")


def test_a_recorder_without_gnss_altitude(tmp_path):
    track = read_track(written(tmp_path, igc(pressure_m=-12, gnss_m=0)))

    assert track.altitude_source == "pressure"
    assert set(track.altitude_ft) == {-12 * FEET_PER_METRE}


def test_no_altitude_at_all(tmp_path):
    track = read_track(written(tmp_path, igc(pressure_m=0, gnss_m=0)))

    assert track.altitude_source == "unknown"
    assert np.isnan(track.altitude_ft).all()


@pytest.mark.parametrize(
    ("header", "source", "has_pressure"),
    [
        ("HFALGALTGPS:GEO", "gps", True),
        ("HFALGALTGPS:ELL", "ellipsoid", True),
        ("HFALPALTPRESSURE:ISA", "ellipsoid", True),
        ("HFALPALTPRESSURE:MSL", "ellipsoid", False),
    ],
)
def test_a_header_may_say_what_the_altitudes_count_from(tmp_path, header, source, has_pressure):
    """FAI Technical Specification for GNSS Flight Recorders, appendix A, H records ALG and ALP. Mark: memory."""
    track = read_track(written(tmp_path, igc(headers=("HFDTE040526", header))))

    assert track.altitude_source == source
    assert ("pressure_altitude_ft" in track.columns) is has_pressure


def test_what_an_i_record_adds(tmp_path):
    """Further decimals of the minutes and of the second; speeds in km/h. Mark: memory."""
    additions = "I083638FXA3940LAD4142LOD4343TDS4446GSP4749TRT5052IAS5355HDM"
    rows = flight(2)
    more = "035" + "25" + "75" + "5" + "222" + "040" + "185" + "033"
    text = igc(["B1012075206343N00006198WA0058700558" + more, fix(rows[1], more="035" + " " * 20)])

    track = read_track(written(tmp_path, text.replace("HFDTE040526", "HFDTE040526\r\n" + additions)))

    assert track.epoch == datetime(2026, 5, 4, 10, 12, 7, 500_000, tzinfo=UTC)
    assert track.latitude_deg[0] == pytest.approx(52 + 6.34325 / 60, abs=ROUNDING_DEG)
    assert track.longitude_deg[0] == pytest.approx(-6.19875 / 60, abs=ROUNDING_DEG)
    assert track.columns["groundspeed_kt"][0] == pytest.approx(222 * KNOTS_PER_KM_H, abs=0.001)
    assert track.columns["airspeed_kias"][0] == pytest.approx(185 * KNOTS_PER_KM_H, abs=0.001)
    assert track.columns["ground_track_true_deg"][0] == 40
    assert track.columns["heading_mag_deg"][0] == 33
    assert np.isnan(track.columns["groundspeed_kt"][1])


@pytest.mark.parametrize("additions", ["I01", "I033638FXA0102GSP", "I019999TRT", "I013640GSP", "Inonsense"])
def test_additions_that_say_nothing_are_passed_over(tmp_path, additions):
    text = igc(headers=("HFDTE040526", additions))

    track = read_track(written(tmp_path, text))

    assert len(track) == 120
    assert set(track.columns) == {"pressure_altitude_ft"}


def test_broken_fixes_are_left_out_and_counted(tmp_path):
    rows = flight()
    fixes = [fix(row) for row in rows]
    fixes[7] = fixes[7][:20]
    fixes[8] = "B996199" + fixes[8][7:]
    fixes[9] = fixes[9].replace("A", "X", 1)

    track = read_track(written(tmp_path, igc(fixes)))

    assert len(track) == 117
    assert "3 fix records that cannot be read left out (the first in line 10)." in track.notes


def test_another_datum_is_said(tmp_path):
    track = read_track(written(tmp_path, igc(headers=("HFDTE040526", "HFDTM021GPSDATUM:OTHER-1950"))))
    usual = read_track(written(tmp_path, igc(headers=("HFDTE040526", "HFDTM100GPSDATUM:WGS-1984"))))

    assert "The log names the datum 'OTHER-1950': its positions were taken as WGS84." in track.assumed
    assert len(usual.assumed) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (igc([]), "it has the headers of an IGC log, but no fixes. Read the flight out of the recorder again."),
        (igc([fix(flight()[0])[:30]] * 3), "none of its 3 fix records can be read. Read the flight out of the recorder again."),
        (igc(flight(1)), "only one point in it. A debrief needs a track: export the whole flight."),
        (igc(["B1012070000000N00000000EA0000000000"] * 9), "every point lies at latitude 0, longitude 0. The recorder had no position: record the flight again."),
    ],
)  # fmt: skip
def test_what_holds_no_track_is_refused(tmp_path, text, said):
    assert refused(written(tmp_path, text)) == said


def test_what_is_larger_than_any_flight_is_refused(tmp_path):
    path = written(tmp_path, igc())
    with path.open("r+b") as file:
        file.truncate(64_000_001)

    assert refused(path) == (
        "it is larger than 64 MB, which no flight recorder's log is. Cut out the flight."
    )


def test_a_line_without_an_end_takes_no_memory(tmp_path):
    text = igc().replace("GSECURITY", "B" * 3_000_000 + "\r\n" + fix(flight(121)[-1]))

    assert len(read_track(written(tmp_path, text))) == 121


def test_the_qnh_is_applied_to_the_pressure_altitude_and_not_to_the_other(tmp_path):
    """27.3 ft for each hectopascal near the sea (common practice, good to 2 %)."""
    track = read_track(written(tmp_path, igc()))

    log = condition(track, qnh_hpa=1003.25)
    as_logged = condition(track)

    assert log.altitude_source == "indicated"
    assert log.altitude_ft[0] == pytest.approx(track.columns["pressure_altitude_ft"][0] - 273, abs=10)
    assert as_logged.altitude_source == "ellipsoid"
    assert as_logged.altitude_uncertainty_ft > 340


def test_altitudes_are_taken_as_feet_when_asked(tmp_path):
    track = read_track(written(tmp_path, igc(gnss_m=3000)), altitude_unit="ft")

    assert track.altitude_ft[0] == 3000
