"""Killed at any moment, with a full disk, or with two writers at once: no flight is lost, none is half there."""

from __future__ import annotations

import multiprocessing
import random
import shutil
import time
from pathlib import Path
from typing import Any

import pytest

from debrief.logbook import Logbook, flights, open_logbook
from debrief.logbook.adding import add_record
from debrief.logbook.keeping import check
from debrief.logbook.opening import writing
from debrief.logbook.portable import export_to
from tests.logbook.hard_times import (
    add_all,
    add_until_full,
    import_all,
    records,
    refresh_all,
    started,
)

MOMENTS = 20


@pytest.fixture(scope="module")
def context() -> Any:
    """Children start from a server that has loaded everything: they die within milliseconds of their work.

    They count without a lock: a child killed while it held one would leave nobody able to read the count.
    """
    found = multiprocessing.get_context("forkserver")
    found.set_forkserver_preload(["tests.logbook.hard_times_ready"])
    return found


def killed(process: Any, after_s: float) -> None:
    process.join(after_s)
    process.kill()
    process.join()


def wait_for(counter: Any, least: int) -> None:
    until = time.monotonic() + 60
    while counter.value < least and time.monotonic() < until:
        time.sleep(0.002)
    assert counter.value >= least


def test_killed_while_adding(context: Any, tmp_path: Path):
    """Twenty times at random moments; all that was told to be added is there, and all is sound each time."""
    address, draw = str(tmp_path / "club.sqlite"), random.Random(1)
    open_logbook(address)
    for moment in range(MOMENTS):
        done = context.RawValue("i", 0)
        process = started(context, add_all, address, 100 * moment, 30, done)
        wait_for(done, 1)
        killed(process, draw.uniform(0.0, 0.06))
        book = open_logbook(address)
        there = sum(
            row.file.startswith("flight-") and int(row.file[7:-4]) // 100 == moment for row in flights(book)
        )
        assert done.value <= there <= done.value + 1
        assert check(book) == ()
        book.engine.dispose()


def test_killed_while_measuring_again(context: Any, tmp_path: Path):
    address, draw = str(tmp_path / "club.sqlite"), random.Random(2)
    book = open_logbook(address)
    for record in records(2):
        with writing(book) as connection:
            add_record(connection, record)
    book.engine.dispose()
    for _ in range(MOMENTS):
        done = context.RawValue("i", 0)
        process = started(context, refresh_all, address, done)
        wait_for(done, 1)
        killed(process, draw.uniform(0.0, 0.25))
        book = open_logbook(address)
        assert [row.attempts for row in flights(book)] == [1, 1]
        assert check(book) == ()
        book.engine.dispose()


def test_killed_while_importing(context: Any, tmp_path: Path):
    """Each time the import is done again, and in the end everything is there once."""
    full = open_logbook(tmp_path / "full.sqlite")
    for record in records(60):
        with writing(full) as connection:
            add_record(connection, record)
    file, draw = tmp_path / "club.zip", random.Random(3)
    export_to(full, file)
    address = str(tmp_path / "club.sqlite")
    for moment in range(MOMENTS):
        done = context.RawValue("i", 0)
        process = started(context, import_all, address, str(file), done)
        wait_for(done, 1)
        killed(process, draw.uniform(0.0, 0.06))
        book = open_logbook(address)
        assert check(book) == (), moment
        book.engine.dispose()
    done = context.RawValue("i", 0)
    import_all(address, str(file), done)
    assert len(flights(open_logbook(address))) == 60


def test_two_writers_at_once_lose_nothing(context: Any, any_book: Logbook):
    """Two processes add the same sixty flights at the same time, and twenty of their own each."""
    address = any_book.engine.url.render_as_string(hide_password=False).replace("+psycopg", "")
    done = [context.RawValue("i", 0) for _ in range(2)]
    processes = [
        started(context, add_all, address, first, 80, mine) for first, mine in zip((0, 20), done, strict=True)
    ]
    for process in processes:
        process.join(120)
        assert process.exitcode == 0

    assert [mine.value for mine in done] == [80, 80]
    assert len(flights(any_book)) == 100
    assert len({row.file for row in flights(any_book)}) == 100
    assert check(any_book) == ()


def test_a_full_disk_loses_nothing_and_is_said(context: Any, tmp_path: Path):
    address = str(tmp_path / "club.sqlite")
    book = open_logbook(address)
    for record in records(3, first=1000):
        with writing(book) as connection:
            add_record(connection, record)
    book.engine.dispose()
    told = context.Array("c", 400)
    process = started(context, add_until_full, address, 700_000, told)
    process.join(60)

    assert process.exitcode == 0
    said = told.value.decode()
    assert said.startswith(f"{address}: the disk")
    assert "nothing was written" in said
    book = open_logbook(address)
    assert check(book) == ()
    assert {1000, 1001, 1002} <= {int(row.file[7:-4]) for row in flights(book)}
    before = len(flights(book))
    with writing(book) as connection:  # with room again it goes on
        add_record(connection, records(1, first=2000)[0])
    assert len(flights(book)) == before + 1


def test_a_copied_file_is_whole_without_its_log_beside_it(book: Logbook, tmp_path: Path):
    """The last process that closes a logbook leaves one file."""
    assert book.file is not None
    with writing(book) as connection:
        add_record(connection, records(1)[0])
    book.engine.dispose()
    shutil.copy(book.file, tmp_path / "copy.sqlite")

    assert len(flights(open_logbook(tmp_path / "copy.sqlite"))) == 1
