"""When a row was recorded: every way to write it, and what is asked where a file leaves it open."""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from .flight import START, flight, iso, table
from .test_read_csv import is_the_flight, read, refused

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def timed(rows=None, preamble="", delimiter=",", **columns):
    """A table with these columns before the position; two underscores stand for a blank."""
    whole = {heading.replace("__", " "): write for heading, write in columns.items()}
    whole |= {"lat": lambda row: row.latitude, "lon": lambda row: row.longitude, "alt_ft": lambda row: 1000}
    return table(whole, rows, delimiter=delimiter, preamble=preamble)


def local(hours):
    return timezone(timedelta(hours=hours))


# Times that need no help


@pytest.mark.parametrize(
    ("factor", "unit"),
    [(1, "seconds"), (10**3, "milliseconds"), (10**6, "microseconds"), (10**9, "nanoseconds")],
)
@pytest.mark.parametrize("heading", ["time", "timestamp", "elapsed"])
def test_counts_since_1970(tmp_path, factor, unit, heading):
    text = timed(**{heading: lambda row: (row.time - EPOCH) // timedelta(seconds=1) * factor})

    track = read(tmp_path, text)

    is_the_flight(track)
    assert track.notes == (f"Column '{heading}' was read as {unit} since 1970, UTC.",)


def test_counts_since_1970_with_fractions(tmp_path):
    rows = [*flight(2), *flight(1, start=START + timedelta(seconds=7.25))]

    track = read(tmp_path, timed(rows, time=lambda row: f"{row.time.timestamp():.2f}"))

    is_the_flight(track, rows)


@pytest.mark.parametrize(
    "write",
    [
        lambda row: row.time.astimezone(local(12)).isoformat(),
        lambda row: row.time.astimezone(local(-9.5)).strftime("%d %b %Y %H:%M:%S %z"),
        lambda row: row.time.strftime("%d.%b.%Y %H:%M:%S UTC"),
        lambda row: row.time.strftime("%a, %d %b %Y %H:%M:%S GMT"),
        lambda row: row.time.strftime("%Y%m%dT%H%M%SZ"),
    ],
    ids=["ISO, +12", "named month, -9:30", "UTC", "GMT", "without signs"],
)
def test_times_with_their_zone(tmp_path, write):
    track = read(tmp_path, timed(time=write))

    is_the_flight(track)
    assert track.notes == ()


def test_a_heading_that_says_utc_settles_the_zone(tmp_path):
    track = read(tmp_path, timed(**{"Time (UTC)": lambda row: f"{row.time:%Y-%m-%d %H:%M:%S}"}))

    is_the_flight(track)
    assert track.assumed == ()


def test_a_heading_with_an_offset(tmp_path):
    shifted = lambda row: f"{row.time.astimezone(local(2)):%Y-%m-%d %H:%M:%S}"  # noqa: E731

    track = read(tmp_path, timed(**{"Zeit (UTC+2)": shifted}))

    is_the_flight(track)
    assert track.assumed == ()


def test_a_column_of_offsets(tmp_path):
    there = local(-5.5)
    text = timed(
        Date=lambda row: f"{row.time.astimezone(there):%Y-%m-%d}",
        Time=lambda row: f"{row.time.astimezone(there):%H:%M:%S}",
        UTC__offset=lambda row: "-05:30",
    )

    track = read(tmp_path, text)

    is_the_flight(track)
    assert track.assumed == ()


def test_no_zone_is_utc_and_said(tmp_path):
    track = read(tmp_path, timed(time=lambda row: f"{row.time:%Y-%m-%d %H:%M:%S}"))

    is_the_flight(track)
    assert track.assumed == ("Column 'time' does not name a zone: its times were taken as UTC.",)


def test_local_times_without_offset_are_said_more_plainly(tmp_path):
    track = read(tmp_path, timed(Local__time=lambda row: f"{row.time:%Y-%m-%d %H:%M:%S}"))

    assert track.assumed == (
        "Column 'Local time' holds local times without an offset: they are shown as if they were UTC.",
    )


def test_the_time_that_says_most_is_used(tmp_path):
    text = timed(
        Local__time=lambda row: f"{row.time.astimezone(local(3)):%Y-%m-%d %H:%M:%S}",
        elapsed__s=lambda row: (row.time - START).total_seconds(),
        UTC=iso,
    )

    is_the_flight(read(tmp_path, text))


def test_utc_date_goes_with_utc_time(tmp_path):
    """At 22:12 UTC it is the next day in the islands."""
    there = local(11)
    text = timed(
        Lcl__Date=lambda row: f"{row.time.astimezone(there):%Y-%m-%d}",
        Lcl__Time=lambda row: f"{row.time.astimezone(there):%H:%M:%S}",
        UTC__Date=lambda row: f"{row.time:%Y-%m-%d}",
        UTC__Time=lambda row: f"{row.time:%H:%M:%S}",
    )

    track = read(tmp_path, text)

    is_the_flight(track)
    assert track.assumed == ()


# A date and a time of day


@pytest.mark.parametrize("date_form", ["%Y-%m-%d", "%Y%m%d", "%d.%m.%Y", "%d-%b-%Y", "%Y-%m-%d 00:00:00"])
@pytest.mark.parametrize("time_form", ["%H:%M:%S", "%H%M%S", "%H:%M:%S.000", "%I:%M:%S %p", "%Hh%Mm%Ss"])
def test_a_date_beside_a_time(tmp_path, date_form, time_form):
    text = timed(date=lambda row: row.time.strftime(date_form), time=lambda row: row.time.strftime(time_form))

    is_the_flight(read(tmp_path, text))


def test_a_spreadsheets_empty_date_in_the_time_column(tmp_path):
    text = timed(date=lambda row: f"{row.time:%Y-%m-%d}", time=lambda row: f"1899-12-30 {row.time:%H:%M:%S}")

    is_the_flight(read(tmp_path, text))


def test_a_date_written_only_once(tmp_path):
    text = timed(
        date=lambda row: f"{row.time:%Y-%m-%d}" if row.time == START else "",
        time=lambda row: f"{row.time:%H:%M:%S}",
    )

    is_the_flight(read(tmp_path, text))


LATE = datetime(2026, 5, 4, 23, 57, 2, tzinfo=UTC)


def test_over_midnight_with_a_date_that_moves(tmp_path):
    rows = flight(start=LATE)
    text = timed(rows, date=lambda row: f"{row.time:%Y-%m-%d}", time=lambda row: f"{row.time:%H:%M:%SZ}")

    track = read(tmp_path, text)

    is_the_flight(track, rows)
    assert track.notes == ()


def test_over_midnight_with_a_date_that_stays(tmp_path):
    rows = flight(start=LATE)
    text = timed(rows, date=lambda row: "2026-05-04", time=lambda row: f"{row.time:%H:%M:%SZ}")

    track = read(tmp_path, text)

    is_the_flight(track, rows)
    assert track.notes == (
        "The times pass midnight while the date stays: the next day was taken from there on.",
    )


def test_over_midnight_with_the_day_a_person_gave(tmp_path):
    rows = flight(start=LATE)

    track = read(tmp_path, timed(rows, time=lambda row: f"{row.time:%H:%M:%SZ}"), date=date(2026, 5, 4))

    is_the_flight(track, rows)
    assert track.notes == ("The times pass midnight: the next day was taken from there on.",)


def test_samples_out_of_order_around_midnight(tmp_path):
    rows = flight(start=LATE)
    rows[34], rows[37] = rows[37], rows[34]  # the two lie on either side of midnight

    track = read(tmp_path, timed(rows, time=lambda row: f"{row.time:%H:%M:%SZ}"), date=date(2026, 5, 4))

    np.testing.assert_array_equal(track.t_s, [(row.time - LATE).total_seconds() for row in rows])


def test_the_day_a_person_gives_is_that_of_the_first_sample_in_utc(tmp_path):
    """22:12 UTC on 4 May is 09:12 on 5 May at +11:00."""
    text = timed(time=lambda row: f"{row.time.astimezone(local(11)):%H:%M:%S}+11:00")

    is_the_flight(read(tmp_path, text, date=date(2026, 5, 4)))


def test_the_logs_own_dates_go_over_the_day_a_person_gave(tmp_path):
    track = read(tmp_path, timed(time=iso), date=date(1999, 1, 1))

    is_the_flight(track)
    assert track.notes == ("The log has dates of its own: 1999-01-01 was not used.",)


def test_a_date_that_nobody_can_tell_asks_for_the_day(tmp_path):
    text = timed(date=lambda row: "040526", time=lambda row: f"{row.time:%H%M%S}")

    assert refused(tmp_path, text) == (
        "flight.csv: column 'time' holds times of day without a date, and column 'date' has none that can be "
        "read, such as '040526'. Pass the day of the flight (UTC), for example --date 2026-05-04."
    )
    is_the_flight(read(tmp_path, text, date=date(2026, 5, 4)))


def test_a_time_of_day_without_a_date_asks_for_it(tmp_path):
    assert refused(tmp_path, timed(time=lambda row: f"{row.time:%H:%M:%S}")) == (
        "flight.csv: column 'time' holds times of day without a date. "
        "Pass the day of the flight (UTC), for example --date 2026-05-04."
    )


# Day or month first


def slashed(form):
    return lambda row: row.time.strftime(f"{form} %H:%M:%SZ")


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y", "%d-%m-%y", "%m/%d/%y"])
def test_a_day_beyond_12_settles_the_order(tmp_path, form):
    rows = flight(start=datetime(2026, 5, 14, 10, tzinfo=UTC))

    track = read(tmp_path, timed(rows, time=slashed(form)))

    is_the_flight(track, rows)
    assert track.assumed == ()


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y"])
def test_midnight_settles_the_order(tmp_path, form):
    """From one day to the next the day's number goes up by one, and the month's does not."""
    rows = flight(start=LATE)

    is_the_flight(read(tmp_path, timed(rows, time=slashed(form))), rows)


@pytest.mark.parametrize("form", ["%d/%m/%Y", "%m/%d/%Y"])
@pytest.mark.parametrize("day", [date(2026, 5, 4), date(2026, 5, 5)])
def test_the_day_a_person_gave_settles_the_order(tmp_path, form, day):
    is_the_flight(read(tmp_path, timed(time=slashed(form)), date=day))


@pytest.mark.parametrize(
    ("heading", "form"), [("Date (dd/mm/yyyy)", "%d/%m/%Y"), ("Date (mm/dd/yyyy)", "%m/%d/%Y")]
)
def test_the_heading_settles_the_order(tmp_path, heading, form):
    text = timed(
        **{heading: lambda row: row.time.strftime(form), "time": lambda row: f"{row.time:%H:%M:%SZ}"}
    )

    is_the_flight(read(tmp_path, text))


def test_the_same_number_twice_needs_no_order(tmp_path):
    rows = flight(start=datetime(2026, 5, 5, 10, tzinfo=UTC))

    is_the_flight(read(tmp_path, timed(rows, time=slashed("%d/%m/%Y"))), rows)


def test_points_between_the_numbers_mean_day_first_and_it_is_said(tmp_path):
    track = read(tmp_path, timed(time=slashed("%d.%m.%Y")))

    is_the_flight(track)
    assert track.assumed == ("Dates such as 04.05.2026 were read day first: 2026-05-04.",)


@pytest.mark.parametrize(
    ("date_heading", "time_heading"),
    [("Date", "Heure"), ("Fecha", "Hora"), ("Data", "Ora"), ("Data", "Hora UTC"), ("Datum", "Tijd")],
)
def test_headings_of_a_language_that_writes_the_day_first_settle_the_order_and_it_is_said(
    tmp_path, date_heading, time_heading
):
    """A French log of the 9th of May was refused, for that might be the 5th of September."""
    text = timed(
        **{
            date_heading: lambda row: row.time.strftime("%d/%m/%Y"),
            time_heading: lambda row: f"{row.time:%H:%M:%SZ}",
        }
    )

    track = read(tmp_path, text)

    is_the_flight(track)
    assert track.assumed == (
        "Dates such as 04/05/2026 were read day first, as the language of the headings writes them: 2026-05-04.",
    )


def test_an_open_order_is_refused_with_both_readings(tmp_path):
    assert refused(tmp_path, timed(time=slashed("%d/%m/%Y"))) == (
        "flight.csv: dates such as 04/05/2026 in column 'time' leave open which number is the month. "
        "Pass the day of the flight: --date 2026-05-04 or --date 2026-04-05."
    )


def test_dates_that_fit_no_order_are_refused(tmp_path):
    lines = "time,lat,lon\n13/05/2026 10:00,47,8\n05/13/2026 10:01,47,8\n"

    assert refused(tmp_path, lines) == (
        "flight.csv: column 'time' holds dates, such as '13/05/2026', of which no number can be the month "
        "throughout. Write dates as 2026-05-04."
    )


@given(
    start=st.datetimes(datetime(1980, 1, 1), datetime(2069, 12, 1), timezones=st.just(UTC)),  # noqa: DTZ001
    form=st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d-%m-%y", "%m-%d-%y"]),
    told=st.booleans(),
)
def test_an_order_is_never_guessed_wrongly(tmp_path_factory, start, form, told):
    start = start.replace(microsecond=0)
    rows = flight(40, start=start)
    folder = tmp_path_factory.mktemp("order")
    text = timed(rows, time=slashed(form))
    open_order = start.day <= 12 and start.day != start.month and rows[-1].time.date() == start.date()

    if open_order and not told:
        assert "leave open which number is the month" in refused(folder, text)
    else:
        is_the_flight(read(folder, text, date=start.date() if told else None), rows)


# Counts from a start, and day numbers


@pytest.mark.parametrize("heading", ["elapsed_s", "t", "Time [s]", "seconds"])
def test_seconds_from_a_start_begin_the_day_a_person_gave(tmp_path, heading):
    text = timed(**{heading: lambda row: (row.time - START).total_seconds() + 3})

    track = read(tmp_path, text, date=date(2026, 5, 4))

    assert track.epoch == datetime(2026, 5, 4, 0, 0, 3, tzinfo=UTC)
    assert track.t_s.tolist() == [5.0 * index for index in range(120)]
    assert track.assumed == (
        f"Column '{heading}' counts time from a start: it was set to 2026-05-04 00:00 UTC.",
    )


def test_seconds_after_midnight_beside_a_date(tmp_path):
    text = timed(
        date=lambda row: f"{row.time:%Y-%m-%d}", time=lambda row: (row.time - START).total_seconds() + 79_927
    )

    track = read(tmp_path, text)

    is_the_flight(track)  # 22:12:07 is 79,927 s after midnight
    assert track.assumed == ("Column 'time' was read as seconds after midnight, UTC, of the date beside it.",)


def test_milliseconds_from_a_start(tmp_path):
    text = timed(time_ms=lambda row: int((row.time - START).total_seconds() * 1000))

    assert read(tmp_path, text, date=date(2026, 5, 4)).t_s[-1] == 595


def test_seconds_from_a_start_ask_for_the_day(tmp_path):
    assert refused(tmp_path, timed(t=lambda row: (row.time - START).total_seconds())) == (
        "flight.csv: column 't' counts time from a start that the file does not give. "
        "Pass the day of the flight, for example --date 2026-05-04."
    )


@pytest.mark.parametrize("days", [46146.925, 0.925])
def test_a_spreadsheets_day_numbers_are_refused(tmp_path, days):
    text = timed(time=lambda row: f"{days + (row.time - START).total_seconds() / 86_400:.6f}")

    assert refused(tmp_path, text, date=date(2026, 5, 4)) == (
        f"flight.csv: column 'time' holds a spreadsheet's day numbers, such as {days}. "
        "Format the column as date and time in the spreadsheet and export it again."
    )


def test_day_numbers_in_a_date_column_are_refused(tmp_path):
    text = timed(date=lambda row: 46146, time=lambda row: f"{row.time:%H:%M:%S}")

    assert "column 'date' holds a spreadsheet's day numbers, such as 46146." in refused(tmp_path, text)


# What is no time


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        (
            "noon",
            ("flight.csv: no time in column 'time' can be read; the first reads 'noon'. "
            "Write times as 2026-05-04T10:12:07Z, or as seconds since 1970."),
        ),
        (
            "2026-05-04T10:12:07 CEST",
            ("flight.csv: no time in column 'time' can be read; the first reads '2026-05-04T10:12:07 CEST'. "
            "Write times as 2026-05-04T10:12:07Z, or as seconds since 1970."),
        ),
        (
            "2026-05-04",
            ("flight.csv: column 'time' holds dates without a time of day. "
            "Export the log with the time of each sample."),
        ),
        (
            "",
            ("flight.csv: no time in column 'time' can be read. "
            "Write times as 2026-05-04T10:12:07Z, or as seconds since 1970."),
        ),
    ],
)  # fmt: skip
def test_what_is_no_time_is_shown(tmp_path, cell, said):
    assert refused(tmp_path, timed(time=lambda row: cell)) == said


def test_a_few_times_that_cannot_be_read_are_left_out(tmp_path):
    lines = timed(time=iso).splitlines()
    lines[5] = "xx" + lines[5][2:]
    lines[6] = lines[6].partition("T")[0] + "T25:61:00Z" + lines[6][20:]

    track = read(tmp_path, "\n".join(lines))

    assert len(track) == 118
    assert track.notes == ("2 rows without a time that can be read left out (the first in line 6).",)
