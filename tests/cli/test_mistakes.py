"""Bad input through the command: one clear line on standard error, status 2, nothing left behind. Whole texts."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from debrief.errors import TrackError
from tests.cli.conftest import CLEAN, SAMPLES, Run, everything_in

PROCEDURE = ("--procedure", "lantern-vor-22")
ROWS = "".join(f"10:00:{s:02d},{47 + s / 1000:.3f},-31.500,3000\n" for s in range(20))
POINT = '<trkpt lat="47.1" lon="-31.2"><time>2026-05-04T10:12:07Z</time></trkpt>'
EXAMPLES = Path(__file__).parents[2] / "debrief/procedures/examples"
BUNDLED = ", ".join(sorted(path.stem for path in EXAMPLES.glob("*.toml")))
LANTERN = (EXAMPLES / "lantern-vor-22.toml").read_text()


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Each test stands in an empty folder, so that the texts name files and not machines."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(run: Run, *words: str | Path) -> str:
    """Run ``report``; what it said, which must be one line and leave nothing behind."""
    before = everything_in(Path())
    ran = run("report", *words)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1
    assert everything_in(Path()) == before
    return ran.err.removesuffix("\n")


@pytest.mark.parametrize(
    ("name", "content", "line"),
    [
        ("a.gpx", "", "a.gpx: the file is empty. Export the log again."),
        (
            "a.gpx",
            "<!DOCTYPE html><html><body>Sign in</body></html>",
            "a.gpx: this is a web page. Download the log itself: the page may have asked to sign in.",
        ),
        ("a.gpx", "\x89PNG\r\n\x1a\n" * 9, "a.gpx: this is a PNG image. Give the log itself."),
        (
            "a.gpx",
            '<!DOCTYPE gpx [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;">]><gpx><name>&b;</name></gpx>',
            ("a.gpx: it declares a document type or entities, which a log has no need of and which is not read. "
            "Remove the <!DOCTYPE ...> from the file, or export the log again."),
        ),
        (
            "a.gpx",
            '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]><gpx><name>&a;</name></gpx>',
            ("a.gpx: it declares a document type or entities, which a log has no need of and which is not read. "
            "Remove the <!DOCTYPE ...> from the file, or export the log again."),
        ),
        (
            "a.gpx",
            '<gpx><rte><rtept lat="1" lon="2"/><rtept lat="1" lon="3"/></rte></gpx>',
            "a.gpx: it holds 2 route points but no track. Export the track that was recorded, with its times.",
        ),
        (
            "a.gpx",
            '<gpx><trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/></trkseg></trk></gpx>',
            ("a.gpx: none of 2 track points has a time that can be read. "
            "Export the log with its times: a drawn route has none."),
        ),
        (
            "a.gpx",
            f"<gpx><trk><trkseg>{POINT}</trkseg></trk></gpx>",
            "a.gpx: only one point in it. A debrief needs a track: export the whole flight.",
        ),
        (
            "a.csv",
            "time,latitude,longitude\n2026-05-04T10:12:07Z,147.1,-31.2\n2026-05-04T10:12:08Z,147.2,-31.2\n",
            ("a.csv, line 2: no position is on the Earth: latitude 147.1, longitude -31.2. "
            "Positions must be degrees, latitude -90 to 90 and longitude -180 to 180: these seem to be exchanged."),
        ),
        (
            "a.csv",
            "alpha,beta,gamma\n1,2,3\n4,5,6\n",
            ("a.csv, line 1: no column is recognised as time, latitude or longitude among 'alpha', 'beta', 'gamma'. "
            "Known headings are time: time, datetime, date time, date and time, ...; "
            "latitude: latitude, lat, geographic latitude, breite, ...; longitude: longitude, lon, long, lng, .... "
            "Name yours: --column time=HEADING --column latitude=HEADING --column longitude=HEADING."),
        ),
        (
            "a.csv",
            f"time,latitude,longitude,altitude_ft\n{ROWS}",
            ("a.csv: column 'time' holds times of day without a date. "
            "Pass the day of the flight (UTC), for example --date 2026-05-04."),
        ),
    ],
    ids=(
        "empty", "web page", "image", "entities", "external entity", "route", "no times", "one point",
        "off the Earth", "headings", "no date",
    ),
)  # fmt: skip
def test_a_log_that_is_none(run: Run, here: Path, name: str, content: str, line: str) -> None:
    (here / name).write_bytes(content.encode("latin-1"))

    assert refused(run, name, *PROCEDURE) == line


def test_a_log_cut_off_in_its_first_minute(run: Run, here: Path) -> None:
    (here / "a.gpx").write_text(f"<gpx><trk><trkseg>\n{POINT}<trkpt lat=")

    line = refused(run, "a.gpx")

    # why is in the parser's words
    assert line.startswith("a.gpx, line 2: the XML breaks off after point 1: ")
    assert line.endswith(". Export the log again.")


def test_a_log_that_is_not_there(run: Run) -> None:
    assert refused(run, "a.gpx", *PROCEDURE) == "a.gpx: there is no such file. Check the name."


def test_what_is_no_ordinary_file(run: Run, here: Path) -> None:
    (here / "folder.gpx").mkdir()
    os.mkfifo(here / "pipe.gpx")
    (here / "loop.gpx").symlink_to("loop.gpx")

    assert refused(run, "folder.gpx") == "folder.gpx: it is a folder, not a log. Give the file inside."
    assert refused(run, "pipe.gpx") == "pipe.gpx: it is not an ordinary file. Give the log's own file."
    assert refused(run, "loop.gpx") == "loop.gpx: there is no such file. Check the name."
    assert refused(run, os.devnull) == f"{os.devnull}: it is not an ordinary file. Give the log's own file."


def test_a_track_far_from_the_station(run: Run) -> None:
    assert refused(run, SAMPLES / "dateline-simulator.csv", *PROCEDURE) == (
        "dateline-simulator.csv: its nearest point lies 5,701 NM from station LQN of 'Lantern VOR/DME runway 22'. "
        "Give the procedure that was flown, with --procedure."
    )


def test_a_track_far_from_every_known_station(run: Run, here: Path) -> None:
    rows = "".join(f"2026-05-04T10:00:{s:02d}Z,{s / 1000:.3f},10.000,3000\n" for s in range(20))
    (here / "a.csv").write_text(f"time,latitude,longitude,altitude_ft\n{rows}")

    line = refused(run, "a.csv")

    assert line.startswith("a.csv: no known procedure lies within 40 NM of this track; the nearest station, ")
    assert line.endswith(
        " NM away. Give the procedure that was flown with --procedure, or a folder of them with --procedures."
    )


def test_samples_too_far_apart(run: Run, here: Path) -> None:
    rows = "".join(f"2026-05-04T10:{m:02d}:30Z,{47 + m / 100:.3f},-31.500,3000\n" for m in range(0, 60, 2))
    (here / "a.csv").write_text(f"time,latitude,longitude,altitude_ft\n{rows}")

    assert refused(run, "a.csv", *PROCEDURE) == (
        "a.csv: its samples are 2 min apart, too far to see a turn. "
        "Record at least every 15 s, or check the times: 60 s is the limit."
    )


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            LANTERN.replace("elevation_ft", "elevation_feet", 1),
            (
                "p.toml, key station.elevation_feet: the key is unknown. Did you mean elevation_ft? "
                "Keys here: ident, kind, latitude, longitude, elevation_ft, declination_deg."
            ),
        ),
        (
            LANTERN.replace("radial_deg = ", "radial_deg = 9", 1),
            "p.toml, key leg 2 (outbound).radial_deg: 944 is out of range. Allowed: 0 to 360.",
        ),
        (
            "{]",
            (
                "p.toml, line 1: this is not valid TOML: invalid statement. "
                'A line reads key = value, a text stands in "quotes".'
            ),
        ),
    ],
)
def test_a_procedure_that_is_not_valid(run: Run, here: Path, text: str, line: str) -> None:
    (here / "p.toml").write_text(text)

    assert refused(run, CLEAN, "--procedure", "p.toml") == line


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ("--procedure", "lantern-vor-23"),
            (
                'no procedure is called "lantern-vor-23". Did you mean "lantern-vor-22"? '
                f"Give a file (.toml) or one of {BUNDLED}."
            ),
        ),
        (
            ("--procedure", "none.toml"),
            (
                "none.toml: there is no such file. "
                "Give a procedure file (.toml), or a name that `debrief procedures` lists."
            ),
        ),
        (
            ("--procedures", "none"),
            (
                "none: the folder cannot be read: No such file or directory. "
                "Give a folder that holds procedure files (.toml)."
            ),
        ),
        (
            ("--standard", "instrument"),
            (
                'no standard is called "instrument". Did you mean "instrument-rating"? '
                "Give a file (.toml) or one of airline-transport, european-instrument, instrument-rating, training."
            ),
        ),
        (
            ("--column", "latitude"),
            "--column 'latitude' is not of the form NAME=HEADING. Write for example --column latitude=Y.",
        ),
        (
            ("--date", "yesterday"),
            "--date 'yesterday' is not a date. Write year, month and day, for example --date 2026-05-04.",
        ),
        (
            ("--qnh", "29.92"),
            (
                "a QNH of 29.92 hPa is out of range. Give hectopascals, 850 to 1100: "
                "29.92 inches of mercury are 1013.25."
            ),
        ),
        (
            ("--qnh", "nan"),
            (
                "a QNH of nan hPa is out of range. Give hectopascals, 850 to 1100: "
                "29.92 inches of mercury are 1013.25."
            ),
        ),
        (
            ("--altitude-offset-ft", "6000"),
            "an altitude offset of 6000 ft is out of range. Give feet, -5000 to 5000.",
        ),
    ],
)
def test_an_option_that_cannot_be(run: Run, words: tuple[str, ...], line: str) -> None:
    assert refused(run, CLEAN, *words) == line


@pytest.mark.parametrize(
    ("words", "begins"),
    [
        ((), "Missing argument"),
        ((CLEAN, "--paper", "A3"), "Invalid value for '--paper'"),
        ((CLEAN, "--qnh", "high"), "Invalid value for '--qnh'"),
        ((CLEAN, "--colum", "latitude=Y"), "No such option"),
    ],
)
def test_a_command_line_that_is_wrong_is_one_line_and_leads_to_help(
    run: Run, words: tuple[str | Path, ...], begins: str
) -> None:
    line = refused(run, *words)

    assert line.startswith(begins)
    assert line.endswith(" report --help.")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ("logbook", "show", "zzz"),
            "Invalid value for 'FLIGHT': this is no whole number.",
        ),
        (
            ("logbook", "watch", ".", "--pilot", "Wren", "--settled", "0"),
            "Invalid value for '--settled': it must be greater than or equal to 0.5.",
        ),
        (
            ("compare", "--paper", "A3"),
            "Invalid value for '--paper': 'A3' is not one of 'A4', 'Letter'.",
        ),
        (
            ("report", CLEAN, "--qnh", "high"),
            "Invalid value for '--qnh': this is no number.",
        ),
        (("logbook",), "logbook needs one of its commands after it."),
        (
            ("logbook", "watch", "nowhere", "--pilot", "Wren", "--logbook", "new.sqlite"),
            (
                "nowhere: the folder cannot be read: No such file or directory. "
                "Give the folder that the logs are written to."
            ),
        ),
    ],
)
def test_what_is_wrong_with_it_is_said_in_plain_words(
    run: Run, words: tuple[str | Path, ...], line: str
) -> None:
    before = everything_in(Path())
    ran = run(*words)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err.partition(" See ")[0].rstrip() == line
    assert ran.err.count("\n") == 1
    assert everything_in(Path()) == before


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("report", ""), "a word of the command line"),
        (("grade", "", "--out", "graded"), "a word of the command line"),
        (("grade", SAMPLES / "checkride", "--out", ""), "--out"),
        (("report", CLEAN, "--out="), "--out"),
        (("logbook", "add", CLEAN, "--pilot", "Wren", "--logbook", ""), "--logbook"),
    ],
)
def test_an_empty_name_is_not_the_folder_one_stands_in(
    run: Run, here: Path, words: tuple[str | Path, ...], named: str
) -> None:
    """A script's variable that was not set had the current folder graded, and the results put into it."""
    ran = run(*words)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        f"{named} is empty. Write what is meant, or leave it out: a variable in it may not be set.\n"
    )
    assert everything_in(here) == []


def test_a_command_line_that_cannot_be_read_leads_to_the_help_of_its_command(run: Run) -> None:
    assert run("review", "graded", "--set", "Wren", "result").err == (
        "Option '--set' requires 3 arguments. See debrief review --help.\n"
    )


def test_a_command_that_does_not_exist(run: Run) -> None:
    ran = run("reprot", CLEAN)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("No such command 'reprot'")
    assert ran.err.count("\n") == 1


def test_a_file_whose_name_looks_like_an_option(run: Run, here: Path) -> None:
    (here / "-my.gpx").write_bytes(CLEAN.read_bytes())

    assert refused(run, "-my.gpx").endswith("If the file '-my.gpx' is meant, write ./-my.gpx.")


def test_a_folder_that_is_a_file(run: Run, here: Path) -> None:
    (here / "taken").write_text("mine")

    assert refused(run, CLEAN, "--out", "taken") == (
        "taken: it is a file, not a folder. Choose another folder with --out."
    )
    assert refused(run, CLEAN, "--out", "taken/deep/er") == (
        "taken/deep/er: taken is a file, not a folder. Choose another folder with --out."
    )


def test_a_folder_nobody_may_write_to(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root may write everywhere, so the system's answer is made here."""
    monkeypatch.setattr(os, "access", lambda *_, **__: False)

    assert refused(run, CLEAN, "--out", "reports") == (
        "reports: cannot be written: Permission denied. "
        "Choose a folder that can be written to with --out, or make room on the disk."
    )


def test_two_tracks_of_one_name_would_overwrite_each_other(run: Run, here: Path) -> None:
    (here / "b").mkdir()
    for name in ("a.gpx", "b/A.csv"):
        (here / name).write_text("")

    assert refused(run, "a.gpx", "b/A.csv") == (
        "a.gpx: 2 tracks are named 'a', so their reports would overwrite one another. "
        "Rename one of them, or write them to different folders."
    )


def test_every_bad_track_of_several_has_its_line(run: Run, here: Path) -> None:
    (here / "a.gpx").write_text("")

    ran = run("report", "a.gpx", "b.gpx", *PROCEDURE)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err.splitlines() == [
        "a.gpx: the file is empty. Export the log again.",
        "b.gpx: there is no such file. Check the name.",
    ]
    assert everything_in(here) == ["a.gpx"]


def test_a_fault_of_the_program_is_one_line_with_its_place(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ValueError("two\nlines")

    monkeypatch.setattr("debrief.cli_report.read_track", broken)

    line = refused(run, CLEAN, *PROCEDURE)

    assert line.startswith(f"{CLEAN}: this cannot be done: ValueError, cli_report.py line ")
    assert line.endswith(
        ": two lines. That is a fault of debrief: please report it with what debrief --version says."
    )


def test_too_little_memory_is_no_fault_of_the_program(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr("debrief.cli_report.read_track", full)

    assert refused(run, CLEAN, *PROCEDURE) == (
        f"{CLEAN}: there is not enough memory for it. Close other programs, or cut the log shorter."
    )


def test_the_python_api_refuses_the_same_settings() -> None:
    from debrief import AltitudeCorrection

    with pytest.raises(TrackError, match=r"a QNH of 29\.92 hPa is out of range"):
        AltitudeCorrection(qnh_hpa=29.92)


def test_one_sidecar_is_for_one_track(run: Run) -> None:
    said = refused(run, CLEAN, SAMPLES / "lantern-wrong-side.gpx", "--sidecar", "a.toml")

    assert said == (
        "a.toml: one sidecar is given for 2 tracks. "
        "Give one track with --sidecar, or name each sidecar after its track and leave --sidecar out."
    )


def test_a_missing_sidecar_is_told_before_anything_is_written(run: Run) -> None:
    said = refused(run, CLEAN, *PROCEDURE, "--sidecar", "a.toml", "--out", "out")

    assert said == "a.toml: there is no such file. Give a sidecar file (.toml), or leave --sidecar out."


@pytest.mark.parametrize("path", ["."])
def test_a_path_without_a_name(run: Run, path: str) -> None:
    """The folder one stands in has no name of its own."""
    assert refused(run, path, *PROCEDURE) == ".: it is a folder, not a log. Give the file inside."


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ("--column", "latitude=3", "--column", "longitude=3"),
            (
                "{log}, line 2: --column longitude=3: this column was given for latitude, too. "
                "Give each its own column; one that holds both coordinates is --column position=HEADING."
            ),
        ),
        (
            ("--column", "latitude=3", "--column", "latitude=4"),
            "--column latitude is given twice: '3' and '4'. Leave out one of the two.",
        ),
        (
            ("--date", "0001-01-01"),
            "no flight is of the day 0001-01-01. Give a day of the years 1900 to 2199.",
        ),
        (
            ("--date", "9999-12-31"),
            "no flight is of the day 9999-12-31. Give a day of the years 1900 to 2199.",
        ),
    ],
)
def test_options_that_no_log_can_obey(run: Run, words: tuple[str, ...], line: str) -> None:
    log = SAMPLES / "brandel-sparse.csv"

    assert refused(run, log, *words) == line.format(log=log)


def test_a_name_with_nothing_but_dots(run: Run, here: Path) -> None:
    """The report of ..gpx went beside the folder that was asked for, under that folder's name."""
    (here / "..gpx").write_bytes(CLEAN.read_bytes())

    assert run("report", "..gpx", *PROCEDURE, "--out", "o").status == 0
    assert everything_in(here / "o") == ["debrief.json", "debrief.pdf", "debrief.png"]


def test_a_name_too_long_for_its_report(run: Run, here: Path) -> None:
    """A log may have a name of 255 bytes; its report would have one more. Making room, as was advised, is no help."""
    name = "x" * 251
    (here / f"{name}.gpx").write_bytes(CLEAN.read_bytes())

    line = refused(run, f"{name}.gpx", *PROCEDURE, "--out", "o")

    assert line.endswith(
        "cannot be written: File name too long. Give the log, or the folder, a shorter name."
    )


def test_a_key_without_a_name(run: Run) -> None:
    ran = run("keys", "new", ".", "--name", "Ann")

    assert (ran.status, ran.err) == (
        2,
        ".: it is there already. A key is never overwritten: give another name.\n",
    )
