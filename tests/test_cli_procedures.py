"""The commands about procedures, run as a user runs them."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from debrief.cli_procedures import app
from debrief.errors import OutputError
from debrief.procedures import bundled_procedures
from tests.procedures.practice import VALID

runner = CliRunner()


def test_without_a_command_the_bundled_procedures_are_listed() -> None:
    result = runner.invoke(app, [])

    lines = result.stdout.splitlines()
    assert result.exit_code == 0
    assert [line.split()[0] for line in lines] == [Path(p.file).stem for p in bundled_procedures()]
    said = {line.split()[0]: " ".join(line.split()[1:]) for line in lines}
    assert said["lantern-vor-22"] == "Lantern VOR/DME runway 22 VOR/DME LQN 45/180 left"
    assert said["brandel-vor-09"].endswith("straight in")
    assert said["gannetstone-vor-12"].endswith("by a DME arc")
    assert result.stderr == "All are invented for practice. Not for navigation.\n"


def test_show_briefs_a_procedure() -> None:
    result = runner.invoke(app, ["show", "lantern-vor-22"])

    assert result.exit_code == 0
    assert "Outbound: from LQN on radial 044 to 5.0 DME, at or above 2,800 ft.\n" in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 88
    assert result.stderr == ""


def test_show_draws_the_plan_when_asked(tmp_path: Path) -> None:
    picture = tmp_path / "plan.png"

    result = runner.invoke(app, ["show", "frosthelm-vor-04", "--picture", str(picture)])

    assert result.exit_code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert result.stderr == f"Written: {picture}\n"


def test_only_a_png_is_drawn(tmp_path: Path) -> None:
    result = runner.invoke(app, ["show", "lantern-vor-22", "--picture", str(tmp_path / "plan.pdf")])

    assert isinstance(result.exception, OutputError)
    assert str(result.exception) == (
        f"{tmp_path / 'plan.pdf'}: the picture is a PNG. Give a name that ends in .png."
    )
    assert result.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_check_says_that_a_file_is_valid(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text(VALID)

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.exit_code == 0
    assert result.stdout.splitlines() == [
        "p.toml: valid. Practice VOR/DME runway 22",
        (
            "Worth a second look: From 2,800 ft at the station to 50 ft over the threshold is a descent of 4.8 degrees; "
            "2.5 to 3.8 are usual."
        ),
    ]


def test_check_names_what_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text(VALID.replace('side = "left"', 'side = "port"'))

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.exit_code == 2
    assert result.stderr == (
        'p.toml, key leg 3 (course_reversal).side: "port" is not known. Allowed: "left", "right".\n'
    )
    assert result.stdout == ""


def test_check_names_every_mistake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = VALID.replace('side = "left"', 'sid = "left"').replace("within_nm = 10", 'within_nm = "ten"')
    Path("p.toml").write_text(wrong + "\n[missed]\n")

    result = runner.invoke(app, ["check", "p.toml"])

    first, second, third = result.stderr.splitlines()
    assert first == (
        "p.toml, key leg 3 (course_reversal).sid: the key is unknown. Did you mean side? Keys here: phase, pattern, side, "
        "within_nm, leg_seconds, max_speed_kias, when_straight_in_deg, altitude."
    )
    assert second.startswith(
        "p.toml, key missed: the key is unknown. Did you mean missed_approach? Keys here: "
    )
    assert third == (
        'p.toml, key leg 3 (course_reversal).within_nm: "ten" is not a number. Give a number, without quotes and unit.'
    )


def test_a_decimal_comma_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text('format = 1\nname = "P"\n\n[station]\nlatitude = 47,1234   # degrees\n')

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.stderr == (
        "p.toml, line 5: a number stands with a decimal comma. Write a point in its place: 47.1234.\n"
    )


def test_check_names_every_mistake_of_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One mistake at a time makes a pilot run the command once for each."""
    monkeypatch.chdir(tmp_path)
    wrong = VALID.replace('side = "left"', 'side = "port"').replace("within_nm = 10", "within = 10")
    Path("p.toml").write_text("sha256 = 3\n" + wrong.replace("latitude = 47.03", "latitude = 470.3"))

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        (
            "p.toml, key sha256: the key is unknown. Keys here: format, name, note, issued, station, runway, leg, "
            "other_station, arc, final_guidance, visual_segment, circling, missed_approach, hold."
        ),
        (
            "p.toml, key leg 3 (course_reversal).within: the key is unknown. Did you mean within_nm? Keys here: phase, "
            "pattern, side, within_nm, leg_seconds, max_speed_kias, when_straight_in_deg, altitude."
        ),
        "p.toml, key runway.latitude: 470.3 is out of range. Allowed: -90 to 90.",
        'p.toml, key leg 3 (course_reversal).side: "port" is not known. Allowed: "left", "right".',
    ]
    assert result.stdout == ""


def test_check_names_every_contradiction_of_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = VALID.replace("within_nm = 10", "within_nm = 4").replace(
        "at_or_above_ft = 1700", "at_or_above_ft = 900"
    )
    Path("p.toml").write_text(wrong.replace("radial_deg = 44", "radial_deg = 144"))

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        (
            "p.toml, key leg 2 (outbound).radial_deg: 144 lies 100 degrees from 44, the way back along the inbound course "
            "224; one of the two is wrong. In a 45/180 the two agree within a few degrees."
        ),
        (
            "p.toml, key leg 3 (course_reversal).within_nm: 4 leaves no room after an outbound leg to 5 DME. It counts from "
            "the station and holds the whole reversal."
        ),
        (
            "p.toml, key leg 5 (final).step_down 1.at_or_above_ft: 900 is not above the minimum of 980 ft. A step-down holds "
            "the aircraft above the minimum for a while."
        ),
    ]


def test_check_takes_a_file_that_is_not_toml(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("p.toml").write_text(VALID.replace("latitude = 47.03", "latitude = north"))

    result = runner.invoke(app, ["check", "p.toml"])

    assert result.exit_code == 2
    assert result.stderr == (
        "p.toml, line 15: this is not valid TOML: invalid value. "
        'A line reads key = value, a text stands in "quotes".\n'
    )


def test_an_ndb_has_bearings_and_no_radials() -> None:
    """A radial is a VOR's: of an NDB the trade knows bearings (QDR, QDM). Common practice."""
    shown = runner.invoke(app, ["show", "brandel-ndb-27"])

    assert shown.exit_code == 0
    assert "Outbound: from BQD on bearing 091 " in shown.stdout.replace("\n", " ")
    assert "radial" not in shown.stdout
