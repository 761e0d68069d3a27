"""The command as a user runs it, in this process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from debrief.cli import main

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
CLEAN = SAMPLES / "lantern-clean.gpx"


@dataclass(frozen=True)
class Ran:
    """What one call of the command left behind."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*words: str | Path) -> Ran:
        with pytest.raises(SystemExit) as left:
            main([str(word) for word in words])
        assert isinstance(left.value.code, int)
        said = capsys.readouterr()
        return Ran(left.value.code, said.out, said.err)

    return call


def everything_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))
