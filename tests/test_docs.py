"""The README and DEVELOPERS.md against the code: what they name exists, and what exists is named."""

from __future__ import annotations

import dataclasses
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
import typer.main
from pydantic import BaseModel
from pypdf import PdfReader

from debrief import read_track
from debrief.cli import app, main
from debrief.grading import bundled_standards
from debrief.grading.standard import RuleName, Standard
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.model import Phase
from debrief.procedures.toml_reader import FILLED_BY_READER
from debrief.reports.annotated import FORMATS
from debrief.result import Result
from debrief.sidecar import read_sidecar
from debrief.tables import SAMPLE_COLUMNS
from debrief.tracks.readers.csv_words import NAMES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PAGES = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}
CODE = [*sorted((ROOT / "debrief").rglob("*.py")), *sorted((ROOT / "tests").rglob("*.py"))]


def headings(page: str) -> list[str]:
    """The headings of a page, without their numbers."""
    text = re.sub(r"^```.*?^```", "", page, flags=re.DOTALL | re.MULTILINE)
    return re.findall(r"^#+ (?:\d+\. )?(.+)$", text, flags=re.MULTILINE)


def section(heading: str) -> str:
    """The part of DEVELOPERS.md under a heading, down to the next one of its level or a higher one."""
    found = re.search(rf"^(#+) {re.escape(heading)}$", DEVELOPERS, flags=re.MULTILINE)
    assert found is not None, heading
    rest = DEVELOPERS[found.end() :]
    after = re.search(rf"^#{{1,{len(found[1])}}} ", rest, flags=re.MULTILINE)
    return rest[: after.start()] if after else rest


def named(text: str) -> set[str]:
    """Every name that stands as code in a text, quotation marks and values left out."""
    return set(re.findall(r"[A-Za-z_][\w-]*", " ".join(re.findall(r"`([^`]+)`", text))))


def fences(page: str, language: str) -> list[str]:
    """The blocks of a language."""
    return re.findall(rf"^```{language}\n(.*?)^```", page, flags=re.DOTALL | re.MULTILINE)


def keys_of(model: type) -> set[str]:
    """Every key of a dataclass or a pydantic model and of those inside it."""
    keys, seen, waiting = set(), set(), [model]
    while waiting:
        kind = waiting.pop()
        if kind in seen:
            continue
        seen.add(kind)
        waiting += get_args(kind)
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            shown = {name: field for name, field in kind.model_fields.items() if not field.exclude}
            keys |= set(shown)
            waiting += [field.annotation for field in shown.values() if field.annotation is not None]
        elif isinstance(kind, type) and dataclasses.is_dataclass(kind):
            keys |= {field.name for field in dataclasses.fields(kind)}
            waiting += get_type_hints(kind).values()
    return keys


def test_what_a_module_points_to_stands_in_developers_md():
    known = headings(DEVELOPERS)
    pointed = {
        (heading, path.name)
        for path in CODE
        for heading in re.findall(
            r"DEVELOPERS\.md, \"?([A-Z][a-z]+(?: file)?)", " ".join(path.read_text(encoding="utf-8").split())
        )
    }

    assert len(pointed) > 10
    assert not [(heading, name) for heading, name in pointed if not any(k.startswith(heading) for k in known)]


def test_the_result_file_is_described_key_by_key():
    missing = keys_of(Result) - {"flight", "path"} - named(section("Result file"))

    assert not missing


def test_the_procedure_file_is_described_key_by_key():
    missing = keys_of(Procedure) - set(FILLED_BY_READER) - named(section("Procedure file"))

    assert not missing - {"leg", "station", "runway"}


def test_the_standards_file_is_described_key_by_key():
    assert not keys_of(Standard) - {"gates"} - named(section("Rules"))


def test_every_rule_phase_and_column_has_its_row():
    def rows(heading: str) -> set[str]:
        return named("\n".join(re.findall(r"^\| ([^|]*`[^|]*) \|", section(heading), flags=re.MULTILINE)))

    assert set(get_args(RuleName)) <= rows("Rules")
    assert {phase.value for phase in Phase} == rows("Phases")
    assert set(SAMPLE_COLUMNS) == rows("Samples")


def test_the_readme_names_each_phase_standard_and_column():
    assert all(f"| {phase.value.replace('_', ' ')} |" in README for phase in Phase)
    assert set(bundled_standards()) == set(re.findall(r"^\| `([a-z-]+)` \|", README, flags=re.MULTILINE))
    names = README.partition("The names are ")[2].partition(".")[0]
    assert set(re.findall(r"`(\w+)`", names)) == set(NAMES)


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page: str):
    for target in re.findall(r"\]\(([^)]+)\)", PAGES[page]):
        file, _, heading = target.partition("#")
        assert not file or (ROOT / file).exists(), target
        known = {title.lower().replace(" ", "-") for title in headings(PAGES.get(file or page, ""))}
        assert not heading or heading in known, target


def commands(page: str) -> Iterator[list[str]]:
    """Every call of the program that a page shows."""
    lines = [line for block in fences(page, "sh") for line in block.splitlines()]
    for line in lines + re.findall(r"`((?:bash \.ci/venv )?debrief [^`]+)`", page):
        words = shlex.split(line, comments=True)
        words = words[2:] if words[:2] == ["bash", ".ci/venv"] else words
        if words[:1] == ["debrief"]:
            yield words[1:]


@pytest.mark.parametrize("page", PAGES)
def test_every_command_and_option_exists(page: str):
    shown = list(commands(PAGES[page]))
    assert shown
    for words in shown:
        command = typer.main.get_command(app)
        while words and words[0] in getattr(command, "commands", {}):
            command = command.commands[words[0]]  # type: ignore[attr-defined]
            words = words[1:]
        options = {text for parameter in command.params for text in parameter.opts} | {"--help"}
        assert {word for word in words if word.startswith("-")} <= options, words


def commands_and_options() -> tuple[set[str], set[str]]:
    """Every command of the program, with those above it, and every long option of any."""
    waiting, names, options = [("debrief", typer.main.get_command(app))], set(), set()
    while waiting:
        name, command = waiting.pop()
        names.add(name)
        waiting += [(f"{name} {part}", one) for part, one in getattr(command, "commands", {}).items()]
        options |= {text for parameter in command.params for text in parameter.opts if text.startswith("--")}
    return names, options


def test_every_option_the_readme_explains_exists():
    assert set(re.findall(r"`(--[a-z-]+)", README)) <= commands_and_options()[1] | {"--help", "--dev"}


def test_every_command_option_and_bundled_procedure_stands_in_the_readme():
    names, options = commands_and_options()

    assert len(names) > 4
    assert not [name for name in names if f"{name} " not in README and f"{name}`" not in README]
    assert not [option for option in options if not re.search(rf"{option}(?![\w-])", README)]
    assert not [one.file for one in bundled_procedures() if f"`{Path(one.file).stem}`" not in README]


COUNTS = dict(
    enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
        ]
    )
)


def test_the_readme_counts_the_pages_of_the_reports_it_shows():
    shown = re.findall(r"The first of (\w+) pages \(\[whole report\]\(([^)]+)\)\)", README)

    assert len(shown) == 2
    for count, file in shown:
        assert count == COUNTS[len(PdfReader(ROOT / file).pages)], file


def test_the_readme_counts_the_sample_tracks():
    tracks = [path for path in (ROOT / "sample_tracks").iterdir() if path.suffix in (".gpx", ".csv")]

    assert f"{COUNTS[len(tracks)].capitalize()} [sample tracks]" in README


def test_the_readme_names_every_file_that_also_makes():
    assert f"`--also {','.join(FORMATS)}`" in README


def test_the_first_command_of_the_readme_does_what_it_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(ROOT)
    words = next(commands(README))
    at = words.index("--out") + 1

    with pytest.raises(SystemExit) as left:
        main([*words[:at], str(tmp_path), *words[at + 1 :]])

    assert words[:2] == ["report", "sample_tracks/lantern-wrong-side.gpx"]
    assert left.value.code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        f"lantern-wrong-side.{kind}" for kind in ("json", "pdf", "png")
    ]


def test_the_plan_of_the_readme_is_printed(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    words = next(words for words in commands(README) if words[0] == "plan")
    at = words.index("--out") + 1

    with pytest.raises(SystemExit) as left:
        main([*words[:at], str(tmp_path), *words[at + 1 :]])

    assert left.value.code == 0
    assert "Lantern VOR/DME runway 22" in capsys.readouterr().out
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".pdf", ".png"]


def test_the_example_files_can_be_read(tmp_path: Path):
    procedure, log = tmp_path / "my-approach.toml", tmp_path / "evening.csv"
    (own_words, toml), (csv,) = fences(README, "toml"), fences(README, "csv")
    log.with_suffix(".toml").write_text(own_words, encoding="utf-8")
    procedure.write_text(toml, encoding="utf-8")
    log.write_text(csv, encoding="utf-8")

    assert all(dataclasses.astuple(read_sidecar(log.with_suffix(".toml"))))
    assert load_procedure(procedure).station_on_aerodrome
    assert len(read_track(log)) == 2
    assert not read_track(log).assumed


def test_ci_ends_with_the_readmes_test_command():
    last = (ROOT / ".ci" / "run").read_text(encoding="utf-8").strip().splitlines()[-1]

    assert last in [line for block in fences(README, "sh") for line in block.splitlines()]
