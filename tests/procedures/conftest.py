"""A folder to write procedure files into, and three of the bundled procedures."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.procedures import Procedure, load_procedure


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def lantern() -> Procedure:
    return load_procedure("lantern-vor-22")


@pytest.fixture
def frosthelm() -> Procedure:
    return load_procedure("frosthelm-vor-04")


@pytest.fixture
def dateline() -> Procedure:
    return load_procedure("dateline-ndb-35")
