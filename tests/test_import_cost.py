"""What importing costs: the help text must appear at once, so nothing heavy is loaded before it is needed."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = (
    "matplotlib",
    "scipy",
    "pandas",
    "numpy",
    "pyproj",
    "pygeomag",
    "gpxpy",
    "lxml",
    "pydantic",
    "sqlalchemy",
)


def loaded_by(code: str) -> set[str]:
    """Heavy libraries that a fresh interpreter has loaded after ``code``."""
    report = f"import sys\n{code}\nprint(*[name for name in {HEAVY!r} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", report], capture_output=True, text=True, check=True)
    return set(run.stdout.split())


def test_importing_the_package_loads_nothing_heavy():
    assert loaded_by("import debrief") == set()


def test_the_help_text_loads_nothing_heavy():
    assert loaded_by("import debrief.cli") == set()


@pytest.mark.parametrize("module", ["debrief.navigation.geodesy", "debrief.navigation.magnetism"])
def test_formulas_load_what_they_need_when_they_need_it(module):
    assert loaded_by(f"import {module}") <= {"numpy"}


def test_the_analysis_brings_no_tables_and_no_drawing():
    assert loaded_by("import debrief.pipeline").isdisjoint({"matplotlib", "pandas", "gpxpy", "lxml"})


def test_a_list_of_flights_loads_no_database_library(tmp_path):
    """SQLAlchemy takes longer to load than ten thousand flights to read."""
    add = f"from debrief.logbook import open_logbook; open_logbook({str(tmp_path / 'club.sqlite')!r})"
    assert "sqlalchemy" in loaded_by(add)

    code = f"from debrief.logbook.listing import listed; listed({str(tmp_path / 'club.sqlite')!r})"
    assert loaded_by(code) == set()


def test_the_check_sees_what_is_loaded():
    assert loaded_by("import numpy") == {"numpy"}
