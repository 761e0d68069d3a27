"""The sample club and its comparison, as the README shows them: made by two commands, and the same as in reports/."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from debrief.reports.examples import difference

ROOT = Path(__file__).parents[2]


def test_the_sample_club_of_the_readme_is_what_the_program_makes(tmp_path: Path):
    book = str(tmp_path / "club.sqlite")
    for words in (
        ["logbook", "sample", "--logbook", book],
        ["compare", "--procedure", "lantern-vor-22", "--logbook", book, "--out", str(tmp_path / "club")],
    ):
        run = subprocess.run(
            [sys.executable, "-m", "debrief", *words], cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert (run.returncode, run.stderr) == (0, "")

    fresh, shown = (
        json.loads((folder / "comparison.json").read_text(encoding="utf-8"))
        for folder in (tmp_path / "club", ROOT / "reports" / "club")
    )
    assert difference(shown, fresh) is None
    assert len(fresh["pilots"]) == 5
    assert fresh["flights"] == 40
    differing = {
        row["pilot"]
        for measure in fresh["measures"]
        for row in measure["pilots"]
        if row["differs"] is not None
    }
    assert differing <= {"Petrel", "Sandpiper", "Curlew", "Turnstone"}
    assert "Turnstone" in differing  # flies out 0.9 NM too far, each time
