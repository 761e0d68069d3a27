"""What headings mean: by language, by unit, and what must not be taken for something else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.tracks.readers.csv_columns import meaning_of, plain_words
from debrief.tracks.readers.csv_words import DIMENSION, FACTOR, NAMES, UNITS, WORDS

LATITUDE, LONGITUDE, ALTITUDE, TIME, DATE = "latitude", "longitude", "altitude", "time", "date"

BY_LANGUAGE = {
    "English": "Time|Date|Latitude|Longitude|Altitude|Ground Speed|Heading|Vertical Speed",
    "German": "Uhrzeit|Datum|Breite|Länge|Höhe|Geschwindigkeit über Grund|Steuerkurs|Steigrate",
    "German, no umlauts": "Zeit|Datum|Breitengrad|Laengengrad|Hoehe|Geschwindigkeit ueber Grund|Steuerkurs|Steigen",
    "French": "Heure|Jour|Latitude|Longitude|Altitude|Vitesse sol|Cap|Vitesse verticale",
    "Spanish": "Hora|Fecha|Latitud|Longitud|Altitud|Velocidad terrestre|Hdg|Velocidad vertical",
    "Italian": "Ora|Giorno|Latitudine|Longitudine|Quota|Velocità al suolo|Prua|Velocità verticale",
    "Portuguese": "Hora|Dia|Latitude|Longitude|Altitude|Velocidade no solo|Proa|Velocidade vertical",
    "Dutch": "Tijd|Datum|Breedtegraad|Lengtegraad|Hoogte|Grondsnelheid|Stuurkoers|Verticale snelheid",
    "Swedish": "Tid|Datum|Latitud|Longitud|Höjd|Markfart|Styrkurs|Stighastighet",
    "Polish": "Czas|Dzień|Szerokość geograficzna|Długość geograficzna|Wysokość|Prędkość względem ziemi|Hdg"
    "|Prędkość pionowa",
}
EIGHT = ("time", "date", "latitude", "longitude", "altitude", "groundspeed", "heading", "vertical_speed")


@pytest.mark.parametrize("language", BY_LANGUAGE)
@pytest.mark.parametrize("change", [str, str.upper, str.lower], ids=["as written", "capitals", "small"])
def test_languages(language, change):
    found = [meaning_of(change(heading)) for heading in BY_LANGUAGE[language].split("|")]

    assert [meaning.quantity if meaning else None for meaning in found] == list(EIGHT)


@pytest.mark.parametrize(
    ("heading", "quantity", "qualifiers", "unit"),
    [
        ("lat", LATITUDE, (), None),
        ("Latitude (deg)", LATITUDE, (), "deg"),
        ("latitude_rad", LATITUDE, (), "rad"),
        ("GPS Latitude [°]", LATITUDE, ("gps",), "deg"),
        ("PLANE LATITUDE", LATITUDE, (), None),
        ("lng", LONGITUDE, (), None),
        ("Altitude", ALTITUDE, (), None),
        ("alt_ft", ALTITUDE, (), "ft"),
        ("Alt m", ALTITUDE, (), "m"),
        ("Altitude (ft MSL)", ALTITUDE, ("msl",), "ft"),
        ("Altitude above mean sea level [m]", ALTITUDE, ("msl",), "m"),
        ("gpsAltitude", ALTITUDE, ("gps",), None),
        ("geoaltitude", ALTITUDE, ("gps",), None),
        ("Barometric altitude (ft)", ALTITUDE, ("pressure",), "ft"),
        ("baroaltitude", ALTITUDE, ("pressure",), None),
        ("Pressure Altitude", ALTITUDE, ("pressure",), None),
        ("FL", ALTITUDE, ("pressure",), "fl"),
        ("Indicated Altitude (feet)", ALTITUDE, ("indicated",), "ft"),
        ("Höhe ü. NN (m)", ALTITUDE, ("msl",), "m"),
        ("gs_kt", "groundspeed", (), "kt"),
        ("ground_speed_km_h", "groundspeed", (), "km/h"),
        ("GndSpd (kt)", "groundspeed", (), "kt"),
        ("Speed [mph]", "speed", (), "mph"),
        ("Velocity (m/s)", "speed", (), "m/s"),
        ("IAS", "airspeed", ("indicated",), None),
        ("airspeed_kias", "airspeed", ("indicated",), "kt"),
        ("True airspeed (kts)", "airspeed", ("true",), "kt"),
        ("TRK", "track", (), None),
        ("Course over ground", "track", (), None),
        ("true track (deg)", "track", ("true",), "deg"),
        ("HDG (deg M)", "heading", ("magnetic",), "deg"),
        ("Magnetic heading", "heading", ("magnetic",), None),
        ("Heading (true)", "heading", ("true",), None),
        ("Cap magnétique", "heading", ("magnetic",), None),
        ("VS (fpm)", "vertical_speed", (), "ft/min"),
        ("vertical_speed_ft_min", "vertical_speed", (), "ft/min"),
        ("vertrate", "vertical_speed", (), None),
        ("Vario [m/s]", "vertical_speed", (), "m/s"),
        ("on_ground", "on_ground", (), None),
        ("SIM ON GROUND", "on_ground", (), None),
        ("UTC", TIME, ("utc",), None),
        ("Time (UTC)", TIME, ("utc",), None),
        ("Local time", TIME, ("local",), None),
        ("timestamp_ms", TIME, (), "ms"),
        ("Time [s]", TIME, (), "s"),
        ("elapsed_s", "elapsed", (), "s"),
        ("Lcl Date", DATE, ("local",), None),
        ("lat/lon", "position", (), None),
        ("p-alt", "altitude", ("pressure",), None),
        ("p-alt,ftmsl", "altitude", ("msl",), "ft"),
        ("N/S", "north_south", (), None),
        ("icao24", "aircraft", (), None),
        ("Callsign", "flight_id", (), None),
    ],
)
def test_parts_of_a_heading(heading, quantity, qualifiers, unit):
    meaning = meaning_of(heading)

    assert meaning is not None
    assert (meaning.quantity, tuple(sorted(meaning.qualifiers)), meaning.unit) == (quantity, qualifiers, unit)


@pytest.mark.parametrize(
    "heading",
    [
        "Selected altitude (ft)",
        "Altitude AGL",
        "Height above ground",
        "Radar altitude",
        "Ground elevation (ft)",
        "Density altitude",
        "Decision altitude",
        "Wind speed",
        "Wind direction",
        "Altitude (kt)",
        "Latitude (ft)",
        "Ground speed (ft)",
        "NAV1 course",
        "Magnetic variation",
        "OAT",
        "Pitch",
        "squawk",
        "lastposupdate",
        "hour",
        "Target heading",
        "Selected heading",
        "Outside air temperature",
        "",
        "   ",
        "#",
        "x" * 300,
    ],
)
def test_what_must_not_be_taken_for_something_else(heading):
    assert meaning_of(heading) is None


@pytest.mark.parametrize(
    ("heading", "order"),
    [
        ("Date (dd/mm/yyyy)", "dmy"),
        ("Date (mm/dd/yy)", "mdy"),
        ("Date [yyyy-mm-dd]", "ymd"),
        ("Datum (TT.MM.JJJJ)", "dmy"),
        ("Jour (jj/mm/aaaa)", "dmy"),
    ],
)
def test_headings_that_give_the_order_of_a_date(heading, order):
    assert meaning_of(heading).date_order == order


@pytest.mark.parametrize(
    ("heading", "minutes"), [("Time (UTC+2)", 120), ("Zeit UTC-5:30", -330), ("Time", None)]
)
def test_headings_that_give_an_offset(heading, minutes):
    assert meaning_of(heading).offset_min == minutes


def test_a_row_of_units_counts_as_the_headings():
    meaning = meaning_of("Alt", "m")

    assert meaning.unit == "m"
    assert meaning_of("AltB", "ft Baro").qualifiers == {"indicated"}


def test_every_unit_has_a_factor():
    assert {pair for known in UNITS.values() for pair in known} == set(FACTOR)


def test_every_word_means_its_own_quantity():
    """No word may stand in two lists, and none may be hidden by what is taken off a heading first."""
    wrong = {
        (quantity, word): meaning_of(word)
        for quantity, words in WORDS.items()
        for word in words
        if (found := meaning_of(word)) is None or found.quantity != quantity
    }

    assert wrong == {}


def test_the_names_for_columns_are_headings_themselves():
    for name, (quantity, qualifiers, unit) in NAMES.items():
        meaning = meaning_of(name)
        assert meaning is not None, name
        assert (meaning.quantity, meaning.qualifiers) == (quantity, frozenset(qualifiers)), name
        assert meaning.unit == unit or unit is None or quantity not in DIMENSION, name


@given(st.text(max_size=60), st.text(max_size=10))
def test_any_heading_has_a_meaning_or_none(heading, unit_row):
    meaning = meaning_of(heading, unit_row)

    assert meaning is None or meaning.quantity in WORDS
    assert plain_words(heading) == plain_words(heading)
