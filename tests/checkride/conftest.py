"""A folder of submissions, and what it is graded by."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.checkride.task import Settings
from debrief.grading import load_standard
from debrief.procedures import bundled_procedures, load_procedure

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
MakeSettings = Callable[..., Settings]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three logs, two procedures, one failure."""
    made = tmp_path / "submissions"
    (made / "week 9").mkdir(parents=True)
    for name in ("frosthelm-late-turn.gpx", "lantern-wrong-side.gpx"):
        shutil.copy(SAMPLES / name, made / name)
    shutil.copy(SAMPLES / "brandel-sparse.csv", made / "week 9" / "brandel-sparse.csv")
    return made


@pytest.fixture
def settings(tmp_path: Path) -> MakeSettings:
    """Settings that write into a folder of their own."""

    def make(
        *,
        procedure: str | None = None,
        standard: str = "instrument-rating",
        out: str = "out",
        reports: str = "none",
    ) -> Settings:
        offered = (load_procedure(procedure),) if procedure else bundled_procedures()
        return Settings(
            procedures=offered,
            best_fit=procedure is None,
            standard=load_standard(standard),
            reports=reports,  # type: ignore[arg-type]  # a test may give any
            out=tmp_path / out,
        )

    return make
