"""``debrief plan`` as a user runs it."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from debrief.cli import app
from debrief.errors import OutputError, PlanError, ProcedureError

runner = CliRunner()
WINDY = ["plan", "lantern-vor-22", "--speed", "120", "--wind", "270/20"]


def test_the_card_is_printed() -> None:
    result = runner.invoke(app, WINDY)

    assert result.exit_code == 0
    assert result.stdout.startswith(
        "Plan card: Lantern VOR/DME runway 22\n120 kt indicated; wind from 270° true, 20 kt"
    )
    assert "Not for navigation" in result.stdout
    assert result.stderr == ""


def test_a_file_of_ones_own_and_every_option(tmp_path: Path) -> None:
    from tests.procedures.practice import VALID

    (tmp_path / "mine.toml").write_text(VALID)
    out = tmp_path / "cards"
    result = runner.invoke(
        app,
        [
            *(
                "plan",
                str(tmp_path / "mine.toml"),
                "--speed",
                "110-130",
                "--wind",
                "60/15",
                "--final-speed",
                "95",
            ),
            *("--arrival", "078", "--out", str(out), "--paper", "Letter"),
        ],
    )

    assert result.exit_code == 0
    assert "130 kt indicated, 95 kt on the final" in result.stdout
    assert "Arriving on 078°: turn left 34° onto 044°." in result.stdout
    assert result.stdout.splitlines()[-1] == f"wrote {out / 'mine-plan.pdf'}, {out / 'mine-plan.png'}"
    assert (out / "mine-plan.pdf").read_bytes().startswith(b"%PDF-")
    assert (out / "mine-plan.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    assert sorted(path.name for path in out.iterdir()) == ["mine-plan.pdf", "mine-plan.png"]


@pytest.mark.parametrize(
    ("arguments", "error", "line"),
    [
        (["nowhere", "--speed", "120"], ProcedureError, 'no procedure is called "nowhere". '),
        (["lantern-vor-22", "--speed", "x"], PlanError, 'the speed "x" cannot be read. '),
        (["lantern-vor-22", "--speed", "120", "--wind", "20"], PlanError, 'the wind "20" cannot be read. '),
        (
            ["lantern-vor-22", "--speed", "120", "--arrival", "N"],
            PlanError,
            'the arrival course "N" cannot be read. ',
        ),
        (
            ["lantern-vor-22", "--speed", "60", "--wind", "20/31"],
            PlanError,
            "a wind of 31 kt is more than half of 60 ",
        ),
    ],
)
def test_bad_input_is_one_clear_line(arguments: list[str], error: type[Exception], line: str) -> None:
    result = runner.invoke(app, ["plan", *arguments])

    assert isinstance(result.exception, error)
    assert str(result.exception).startswith(line)
    assert "\n" not in str(result.exception)
    assert result.stdout == ""


def test_where_nothing_can_be_written_nothing_is_printed(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file where a folder is wanted")
    result = runner.invoke(app, [*WINDY, "--out", str(tmp_path / "taken")])

    assert isinstance(result.exception, OutputError)
    assert result.stdout == ""
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
