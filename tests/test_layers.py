"""Imports run downwards only, read from the source: what would have to be undone is found before it is used."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "debrief"

#: Modules that stand right under the package and belong to a layer that is not named after them.
LAYER_OF = {
    "toml_file": "errors",  # how a file of ours is read, and its mistakes told
    "choice": "pipeline",  # which procedure: the pipeline's first part, tried on each
    "reference": "pipeline",  # its last part: the attempt again, without error
    "reference_plan": "pipeline",
    "cli_compare": "cli",
    "cli_logbook": "cli",
    "cli_options": "cli",
    "cli_grade": "cli",
    "cli_plan": "cli",
    "cli_procedures": "cli",
    "cli_report": "cli",
    "cli_serve": "cli",
    "cli_review": "cli",
    "cli_standards": "cli",
    "cli_terminal": "cli",
    "__main__": "cli",
}

#: What each layer may import, besides itself. A layer that is not here has no place in the house yet.
MAY_IMPORT = {
    "errors": set(),
    "language": {"errors"},
    "catalogue": {"errors", "language"},
    "result": {"errors"},
    "sidecar": {"errors", "result"},
    "navigation": {"errors"},
    "tracks": {"errors", "language", "navigation"},
    "procedures": {"errors", "language", "navigation"},
    "planning": {"errors", "language", "navigation", "procedures"},
    "simulation": {"errors", "navigation", "tracks", "procedures"},
    "phases": {"errors", "language", "result", "navigation", "tracks", "procedures"},
    "measures": {"errors", "language", "result", "navigation", "tracks", "procedures", "phases"},
    "grading": {"errors", "language", "result", "navigation", "tracks", "procedures", "phases", "measures"},
}
# invented flights are for tests, samples and the reference flight; nothing that finds, measures or judges sees them
ANALYSIS = set(MAY_IMPORT) - {"simulation"}
MAY_IMPORT["tables"] = set(ANALYSIS)
MAY_IMPORT["pipeline"] = ANALYSIS | {"simulation"}
MAY_IMPORT["comparison"] = {"errors"}
MAY_IMPORT["whole_files"] = {"errors", "tracks"}
MAY_IMPORT["reports"] = ANALYSIS | {"simulation", "pipeline", "tables", "comparison", "whole_files"}
MAY_IMPORT["logbook"] = ANALYSIS | {"pipeline", "reports", "whole_files"}
MAY_IMPORT["threads"] = set()
MAY_IMPORT["checkride"] = ANALYSIS | {"simulation", "pipeline", "reports", "tables", "whole_files", "threads"}
MAY_IMPORT["web"] = ANALYSIS | {
    "simulation",
    "pipeline",
    "reports",
    "tables",
    "comparison",
    "logbook",
    "checkride",
    "whole_files",
    "threads",
}
MAY_IMPORT["cli"] = MAY_IMPORT["web"] | {"web"}

#: The one import that runs upwards, inside methods only: a result shows itself as tables when it is asked to.
SHOWS_ITSELF = ("result", "tables")

# the package itself is the public face: it re-exports from everywhere
MODULES = sorted(set(PACKAGE.rglob("*.py")) - {PACKAGE / "__init__.py"})


def layer_of(name: str) -> str:
    """The layer of a folder or module right under the package."""
    return LAYER_OF.get(name, name)


def imported_names(source: str, package: tuple[str, ...], *, inside_functions: bool = True) -> set[str]:
    """Folders and modules of ours that a module imports anywhere in it, or only what it imports at once.

    ``package`` is the dotted name of the package the module lies in, for relative imports.
    """
    tree = ast.parse(source)
    deferred = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
    }
    nodes = [node for node in ast.walk(tree) if inside_functions or id(node) not in deferred]
    names = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            names |= {tuple(alias.name.split(".")) for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            base += tuple(node.module.split(".")) if node.module else ()
            names |= {(*base, alias.name) for alias in node.names}
    return {name[1] for name in names if name[0] == "debrief" and len(name) > 1} - {"__version__"}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_downwards(module):
    parts = module.relative_to(PACKAGE).parts
    layer = layer_of(parts[0].removesuffix(".py"))
    source = module.read_text(encoding="utf-8")
    imported = {layer_of(name) for name in imported_names(source, ("debrief", *parts[:-1]))} - {layer}

    assert layer in MAY_IMPORT, f"{layer} has no place among the layers"
    if layer == SHOWS_ITSELF[0]:
        at_once = {layer_of(name) for name in imported_names(source, ("debrief",), inside_functions=False)}
        assert SHOWS_ITSELF[1] not in at_once
        imported -= {SHOWS_ITSELF[1]}
    assert imported <= MAY_IMPORT[layer], f"{layer} imports upwards: {sorted(imported - MAY_IMPORT[layer])}"


def test_every_part_that_judges_knows_nothing_of_invented_flights_and_the_other_way_round():
    for part in ("phases", "measures", "grading"):
        assert "simulation" not in MAY_IMPORT[part]
        assert part not in MAY_IMPORT["simulation"]


def test_the_layers_have_no_cycle():
    placed: set[str] = set()
    while len(placed) < len(MAY_IMPORT):
        ready = {part for part, below in MAY_IMPORT.items() if part not in placed and below <= placed}
        assert ready, f"a cycle among {sorted(set(MAY_IMPORT) - placed)}"
        placed |= ready


@pytest.mark.parametrize(
    ("source", "parts"),
    [
        ("from debrief.phases.model import Flight", {"phases"}),
        ("import debrief.cli", {"cli"}),
        ("from debrief import pipeline", {"pipeline"}),
        ("from . import wind", {"measures"}),
        ("from ..grading import rules", {"grading"}),
        ("def f():\n    from debrief.reports.pages import draw", {"reports"}),
        ("import numpy as np", set()),
    ],
)
def test_an_import_is_seen_however_it_is_written(source, parts):
    """The twin of the walk: an upward import must not slip through it."""
    assert imported_names(source, ("debrief", "measures")) == parts


def test_an_import_inside_a_function_is_told_from_one_at_once():
    source = "import debrief.errors\ndef f():\n    import debrief.cli\n"

    assert imported_names(source, ("debrief",)) == {"errors", "cli"}
    assert imported_names(source, ("debrief",), inside_functions=False) == {"errors"}
