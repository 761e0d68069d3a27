"""Elsewhere and back, measured again, checked, migrated: nothing is lost on the way."""

from __future__ import annotations

import base64
import json
import sqlite3
import zipfile
import zlib
from pathlib import Path

import pytest

from debrief.errors import LogbookError, OutputError
from debrief.logbook import (
    Entry,
    Logbook,
    add_flight,
    approaches,
    flights,
    open_logbook,
    original,
    pilots,
    tables,
)
from debrief.logbook.keeping import backup, check, refresh
from debrief.logbook.looking import stored_json
from debrief.logbook.migrating import bring_up_to_date
from debrief.logbook.opening import Logbook as Opened
from debrief.logbook.opening import _connected, writing
from debrief.logbook.portable import export_to, import_from
from debrief.logbook.removing import remove, set_alias
from debrief.logbook.watching import finished_logs
from tests.logbook.conftest import entry_of
from tests.logbook.postgres import Server

SCHEMAS = ("0001",)  # every earlier one


@pytest.fixture
def filled(any_book: Logbook, clean: Entry, wrong_side: Entry) -> Logbook:
    """Three flights of two pilots, one with an alias; one flight removed."""
    add_flight(any_book, clean, "Wren")
    number = add_flight(any_book, wrong_side, "Heron").flight
    add_flight(any_book, entry_of("lantern-no-approach.gpx"), "Wren")
    set_alias(any_book, "Wren", "Grey")
    remove(any_book, [number])
    return any_book


def contents(book: Logbook) -> list[object]:
    """All that is in a logbook, but for the numbers."""
    rows = sorted((*flights(book), *flights(book, removed=True)), key=lambda row: row.sha256)
    told = [
        (row.pilot, row.procedure, row.started, row.grade, row.remark, row.added, row.removed) for row in rows
    ]
    files = [(row.file, original(book, row.number).content, stored_json(book, row.number)) for row in rows]
    flown = [(one.pilot, dict(one.measures), one.items, one.packed_path) for one in approaches(book)]
    return [*told, *files, *flown]


def test_an_export_brings_everything_to_another_logbook(filled: Logbook, tmp_path: Path):
    file = tmp_path / "club.zip"
    assert export_to(filled, file) == 3
    other = open_logbook(tmp_path / "other.sqlite")

    assert list(import_from(other, file)) == ["added"] * 3

    assert contents(other) == contents(filled)
    assert [row.alias for row in pilots(other)] == [None, "Grey"]
    assert list(import_from(other, file)) == ["already there", "brought back", "already there"]
    assert check(other) == ()


def test_from_a_file_to_the_database_and_back(book: Logbook, shared: Logbook, clean: Entry, tmp_path: Path):
    add_flight(book, clean, "Wren")
    export_to(book, tmp_path / "one.zip")
    list(import_from(shared, tmp_path / "one.zip"))
    export_to(shared, tmp_path / "two.zip")

    back = open_logbook(tmp_path / "back.sqlite")
    list(import_from(back, tmp_path / "two.zip"))
    assert contents(back) == contents(book) == contents(shared)


def test_one_pilots_flights_can_be_taken_out_alone(filled: Logbook, tmp_path: Path):
    assert export_to(filled, tmp_path / "heron.zip", pilot="Heron") == 1

    with zipfile.ZipFile(tmp_path / "heron.zip") as archive:
        assert b"Wren" not in b"".join(archive.read(name) for name in archive.namelist())


def test_somebody_elses_flight_does_not_stop_the_others(
    book: Logbook, clean: Entry, wrong_side: Entry, tmp_path: Path
):
    add_flight(book, clean, "Wren")
    add_flight(book, wrong_side, "Wren")
    export_to(book, tmp_path / "club.zip")
    other = open_logbook(tmp_path / "other.sqlite")
    add_flight(other, clean, "Heron")

    said, done = list(import_from(other, tmp_path / "club.zip"))
    assert "this flight is in the logbook already, as flight 1 of Heron" in said
    assert done == "added"


@pytest.mark.parametrize("damage", ["cut", "text", "log", "missing", "format", "nan", "name"])
def test_a_damaged_export_is_refused_in_one_line(book: Logbook, clean: Entry, tmp_path: Path, damage: str):
    add_flight(book, clean, "Wren")
    good, bad = tmp_path / "good.zip", tmp_path / "bad.zip"
    export_to(book, good)
    if damage == "cut":
        bad.write_bytes(good.read_bytes()[:-200])
    elif damage == "text":
        bad.write_text("not an archive")
    else:
        with zipfile.ZipFile(good) as source, zipfile.ZipFile(bad, "w") as target:
            for name in source.namelist():
                content = source.read(name)
                if damage == "missing" and name.endswith("result.json"):
                    continue
                if damage == "log" and name.endswith("/log"):
                    content = content[:-1] + b"!"
                if damage == "format" and name == "logbook.json":
                    content = b'{"format": 2, "flights": 1}'
                if name.endswith("flight.json"):
                    about = json.loads(content)
                    if damage == "name":
                        about["pilot"] = "\x1b[31m"
                    if damage == "nan":
                        about["flight"]["first_latitude"] = float("nan")
                    content = json.dumps(about).encode()
                target.writestr(name, content)
    other = open_logbook(tmp_path / "other.sqlite")

    with pytest.raises(LogbookError) as refused:
        list(import_from(other, bad))

    assert "\n" not in str(refused.value)
    assert flights(other) == ()
    assert check(other) == ()


SWELLING = zlib.compress(b"[" + b"[0,0,0]," * 200_000 + b"[0,0,0]]", 9)
WRONGLY_TOLD = {
    "attempts.0.measures.outbound.length_nm": "five",
    "attempts.0.items": [["outbound_time"]],
    "attempts.0.started": "2025-01-01T10:00:00",  # of which day and night?
    "attempts.0.path": base64.b64encode(SWELLING).decode(),
    "attempts.0.number": 10**30,
    "attempts.0.wind_speed_kt": "calm",
    "flight.first_latitude": 10**400,
    "flight.ended": None,
    "flight.reading": "as always",
    "procedure.content": {"name": "of another kind"},
    "standard.content": [],
}


@pytest.mark.parametrize("key", WRONGLY_TOLD)
def test_what_no_comparison_could_use_is_refused_when_it_comes(
    book: Logbook, clean: Entry, tmp_path: Path, key: str
):
    add_flight(book, clean, "Wren")
    good, bad = tmp_path / "good.zip", tmp_path / "bad.zip"
    export_to(book, good)
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(bad, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            if name.endswith("flight.json"):
                about = json.loads(content)
                part, *rest = key.split(".")
                into = about[part][int(rest.pop(0))] if part == "attempts" else about[part]
                if rest[0] == "measures":
                    into = into[rest.pop(0)]
                into[".".join(rest)] = WRONGLY_TOLD[key]
                content = json.dumps(about).encode()
            target.writestr(name, content)
    other = open_logbook(tmp_path / "other.sqlite")

    with pytest.raises(LogbookError, match="it is no export, or damaged: ") as refused:
        list(import_from(other, bad))

    assert "\n" not in str(refused.value)
    assert flights(other) == ()


def test_an_export_that_cannot_be_written_leaves_nothing(book: Logbook, clean: Entry, tmp_path: Path):
    add_flight(book, clean, "Wren")
    with pytest.raises(OutputError):
        export_to(book, tmp_path / "no such folder" / "club.zip")

    assert sorted(path.name for path in tmp_path.iterdir() if "club.sqlite" not in path.name) == []


def test_a_backup_opens_as_the_logbook_it_was(filled: Logbook, tmp_path: Path):
    copy = tmp_path / "copy"
    backup(filled, copy)

    if filled.shared:
        other = open_logbook(tmp_path / "other.sqlite")
        list(import_from(other, copy))
    else:
        assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith("copy")) == ["copy"]
        other = open_logbook(copy)
    assert contents(other) == contents(filled)


def test_a_backup_onto_itself_is_refused(book: Logbook):
    assert book.file is not None
    with pytest.raises(OutputError, match="this is the logbook itself"):
        backup(book, book.file)


def test_a_refresh_measures_again_what_another_version_measured(filled: Logbook):
    before = contents(filled)
    with writing(filled) as connection:
        flight, result = tables.flight, tables.result
        connection.execute(
            flight.update().where(flight.c.id != 2).values(program="debrief 0.0.1", grade=None, remark="old")
        )
        connection.execute(result.update().values(content=zlib.compress(b"{}")))
        connection.execute(tables.attempt.delete())

    done = list(refresh(filled))

    assert [(one.flight, one.mistake) for one in done] == [(1, ""), (3, "")]
    assert list(refresh(filled)) == []
    assert [one.flight for one in refresh(filled, everything=True)] == [1, 2, 3]
    assert contents(filled) == before


def test_a_log_that_this_version_cannot_use_keeps_its_old_result(book: Logbook, clean: Entry):
    add_flight(book, clean, "Wren")
    before = stored_json(book, 1)
    with writing(book) as connection:
        connection.execute(tables.original.update().values(content=zlib.compress(b"no log at all")))

    (done,) = refresh(book, everything=True)

    assert done.mistake
    assert stored_json(book, 1) == before


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("DELETE FROM original WHERE flight_id = 1", "flight 1: its original is missing"),
        ("UPDATE original SET content = x'00' WHERE flight_id = 1", "flight 1: it cannot be read back"),
        (
            "DELETE FROM attempt WHERE flight_id = 1",
            "flight 1: its result has 1 approaches, 1 are said, 0 stored",
        ),
        ("UPDATE flight SET sha256 = 'x' WHERE id = 1", "flight 1: the log is not the one that was measured"),
    ],
)
def test_a_check_finds_what_is_wrong(book: Logbook, clean: Entry, sql: str, said: str):
    add_flight(book, clean, "Wren")
    assert check(book) == ()
    with writing(book) as connection:
        connection.exec_driver_sql(sql)

    (found,) = check(book)
    assert found.startswith(said)


def old_logbook(address: str, schema: str, flights_of: Logbook) -> None:
    """A logbook of an earlier schema that holds all that this one does."""
    old: Opened = _connected(address)
    bring_up_to_date(old, schema)
    with flights_of.engine.connect() as source, writing(old) as target:
        for table in tables.metadata.sorted_tables:
            if table.name == "member":
                continue
            rows = [dict(row._mapping) for row in source.execute(table.select())]
            if rows:
                target.execute(table.insert(), rows)
    old.engine.dispose()


@pytest.mark.parametrize("schema", SCHEMAS)
def test_every_earlier_file_opens_and_migrates_with_a_copy_kept(
    book: Logbook, clean: Entry, tmp_path: Path, schema: str
):
    add_flight(book, clean, "Wren")
    file = tmp_path / "old.sqlite"
    old_logbook(str(file), schema, book)

    opened = open_logbook(file)

    assert contents(opened) == contents(book)
    assert check(opened) == ()
    kept = tmp_path / f"old.sqlite.schema-{schema}"
    with sqlite3.connect(kept) as raw:
        assert raw.execute("SELECT version_num FROM logbook_schema").fetchall() == [(schema,)]
        assert raw.execute("SELECT file FROM flight").fetchall() == [("lantern-clean.gpx",)]
    raw.close()
    add_flight(opened, entry_of("lantern-wrong-side.gpx"), "Wren")


@pytest.mark.parametrize("schema", SCHEMAS)
def test_every_earlier_database_migrates_too(server: Server, book: Logbook, clean: Entry, schema: str):
    add_flight(book, clean, "Wren")
    name = server.new_database()
    old_logbook(server.address(name), schema, book)

    opened = open_logbook(server.address(name))

    assert contents(opened) == contents(book)
    assert server.ask(f'SELECT file FROM "logbook_{schema}".flight', name) == [("lantern-clean.gpx",)]
    opened.engine.dispose()


def test_a_migration_that_breaks_off_changes_nothing(
    book: Logbook, clean: Entry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    add_flight(book, clean, "Wren")
    file = tmp_path / "old.sqlite"
    old_logbook(str(file), "0001", book)
    monkeypatch.setattr("alembic.operations.Operations.create_table", _power_cut)

    with pytest.raises(KeyboardInterrupt):
        open_logbook(file)

    monkeypatch.undo()
    with sqlite3.connect(file) as raw:
        assert raw.execute("SELECT version_num FROM logbook_schema").fetchall() == [("0001",)]
    raw.close()
    assert contents(open_logbook(file)) == contents(book)


def _power_cut(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


def test_a_log_is_given_once_it_is_finished(tmp_path: Path):
    """A clock of the test's own: the file grows twice, then rests; an old one and an unfinished one are passed over."""
    clock = {"s": 0.0}
    (tmp_path / "old.gpx").write_text("old")
    (tmp_path / "half.gpx.part").write_text("half")
    log = tmp_path / "new.gpx"
    happens = {
        3: lambda: log.write_text("a"),
        6: lambda: log.write_text("ab"),
        30: lambda: log.write_text("abc"),
    }

    def wait(seconds: float) -> None:
        clock["s"] += seconds
        happens.get(round(clock["s"]), lambda: None)()
        if clock["s"] > 60:
            raise TimeoutError

    finished = finished_logs(tmp_path, settled_s=5.0, now=lambda: clock["s"], wait=wait)
    given = [(next(finished).name, round(clock["s"])) for _ in range(2)]
    with pytest.raises(TimeoutError):
        next(finished)

    assert given == [("new.gpx", 11), ("new.gpx", 35)]


def test_a_folder_that_is_none_cannot_be_watched(tmp_path: Path):
    with pytest.raises(LogbookError, match="the folder cannot be read"):
        finished_logs(tmp_path / "nowhere")


def test_a_name_in_an_export_is_never_a_path(
    book: Logbook, clean: Entry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """The log's name comes from a stranger's file: it is shown, and used nowhere."""
    add_flight(book, clean, "Wren")
    with writing(book) as connection:
        connection.execute(tables.flight.update().values(file="../../escaped.gpx", program="debrief 0.0.1"))
    inside = tmp_path / "inside"
    inside.mkdir()
    monkeypatch.chdir(inside)

    assert [one.mistake for one in refresh(book)] == [""]

    assert not list(tmp_path.rglob("escaped.gpx"))
