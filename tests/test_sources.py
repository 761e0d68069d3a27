"""Where the published values come from: each has a source with a mark, and what is only remembered is listed."""

from __future__ import annotations

import re
import tokenize
import tomllib
from collections import Counter
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "debrief"
MODULES = sorted(PACKAGE.rglob("*.py"))
TABLES = sorted(PACKAGE.rglob("*.toml"))
STANDARDS = sorted((PACKAGE / "grading" / "standards").glob("*.toml"))
NAVIGATION = sorted((PACKAGE / "navigation").glob("*.py"))

#: What no text was opened for, by the module and by words that stand just before the mark. This list may only get
#: shorter: look the value up, change its mark to ``seen`` with the place, and take it off.
FROM_MEMORY = {
    ("checkride/keys.py", "RFC 8032 (Ed25519); RFC 5958, 8410"),
    ("comparison/conditions.py", "W. H. Greene, Econometric"),
    ("comparison/differences.py", "P. H. Westfall, S. S. Young"),
    ("comparison/hard.py", "E. B. Wilson, J. American Statistical"),
    ("comparison/intervals.py", "J. W. Pratt, J. Royal Statistical"),
    ("comparison/over_time.py", "NIST/SEMATECH e-Handbook, 6.3.2.2"),
    ("comparison/over_time.py", "Western Electric handbook"),
    ("comparison/over_time.py", "Statistical Power Analysis for the Behavioral"),
    ("comparison/pooling.py", "H. D. Patterson, R. Thompson, Biometrika 58"),
    ("comparison/pooling.py", "The Advanced Theory of Statistics 1, 12.10"),
    ("comparison/pooling.py", "G. E. P. Box"),
    ("grading/assessment.py", "JCGM 106:2012, 8.3.3 (the clause"),
    ("measures/racetrack_leg.py", "where that comes later: ICAO Doc 8168 Vol I, I-4-3"),
    ("measures/uncertainty.py", "JCGM 100:2008: independent parts add as squares"),
    ("measures/uncertainty.py", "Air warmer or colder than standard"),
    ("measures/log_errors.py", "forgets itself over about this time."),
    ("measures/moments.py", "What is read as it passes a limit"),
    ("measures/uncertainty.py", "An airspeed column: rounding, and what a pilot reads."),
    ("measures/wind_circle.py", "G. Taubin, IEEE Trans. Pattern Analysis 13 (1991)"),
    ("measures/wind_circle.py", "H. D. Patterson and R. Thompson, Biometrika 58 (1971)"),
    ("navigation/atmosphere.py", "ICAO Doc 7488 / ISO 2533"),
    ("navigation/intervals.py", "JCGM 100:2008, 4.3.7"),
    ("navigation/intervals.py", "G. Blom, Statistical Estimates"),
    ("navigation/geodesy.py", "C. F. F. Karney, Algorithms for geodesics"),
    ("navigation/magnetism.py", "The model's published uncertainty is one standard deviation"),
    ("navigation/radials.py", "A receiver shows neither TO nor FROM"),
    ("navigation/turns.py", "Rate one: 360 degrees in two minutes."),
    ("pipeline.py", "beyond the records at sea level"),
    ("procedures/entries.py", "Entry sectors of 70 and 110 deg"),
    ("procedures/guidance.py", "700 ft from stop to stop at the threshold"),
    ("procedures/guidance.py", "A satellite course on a non-precision final"),
    ("planning/pattern.py", "Wind allowed for in heading and time"),
    ("planning/pattern.py", "timing starts abeam the station"),
    ("procedures/remarks.py", "beyond it a procedure has circling minima only"),
    ("procedures/remarks.py", "a station's alignment is often 1 to 3 degrees from today's variation"),
    ("reports/annotated/gpx.py", "Mark: seen (wording)"),
    ("reports/annotated/kml.py", "``altitudeMode`` is ``absolute``"),
    ("reports/annotated/geojson.py", "cut in two: section 3.1.9"),
    ("reports/method.py", "JCGM 106:2012 (its terms seen, clause numbers"),
    ("reports/style.py", "M. Okabe and K. Ito, Color Universal Design (2008)"),
    ("simulation/aircraft.py", "The standard atmosphere's density up to 11 km"),
    ("tracks/altitude.py", "Annex 10 Vol IV"),
    ("tracks/altitude.py", "the geoid's greatest distance"),
    ("tracks/points.py", "radii of curvature: any text on geodesy"),
    ("tracks/readers/csv_values.py", "longitude first, by its standard"),
    ("tracks/readers/gpx_parse.py", "An extension whose schema states the units"),
    ("tracks/readers/igc.py", "H and I records and the units of what they add"),
    ("tracks/readers/kml.py", "``absolute`` ones above the sea"),
    ("tracks/smoothing.py", "P. H. C. Eilers and B. D. Marx"),
    ("web/accounts.py", "OWASP ASVS 4.0.3, 2.1 (passwords)"),
    ("web/guard.py", "OWASP ASVS 4.0.3, 4.1 and 4.2"),
    ("web/headers.py", "OWASP ASVS 4.0.3, 12.1 (sizes)"),
    ("web/sessions.py", "OWASP ASVS 4.0.3, 2.2 (failed attempts)"),
}

MARKED = re.compile(r"(?:(?:mark|number)\b[^.;]{0,20}:|\bfrom|;\s+\w+)\s+memory\b", re.IGNORECASE)
BEFORE = 400  # letters before a mark among which its words stand
SOURCE = re.compile(r"\bSource(?::|\s{2,})")
MARK = re.compile(r"\bmarks?\b[^.;]{0,20}:\s+(?:seen|memory|common practice)", re.IGNORECASE)
#: What needs no mark: it follows from first principles, or the definition is our own.
OUR_OWN = ("by definition", "geometry", "any mechanics text", "DEVELOPERS.md")


def blocks(path: Path) -> Iterator[str]:
    """The comments and texts of a module, each as it would be read: lines that belong together as one."""
    comment: list[str] = []
    last = 0
    with path.open("rb") as file:
        for token in tokenize.tokenize(file.readline):
            if token.type == tokenize.COMMENT:
                if comment and token.start[0] > last + 1:
                    yield " ".join(comment)
                    comment = []
                comment.append(token.string.lstrip("#: "))
                last = token.start[0]
            elif token.type == tokenize.STRING:
                yield token.string
    yield " ".join(comment)


def memory_marks(path: Path) -> Iterator[str]:
    """The words before each mark that says a value comes from memory."""
    for block in blocks(path):
        text = " ".join(block.split())
        end = 0
        for found in MARKED.finditer(text):
            yield text[max(end, found.start() - BEFORE) : found.start()]
            end = found.end()


def every_memory_mark() -> list[tuple[str, str]]:
    """Module and words of every value that comes from memory, in code and in tables."""
    marks = [(str(path.relative_to(PACKAGE)), words) for path in MODULES for words in memory_marks(path)]
    for path in TABLES:
        lines = path.read_text(encoding="utf-8").splitlines()
        marks += [(str(path.relative_to(PACKAGE)), line) for line in lines if re.search(r"\bmemory\b", line)]
    return marks


def test_what_comes_from_memory_is_listed_and_the_list_holds_nothing_else():
    listed = Counter[tuple[str, str]]()
    unlisted = []
    for module, words in every_memory_mark():
        entries = [entry for entry in FROM_MEMORY if entry[0] == module and entry[1] in words]
        listed.update(entries)
        if not entries:
            unlisted.append((module, words[-80:]))

    assert not unlisted, "a value from memory: look it up and give its source"
    assert not FROM_MEMORY - set(listed), "no longer from memory: take it off the list"
    assert not [entry for entry, times in listed.items() if times > 1], "these words stand before two marks"


@pytest.mark.parametrize("path", NAVIGATION, ids=lambda path: path.name)
def test_each_source_of_a_formula_has_its_mark(path: Path):
    for block in blocks(path):
        for source in SOURCE.split(block)[1:]:
            assert MARK.search(source) or any(words in source for words in OUR_OWN), source


def sources_in(value: object) -> Iterator[dict[str, str]]:
    """Every ``source`` in a TOML document, however deep."""
    if isinstance(value, dict):
        if isinstance(value.get("source"), dict):
            yield value["source"]
        yield from chain.from_iterable(sources_in(inner) for inner in value.values())
    elif isinstance(value, list):
        yield from chain.from_iterable(sources_in(inner) for inner in value)


@pytest.mark.parametrize("path", STANDARDS, ids=lambda path: path.stem)
def test_each_limit_of_a_standard_has_its_source_and_mark(path: Path):
    """Read without the model that checks a standard: a model that forgot to ask would be found out here."""
    standard = tomllib.loads(path.read_text(encoding="utf-8"))

    optional = [standard[name] for name in ("adding", "excursion") if name in standard]
    tables = [
        standard,
        standard["joining"],
        standard["assessable"],
        standard["gates"],
        *optional,
        *standard["rule"],
    ]
    for table in tables:
        assert table["source"]["title"]
    sources = list(sources_in(standard))
    assert len(sources) == len(tables)
    for source in sources:
        assert source["mark"] in ("seen", "seen (2nd hand)", "memory", "common practice"), source


@pytest.mark.parametrize(
    ("source", "marks"),
    [
        ("#: Rate one. Mark: memory (all handbooks).\nX = 3\n", ["Rate one. "]),
        (
            '"""A. Mark: seen. B.\n   Mark:\n   memory. C (mark: memory)."""\n',
            ['"""A. Mark: seen. B. ', ". C ("],
        ),
        ("X = 1  # first line\n# of one mark. Mark: memory\n", ["first line of one mark. "]),
        ("# (the clause number: memory)\n", ["(the clause "]),
        ("# Mark: seen (wording); ranges memory.\n", ["Mark: seen (wording)"]),
        ('"""Read in bounded memory: memory is dear."""\nKIND = "memory"\n', []),
    ],
)
def test_a_mark_is_found_however_it_is_written(tmp_path: Path, source: str, marks: list[str]):
    """The twin of the search: a mark must not slip through it."""
    path = tmp_path / "module.py"
    path.write_text(source, encoding="utf-8")

    assert list(memory_marks(path)) == marks
