"""Written dates and times, against the standard library's reading of them."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.tracks.readers.stamps import (
    DOTTED,
    FARTHEST_OFFSET_MIN,
    MISSING,
    NO_DATE,
    UNCLEAR,
    YEAR_FIRST,
    midnight_us,
    offset_minutes,
    read_stamps,
)


def at(*parts):
    """A moment as a clock shows it; the zone is beside the point here."""
    return datetime(*parts, tzinfo=UTC)


MOMENT = at(2026, 5, 4, 15, 4, 7)
EPOCH = at(1970, 1, 1)


def moment(text, order="dmy"):
    """Local date and time that a text gives, as the standard library's, or None."""
    stamps = read_stamps([text])
    midnight = midnight_us(stamps, order)
    if midnight[0] == MISSING or stamps.day_us[0] == MISSING:
        return None
    return EPOCH + timedelta(microseconds=int(midnight[0] + stamps.day_us[0]))


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%dT%H:%M:%S",
        "%Y-%m-%d %H:%M:%S",
        "%Y/%m/%d %H:%M:%S",
        "%Y%m%d%H%M%S",
        "%Y%m%dT%H%M%S",
        "%Y-%m-%d_%H:%M:%S",
        "%d.%m.%Y %H:%M:%S",
        "%d.%m.%y, %H:%M:%S",
        "%d/%m/%Y %H:%M:%S",
        "%d-%m-%Y %H:%M:%S",
        "%d/%m/%Y %I:%M:%S %p",
        "%d/%m/%Y %I:%M:%S\u202f%p",
        "%d/%m/%Y %I:%M:%S%p",
        "%d %b %Y %H:%M:%S",
        "%d-%b-%y %H:%M:%S",
        "%B %d, %Y %H:%M:%S",
        "%B %d, %Y at %I:%M:%S %p",
        "%a, %d %b %Y %H:%M:%S",
        "%A, %d. %B %Y %Hh%Mm%Ss",
    ],
)
@pytest.mark.parametrize("when", [MOMENT, at(2024, 2, 29, 0, 0, 0), at(1999, 12, 31, 12, 0, 59)])
def test_what_strftime_writes_is_read(form, when):
    assert moment(when.strftime(form)) == when


@pytest.mark.parametrize(
    ("text", "month"),
    [
        ("4. Mai 2026 10:12", 5),
        ("4 März 2026 10:12", 3),
        ("4 févr. 2026 10:12", 2),
        ("4 août 2026 10:12", 8),
        ("4 juin 2026 10:12", 6),
        ("4 juillet 2026 10:12", 7),
        ("4 ene 2026 10:12", 1),
        ("4 gennaio 2026 10:12", 1),
        ("4 luglio 2026 10:12", 7),
        ("4 dez. 2026 10:12", 12),
        ("4 out 2026 10:12", 10),
        ("4 mrt 2026 10:12", 3),
        ("4 maj 2026 10:12", 5),
        ("4 paź 2026 10:12", 10),
    ],
)
def test_months_of_other_languages(text, month):
    assert moment(text) == at(2026, month, 4, 10, 12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "now",
        "today",
        "NaT",
        "2026",
        "2026-05",
        "2026-05-04T25:00:00",
        "2026-05-04T10:60:00",
        "2026-05-04T10:12:61",
        "2026-02-30T10:12:07",
        "2026-13-01T10:12:07",
        "2026-00-01T10:12:07",
        "2025-02-29T10:12:07",
        "0026-05-04T10:12:07",
        "1899-12-30 10:12:07",
        "9999-05-04T10:12:07",
        "2026-05-04T13:12:07 PM",
        "2026-05-04T00:12:07 AM",
        "4 Foo 2026 10:12:07",
        "2026-05-04T10:12:07Z trailing",
        "٢٠٢٦-٠٥-٠٤T١٠:١٢:٠٧",
        "2026-05-04T10:1\x002:07",
        "9" * 500,
    ],
)
def test_what_is_no_moment_is_missing(text):
    assert moment(text) is None


@given(
    moments=st.lists(
        st.integers(-2_208_900_000_000_000, 7_258_000_000_000_000).map(
            lambda us: EPOCH + timedelta(microseconds=us)
        ),
        min_size=1,
        max_size=40,
    ),
    minutes=st.integers(-14 * 60, 14 * 60),
)
def test_iso_agrees_with_the_standard_library(moments, minutes):
    """Texts of one column may have different shapes: fractions are left out where they are zero."""
    zone = timezone(timedelta(minutes=minutes))
    texts = [moment.replace(tzinfo=zone).isoformat() for moment in moments]

    stamps = read_stamps(texts)

    found_us = midnight_us(stamps, "dmy") + stamps.day_us - stamps.offset_min * 60_000_000
    expected = [datetime.fromisoformat(text) - datetime(1970, 1, 1, tzinfo=UTC) for text in texts]
    assert found_us.tolist() == [delta // timedelta(microseconds=1) for delta in expected]


def test_forms_say_how_certain_the_order_is():
    texts = ["2026-05-04", "04.05.2026", "04/05/2026", "10:12:07", "5 May 2026"]

    assert read_stamps(texts).form.tolist() == [YEAR_FIRST, DOTTED, UNCLEAR, NO_DATE, YEAR_FIRST]


def test_the_order_decides_where_the_date_does_not():
    assert moment("04/05/2026 10:00", "dmy") == at(2026, 5, 4, 10)
    assert moment("04/05/2026 10:00", "mdy") == at(2026, 4, 5, 10)
    assert moment("2026/05/04 10:00", "mdy") == at(2026, 5, 4, 10)


def test_times_alone():
    stamps = read_stamps(
        ["10:12:07.5", "9:05", "101207", "12:00 am", "12:00 pm", "1:02:03.123456789 p.m.", "x"]
    )

    assert (stamps.form == NO_DATE).all()
    assert stamps.day_us[:6].tolist() == [
        36_727_500_000,
        32_700_000_000,
        36_727_000_000,
        0,
        43_200_000_000,
        46_923_123_456,
    ]
    assert stamps.day_us[6] == MISSING
    assert stamps.understood.tolist() == [True] * 6 + [False]


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("+02:00", 120),
        ("-05:30", -330),
        ("+0200", 120),
        ("-3", -180),
        ("UTC+2", 120),
        ("UTC", 0),
        ("Z", 0),
        ("+02:00:00", 120),
        ("+14:00", 840),
        ("+14:01", None),
        ("-99:00", None),
        ("+02:60", None),
        ("CEST", None),
        ("", None),
        ("two", None),
    ],
)
def test_offsets(text, minutes):
    assert offset_minutes(text) == minutes


def test_zones_in_texts():
    texts = [
        "10:12:07Z",
        "10:12:07 UTC",
        "10:12:07+02",
        "10:12:07 GMT-05:30",
        "10:12:07−01:00",
        "10:12:07",
        "10:12:07 CEST",
    ]

    stamps = read_stamps(texts)

    assert stamps.offset_min.tolist() == [0, 0, 120, -330, -60, MISSING, MISSING]
    assert stamps.understood.tolist() == [True] * 6 + [False]


def test_no_zone_is_farther_from_utc_than_is_read():
    """IANA time zone database, as Python has it: Pacific/Kiritimati is the farthest."""
    clocks = {name: MOMENT.astimezone(ZoneInfo(name)) for name in available_timezones()}
    offsets_min = {name: clock.utcoffset() / timedelta(minutes=1) for name, clock in clocks.items()}

    assert max(map(abs, offsets_min.values())) == offsets_min["Pacific/Kiritimati"] == FARTHEST_OFFSET_MIN


def test_a_zone_that_no_place_has_makes_no_time():
    """A flight with +99:00 behind its times was put four days back without a word."""
    stamps = read_stamps([f"2026-05-04T10:12:07{zone}" for zone in ("+14:00", "-12:00", "+99:00", "-05:99")])

    assert stamps.understood.tolist() == [True, True, False, False]
    assert stamps.day_us[2:].tolist() == [MISSING, MISSING]


@given(texts=st.lists(st.one_of(st.text(max_size=80), st.from_regex(r"[-0-9:./ TZ+]{0,30}", fullmatch=True))))
def test_any_text_is_understood_or_not(texts):
    stamps = read_stamps(texts)

    assert len(stamps) == len(texts)
    for order in ("dmy", "mdy"):
        midnight = midnight_us(stamps, order)
        assert ((midnight % 86_400_000_000 == 0) | (midnight == MISSING)).all()
    assert np.isin(stamps.form, [NO_DATE, YEAR_FIRST, DOTTED, UNCLEAR]).all()
