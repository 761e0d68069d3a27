"""The words that stand over columns, in nine languages, and the units beside them. Data only.

Owns      which word means which quantity; what one unit is in ours; the names for ``--column``.
Not here  taking a heading apart (``csv_columns``).
Spelling  Everything is written as ``csv_columns.plain_words`` leaves it: lower case, no accents (ä as a and as
          ae), no blanks within a phrase when it is compared.
"""

from __future__ import annotations

from typing import Literal

Quantity = Literal[
    "time",
    "elapsed",
    "date",
    "utc_offset",
    "latitude",
    "longitude",
    "position",
    "north_south",
    "east_west",
    "altitude",
    "groundspeed",
    "speed",
    "track",
    "heading",
    "airspeed",
    "vertical_speed",
    "on_ground",
    "airborne",
    "aircraft",
    "flight_id",
    "pilot",
]
Qualifier = Literal["gps", "msl", "plain", "indicated", "pressure", "true", "magnetic", "utc", "local"]

# English, German, French, Spanish, Italian, Portuguese, Dutch, Swedish, Polish; then abbreviations.
WORDS: dict[Quantity, tuple[str, ...]] = {
    "time": (
        "time", "datetime", "date time", "date and time", "timestamp", "time stamp", "time of day", "clock",
        "recorded at", "when", "iso time", "time iso", "unix time", "unix timestamp", "t unix", "ts", "epoch", "epoch time", "time epoch", "unix",
        "zeit", "uhrzeit", "zeitstempel", "zeitpunkt", "datum zeit", "datum uhrzeit",
        "heure", "horodatage", "temps", "date heure", "date et heure",
        "hora", "tiempo", "marca de tiempo", "fecha hora", "fecha y hora",
        "ora", "orario", "tempo", "data ora", "data e ora",
        "data hora", "data e hora", "carimbo de tempo",
        "tijd", "tijdstip", "tijdstempel", "datum tijd",
        "tid", "tidpunkt", "tidsstampel", "datum tid", "klockslag",
        "czas", "godzina", "data czas", "znacznik czasu",
        "utc", "zulu", "gmt", "utc time", "hhmmss", "hms", "timestr",
    ),
    "elapsed": (
        "elapsed", "elapsed time", "seconds", "sec", "secs", "run time", "time elapsed", "flight time", "t",
        "time since start", "seconds since start", "total time", "totl time", "sim time", "session time",
        "sekunden", "laufzeit", "flugzeit", "vergangene zeit", "zeit seit start",
        "secondes", "temps ecoule", "duree", "temps de vol",
        "segundos", "tiempo transcurrido", "tempo decorrido", "secondi", "tempo trascorso",
        "seconden", "verstreken tijd", "sekunder", "forfluten tid", "sekundy", "czas od startu",
    ),
    "date": (
        "date", "day", "datum", "tag", "jour", "fecha", "dia", "data", "giorno", "dag", "dzien",
        "flight date", "flugdatum", "date du vol", "calendar date", "yyyymmdd", "ymd",
    ),
    "utc_offset": (
        "utc offset", "utcofst", "utc ofst", "offset", "time zone", "timezone", "tz", "gmt offset", "zone",
        "zeitzone", "fuseau horaire", "zona horaria", "fuso orario", "fuso horario", "tijdzone", "tidszon",
    ),
    "latitude": (
        "latitude", "lat", "geographic latitude", "breite", "breitengrad", "geographische breite",
        "geografische breite", "latitud", "latitudine", "breedte", "breedtegraad", "latitudgrad", "breddgrad",
        "bredd", "szerokosc", "szerokosc geograficzna", "latitude n", "lat n", "latitude n s", "northing lat", "latdd",
        "latitude dd", "lat dd", "lat decimal", "latitude decimal", "y lat",
    ),
    "longitude": (
        "longitude", "lon", "long", "lng", "geographic longitude", "lange", "laenge", "langengrad", "laengengrad",
        "geographische lange", "geographische laenge", "geografische lange", "geografische laenge", "longitud",
        "longitudine", "lengte", "lengtegraad", "langd", "longitudgrad", "dlugosc", "dlugosc geograficzna",
        "longitude e", "lon e", "longitude e w", "lon dd", "longitude dd", "lon decimal", "longitude decimal", "x lon",
    ),
    "position": (
        "position", "pos", "coordinates", "coordinate", "coords", "lat lon", "latlon", "lat long", "lat lng",
        "latitude longitude", "location", "koordinaten", "standort", "coordonnees", "coordenadas", "posicion",
        "coordinate gps", "coordinaten", "coordinates", "posizione", "posicao", "positie", "pozycja",
        "wspolrzedne", "koordinater", "wkt", "geometry",
    ),
    "north_south": ("ns", "n s", "lat dir", "lat hemisphere", "latitude hemisphere", "ns indicator", "lat ns"),
    "east_west": ("ew", "e w", "lon dir", "lon hemisphere", "longitude hemisphere", "ew indicator", "lon ew"),
    "altitude": (
        "altitude", "alt", "elevation", "elev", "ele", "height", "hohe", "hoehe", "flughohe", "flughoehe",
        "meereshohe", "hauteur", "altitud", "altura", "elevacion", "altitudine", "quota", "elevazione", "altezza",
        "elevacao", "hoogte", "vlieghoogte", "hojd", "flyghojd", "wysokosc",
    ),
    "groundspeed": (
        "ground speed", "gs", "gnd speed", "gnd spd", "gspd", "gspeed", "g speed", "speed over ground", "sog",
        "speed ground", "velocity ground", "ground velocity", "surface speed", "speed gs", "gs speed",
        "geschwindigkeit uber grund", "geschwindigkeit ueber grund", "grundgeschwindigkeit", "vitesse sol",
        "vitesse au sol", "velocidad sobre el suelo", "velocidad terrestre", "velocidad suelo",
        "velocita al suolo", "velocita suolo", "velocidade solo", "velocidade no solo",
        "velocidade em relacao ao solo", "grondsnelheid", "markfart", "fart over grund",
        "predkosc wzgledem ziemi", "predkosc podrozna", "gps speed", "speed gps",
    ),
    "speed": (
        "speed", "velocity", "spd", "geschwindigkeit", "vitesse", "velocidad", "velocita", "velocidade",
        "snelheid", "hastighet", "fart", "predkosc",
    ),
    "track": (
        "track", "trk", "ground track", "course over ground", "cog", "course", "track angle", "crs", "direction",
        "track over ground", "tog", "kurs uber grund", "kurs ueber grund", "kurs", "route sol", "route",
        "derrota", "rumbo", "rotta", "rota", "rumo", "grondkoers", "koers", "kurs over grund", "kat drogi",
        "flight path heading", "travel direction", "ground course",
    ),
    "heading": (
        "heading", "hdg", "head", "yaw", "steuerkurs", "cap", "rumbo de la aeronave", "prua", "proa",
        "stuurkoers", "styrkurs", "psi",
    ),
    "airspeed": (
        "airspeed", "air speed", "as", "speed air", "fahrt", "eigengeschwindigkeit", "fluggeschwindigkeit",
        "vitesse air", "velocidad aerea", "velocidad del aire", "velocita aria", "velocidade do ar",
        "velocidade aerodinamica", "luchtsnelheid", "flygfart", "predkosc powietrzna",
    ),
    "vertical_speed": (
        "vertical speed", "vs", "v s", "vspeed", "v speed", "vspd", "v spd", "vertical rate", "vert rate",
        "vertrate", "vert speed", "vertical velocity", "climb rate", "rate of climb", "roc", "climb", "vvi", "vsi",
        "vario", "baro rate", "geom rate", "vertical speed indicator", "speed vertical", "climb speed",
        "steigrate", "steigen", "vertikalgeschwindigkeit", "vitesse verticale", "vz", "taux de montee",
        "velocidad vertical", "velocita verticale", "variometro", "velocidade vertical", "verticale snelheid",
        "stijgsnelheid", "stighastighet", "vertikalhastighet", "predkosc pionowa",
    ),
    "on_ground": (
        "on ground", "ground", "air ground", "is on ground", "gnd", "ground flag", "wow", "weight on wheels", "on gnd", "landed",
        "am boden", "boden", "au sol", "en tierra", "a terra", "al suolo", "no solo", "op de grond", "pa marken",
        "na ziemi",
    ),
    "airborne": ("airborne", "in air", "in flight", "flying", "in the air", "in der luft", "en vol", "en vuelo",
        "in volo", "em voo"),
    "aircraft": (
        "icao 24", "icao24", "icao", "icao address", "icao hex", "hex", "hex id", "mode s", "mode s code",
        "registration", "reg", "tail", "tail number", "aircraft", "aircraft id", "aircraft registration",
        "kennzeichen", "immatriculation", "matricula", "marche", "registratie", "registrering", "rejestracja",
        "transponder address", "address", "object id", "vehicle",
    ),
    "flight_id": ("callsign", "call sign", "rufzeichen", "indicatif", "indicativo", "nominativo", "roepnaam",
        "ident", "flight", "flight id", "anropssignal", "znak wywolawczy"),
    "pilot": ("pilot", "pilot name", "student", "trainee", "pilote", "piloto", "pilota", "piloot", "name of pilot"),
}  # fmt: skip

# Headings whose parts do not say what they are.
PHRASES: dict[str, tuple[Quantity, tuple[Qualifier, ...]]] = {
    "altb": ("altitude", ("indicated",)),  # set to the local pressure
    "barocorrectedaltitude": ("altitude", ("indicated",)),
    "altp": ("altitude", ("pressure",)),
    "palt": ("altitude", ("pressure",)),
    "druckhohe": ("altitude", ("pressure",)),
    "druckhoehe": ("altitude", ("pressure",)),
    "flightlevel": ("altitude", ("pressure",)),
    "fl": ("altitude", ("pressure",)),
    "ias": ("airspeed", ("indicated",)),
    "kias": ("airspeed", ("indicated",)),
    "cas": ("airspeed", ("indicated",)),
    "kcas": ("airspeed", ("indicated",)),
    "vi": ("airspeed", ("indicated",)),
    "tas": ("airspeed", ("true",)),
    "ktas": ("airspeed", ("true",)),
    "angezeigtefluggeschwindigkeit": ("airspeed", ("indicated",)),
    "vitesseindiquee": ("airspeed", ("indicated",)),
    "vitessepropre": ("airspeed", ("true",)),
    "velocidadindicada": ("airspeed", ("indicated",)),
    "velocitaindicata": ("airspeed", ("indicated",)),
    "velocidadeindicada": ("airspeed", ("indicated",)),
    "missweisendersteuerkurs": ("heading", ("magnetic",)),
    "rechtweisendersteuerkurs": ("heading", ("true",)),
    "capmagnetique": ("heading", ("magnetic",)),
    "capvrai": ("heading", ("true",)),
    "hdgm": ("heading", ("magnetic",)),
    "hdgt": ("heading", ("true",)),
    "trkt": ("track", ("true",)),
    "trkm": ("track", ("magnetic",)),
    "truetrack": ("track", ("true",)),
}

# A word that narrows the quantity down. Which of them a quantity may carry stands in ALLOWED.
QUALIFIERS: dict[str, Qualifier] = {
    "gps": "gps", "gnss": "gps", "geometric": "gps", "geom": "gps", "geo": "gps", "hae": "gps",
    "ellipsoid": "gps", "ellipsoidal": "gps", "wgs84": "gps", "wgs": "gps",
    "msl": "msl", "amsl": "msl", "asl": "msl", "mslm": "msl", "nn": "msl", "nmm": "msl",
    "indicated": "indicated", "ind": "indicated", "qnh": "indicated", "corrected": "indicated",
    "pressure": "pressure", "baro": "pressure", "barometric": "pressure", "std": "pressure",
    "standard": "pressure", "press": "pressure", "barometrisch": "pressure", "barometrische": "pressure",
    "barometrique": "pressure", "barometrica": "pressure", "qne": "pressure",
    "true": "true", "wahr": "true", "vrai": "true", "vraie": "true", "verdadero": "true", "vero": "true",
    "magnetic": "magnetic", "mag": "magnetic", "magnetisch": "magnetic", "magnetique": "magnetic",
    "magnetico": "magnetic", "magnetica": "magnetic",
    "utc": "utc", "zulu": "utc", "gmt": "utc", "z": "utc",
    "local": "local", "lcl": "local", "lokal": "local", "lokale": "local", "locale": "local", "lt": "local",
    "ortszeit": "local", "lokaal": "local",
}  # fmt: skip
ALLOWED: dict[Quantity, frozenset[Qualifier]] = {
    "time": frozenset({"utc", "local", "gps"}),
    "date": frozenset({"utc", "local", "gps"}),
    "latitude": frozenset({"gps", "true"}),
    "longitude": frozenset({"gps", "true"}),
    "position": frozenset({"gps"}),
    "altitude": frozenset({"gps", "msl", "indicated", "pressure", "true"}),
    "groundspeed": frozenset({"gps", "true"}),
    "speed": frozenset({"gps", "indicated", "true"}),
    "track": frozenset({"gps", "true", "magnetic"}),
    "heading": frozenset({"true", "magnetic"}),
    "airspeed": frozenset({"indicated", "true"}),
    "vertical_speed": frozenset({"gps", "pressure", "indicated"}),
}

# Words that add nothing, where others remain.
FILLERS = frozenset(
    [
        "plane",
        "aircraft",
        "ac",
        "own",
        "ownship",
        "user",
        "sim",
        "simulator",
        "current",
        "value",
        "my",
        "data",
        "position",
        "pos",
        "point",
        "the",
        "of",
        "in",
        "is",
        "a",
        "de",
        "du",
        "der",
        "des",
        "di",
        "da",
        "do",
        "della",
        "am",
        "u",
        "uber",
        "ueber",
        "geogr",
        "geographic",
        "geographische",
        "geografische",
        "degrees",
        "decimal",
        "nmea",
        "measured",
        "raw",
        "reported",
        "var",
        "num",
    ]
)

# Units that also say which kind is meant.
UNIT_QUALIFIERS: dict[str, Qualifier] = {
    "kias": "indicated",
    "kcas": "indicated",
    "ktas": "true",
    "degt": "true",
    "°t": "true",
    "degm": "magnetic",
    "°m": "magnetic",
    "ftmsl": "msl",
    "mmsl": "msl",
}

Dimension = Literal["length", "speed", "rate", "angle", "time"]
# What is written -> (dimension, unit). Compared without blanks, dots and underscores.
UNITS: dict[str, tuple[tuple[Dimension, str], ...]] = {
    **dict.fromkeys(("ft", "feet", "foot", "fuss", "pieds", "pies", "piedi", "pes", "voet", "fot", "stopy", "ftmsl"),
        (("length", "ft"),)),
    **dict.fromkeys(("m", "meter", "metre", "meters", "metres", "metros", "metri", "metry", "mtr", "mmsl"),
        (("length", "m"),)),
    **dict.fromkeys(("km", "kilometers", "kilometres"), (("length", "km"),)),
    "fl": (("length", "fl"),),
    **dict.fromkeys(("kt", "kts", "kn", "knot", "knots", "knoten", "noeuds", "nudos", "nodi", "nos", "knopen",
        "knop", "wezly", "nm/h", "ktas", "kias", "kcas"), (("speed", "kt"), ("rate", "kt"))),
    **dict.fromkeys(("km/h", "kmh", "kph", "kmph", "kmhr", "km/hr"), (("speed", "km/h"),)),
    **dict.fromkeys(("mph", "mi/h", "miles/h"), (("speed", "mph"),)),
    **dict.fromkeys(("m/s", "ms-1", "mps", "m/sec", "metres/second", "meters/second", "msec"),
        (("speed", "m/s"), ("rate", "m/s"))),
    **dict.fromkeys(("ft/min", "fpm", "feet/min", "feet/minute", "ftmin", "ft/mn", "ftperminute"),
        (("rate", "ft/min"),)),
    **dict.fromkeys(("ft/s", "fps", "feet/second", "ft/sec"), (("rate", "ft/s"), ("speed", "ft/s"))),
    **dict.fromkeys(("m/min",), (("rate", "m/min"),)),
    **dict.fromkeys(("deg", "degs", "degree", "degrees", "°", "º", "grad", "degres", "grados", "gradi", "graus",
        "graden", "grader", "stopnie", "dd", "decimaldegrees", "decdeg", "degt", "degm", "°t", "°m"), (("angle", "deg"),)),
    **dict.fromkeys(("rad", "radian", "radians", "radianten"), (("angle", "rad"),)),
    **dict.fromkeys(("e7", "1e7", "1e-7deg", "dege7", "10^-7deg"), (("angle", "e7"),)),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sekunden"), (("time", "s"),)),
    **dict.fromkeys(("ms", "millis", "milliseconds", "msecs", "millisec"), (("time", "ms"), ("speed", "m/s"),
        ("rate", "m/s"))),
    **dict.fromkeys(("us", "µs", "μs", "microseconds", "micros"), (("time", "us"),)),
    **dict.fromkeys(("ns", "nanoseconds"), (("time", "ns"),)),
    **dict.fromkeys(("min", "minutes"), (("time", "min"),)),
    **dict.fromkeys(("h", "hr", "hours"), (("time", "h"),)),
}  # fmt: skip

DIMENSION: dict[Quantity, Dimension] = {
    "time": "time",
    "elapsed": "time",
    "latitude": "angle",
    "longitude": "angle",
    "position": "angle",
    "altitude": "length",
    "groundspeed": "speed",
    "speed": "speed",
    "airspeed": "speed",
    "track": "angle",
    "heading": "angle",
    "vertical_speed": "rate",
}

# One of each unit in ours: feet, knots, feet a minute, degrees, seconds. The foot is 0.3048 m, the nautical
# mile 1852 m, the statute mile 1609.344 m, by definition.
FACTOR: dict[tuple[Dimension, str], float] = {
    ("length", "ft"): 1.0,
    ("length", "m"): 1 / 0.3048,
    ("length", "km"): 1000 / 0.3048,
    ("length", "fl"): 100.0,
    ("speed", "kt"): 1.0,
    ("speed", "km/h"): 1000 / 1852,
    ("speed", "mph"): 1609.344 / 1852,
    ("speed", "m/s"): 3600 / 1852,
    ("speed", "ft/s"): 0.3048 * 3600 / 1852,
    ("rate", "ft/min"): 1.0,
    ("rate", "m/s"): 60 / 0.3048,
    ("rate", "ft/s"): 60.0,
    ("rate", "m/min"): 1 / 0.3048,
    ("rate", "kt"): 1852 / 60 / 0.3048,
    ("angle", "deg"): 1.0,
    ("angle", "rad"): 57.29577951308232,
    ("angle", "e7"): 1e-7,
    ("time", "s"): 1.0,
    ("time", "ms"): 1e-3,
    ("time", "us"): 1e-6,
    ("time", "ns"): 1e-9,
    ("time", "min"): 60.0,
    ("time", "h"): 3600.0,
}

# Words over a date or a time in languages that write the day before the month, between strokes as between points;
# spelled without blanks. "date" alone may be English or French.
# Mark: common practice.
DAY_FIRST = frozenset({
    "datum", "tag", "zeit", "uhrzeit", "zeitstempel", "zeitpunkt", "datumzeit", "datumuhrzeit", "flugdatum",
    "jour", "heure", "horodatage", "dateheure", "dateetheure", "dateduvol",
    "fecha", "dia", "hora", "tiempo", "marcadetiempo", "fechahora", "fechayhora",
    "giorno", "ora", "orario", "dataora", "dataeora", "datahora", "dataehora", "carimbodetempo",
    "tijd", "tijdstip", "tijdstempel", "datumtijd", "godzina", "czas", "dzien", "dataczas", "znacznikczasu",
})  # fmt: skip

# Names for ``--column NAME=HEADING``: what the column then holds, of which kind, in which unit.
NAMES: dict[str, tuple[Quantity, tuple[Qualifier, ...], str | None]] = {
    "time": ("time", (), None),
    "elapsed_s": ("elapsed", (), "s"),
    "date": ("date", (), None),
    "utc_offset": ("utc_offset", (), None),
    "latitude": ("latitude", (), None),
    "longitude": ("longitude", (), None),
    "position": ("position", (), None),
    "altitude": ("altitude", (), None),
    "altitude_ft": ("altitude", (), "ft"),
    "altitude_m": ("altitude", (), "m"),
    "pressure_altitude_ft": ("altitude", ("pressure",), "ft"),
    "groundspeed_kt": ("groundspeed", (), "kt"),
    "ground_track_true_deg": ("track", ("true",), "deg"),
    "heading_true_deg": ("heading", ("true",), "deg"),
    "heading_mag_deg": ("heading", ("magnetic",), "deg"),
    "airspeed_kias": ("airspeed", ("indicated",), "kt"),
    "airspeed_ktas": ("airspeed", ("true",), "kt"),
    "vertical_speed_ft_min": ("vertical_speed", (), "ft/min"),
    "on_ground": ("on_ground", (), None),
    "aircraft": ("aircraft", (), None),
    "pilot": ("pilot", (), None),
}
