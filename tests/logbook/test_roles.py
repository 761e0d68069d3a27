"""Roles of a shared logbook: held to by the database itself, past any code of ours."""

from __future__ import annotations

from collections.abc import Iterator

import psycopg
import pytest

from debrief.errors import LogbookError
from debrief.logbook import Entry, Logbook, add_flight, approaches, flights, open_logbook, original, pilots
from debrief.logbook.keeping import refresh
from debrief.logbook.removing import erase, remove, set_alias, undo
from debrief.logbook.roles import Member, give_role, members, take_role
from tests.logbook.conftest import entry_of
from tests.logbook.postgres import Server

REFUSED = "your role in this logbook does not allow that"


@pytest.fixture
def club(server: Server, shared: Logbook, clean: Entry, wrong_side: Entry) -> Iterator[dict[str, Logbook]]:
    """A logbook with a flight each of Wren and Heron, opened by its owner, both pilots, and an instructor."""
    for login in ("wren", "heron", "teacher", "stranger"):
        server.new_login(login)
    add_flight(shared, clean, "Wren")
    add_flight(shared, wrong_side, "Heron")
    give_role(shared, "wren", pilot="Wren")
    give_role(shared, "heron", pilot="Heron")
    give_role(shared, "teacher", pilot=None)
    database = shared.engine.url.database
    opened = {
        login: open_logbook(server.address(str(database), login)) for login in ("wren", "heron", "teacher")
    }
    yield {"owner": shared, **opened}
    for book in opened.values():
        book.engine.dispose()


def database_of(club: dict[str, Logbook]) -> str:
    return str(club["owner"].engine.url.database)


def test_a_pilot_sees_own_flights_and_an_instructor_all(club: dict[str, Logbook]):
    seen = {login: [row.pilot for row in flights(book)] for login, book in club.items()}

    assert seen == {
        "owner": ["Wren", "Heron"],
        "teacher": ["Wren", "Heron"],
        "wren": ["Wren"],
        "heron": ["Heron"],
    }
    assert [row.name for row in pilots(club["wren"])] == ["Wren"]
    assert [approach.pilot for approach in approaches(club["heron"])] == ["Heron"]
    with pytest.raises(LogbookError, match="there is no flight 2"):
        original(club["wren"], 2)


@pytest.mark.parametrize("table", ["flight", "original", "result", "attempt", "pilot"])
def test_the_database_itself_shows_a_pilot_no_row_of_others(
    server: Server, club: dict[str, Logbook], table: str
):
    """Plain SQL, by the pilot's own login: our code may be wrong or left out."""
    database = database_of(club)
    key = {"pilot": "name", "flight": "file"}.get(table, "flight_id")

    everything = server.ask(f'SELECT {key} FROM "{table}"', database)
    own = server.ask(f'SELECT {key} FROM "{table}"', database, "wren")
    assert len(everything) == 2
    assert len(own) == 1
    assert len(server.ask(f'SELECT {key} FROM "{table}"', database, "teacher")) == 2
    if table != "pilot":  # one with flights cannot be deleted by anybody
        assert server.ask(f'DELETE FROM "{table}" RETURNING {key}', database, "heron") != own
    assert server.ask(f'SELECT {key} FROM "{table}"', database, "wren") == own


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE flight SET grade = 'satisfactory'",
        "UPDATE flight SET pilot_id = 2",
        "UPDATE member SET role = 'instructor'",
        "INSERT INTO member (login, role) VALUES ('wren', 'instructor')",
        "DELETE FROM member",
        "INSERT INTO pilot (name, folded, created) VALUES ('New', 'new', now())",
        "UPDATE pilot SET name = 'Heron'",
        "UPDATE attempt SET grade = 'satisfactory'",
        "UPDATE result SET content = ''",
        "DROP POLICY flight_of_role ON flight",
        "ALTER TABLE flight DISABLE ROW LEVEL SECURITY",
        'INSERT INTO flight SELECT (jsonb_populate_record(f, \'{"id": 99, "sha256": "x", "pilot_id": 2}\')).* FROM flight f',
    ],
)
def test_the_database_itself_refuses_a_pilot(server: Server, club: dict[str, Logbook], sql: str):
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        server.ask(sql, database_of(club), "wren")


def test_who_has_no_role_sees_nothing(server: Server, club: dict[str, Logbook]):
    for table in ("flight", "pilot", "member", "original"):
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            server.ask(f"SELECT * FROM {table}", database_of(club), "stranger")
    with pytest.raises(LogbookError, match=REFUSED):
        open_logbook(server.address(database_of(club), "stranger"))


def test_a_pilot_adds_removes_and_brings_back_own_flights(club: dict[str, Logbook]):
    mine = club["wren"]
    number = add_flight(mine, entry_of("quillow-overshoot.gpx", "quillow-ndb-18"), "Wren").flight

    remove(mine, [number])
    assert undo(mine) == (number,)
    set_alias(mine, "Wren", "Grey")
    assert {row.pilot for row in flights(club["teacher"])} == {"Grey", "Heron"}


def test_a_pilot_adds_nothing_under_another_name(club: dict[str, Logbook]):
    with pytest.raises(LogbookError) as refused:
        add_flight(club["wren"], entry_of("quillow-overshoot.gpx", "quillow-ndb-18"), "Heron")

    assert REFUSED in str(refused.value) or "where you may not see it" in str(refused.value)
    assert len(flights(club["teacher"])) == 2


def test_a_flight_that_one_may_not_see_is_not_stored_twice_either(
    club: dict[str, Logbook], wrong_side: Entry
):
    with pytest.raises(LogbookError, match="where you may not see it"):
        add_flight(club["wren"], wrong_side, "Wren")


def test_a_pilot_removes_nothing_of_others(club: dict[str, Logbook]):
    with pytest.raises(LogbookError, match="there is no flight 2"):
        remove(club["wren"], [2])


def test_measuring_again_is_for_instructors(club: dict[str, Logbook]):
    with pytest.raises(LogbookError, match=REFUSED):
        list(refresh(club["wren"], everything=True))

    assert [one.mistake for one in refresh(club["teacher"], everything=True)] == ["", ""]


def test_a_pilot_may_be_erased_by_own_wish_with_the_role(club: dict[str, Logbook]):
    assert erase(club["wren"], "Wren") == 1

    assert [row.name for row in pilots(club["owner"])] == ["Heron"]
    assert [member.login for member in members(club["owner"])] == ["heron", "teacher"]
    assert flights(club["wren"]) == ()


def test_a_role_can_be_changed_and_taken(server: Server, club: dict[str, Logbook]):
    owner = club["owner"]
    give_role(owner, "wren", pilot=None)
    assert len(flights(club["wren"])) == 2
    assert members(owner)[-1] == Member(login="wren", role="instructor", pilot=None)

    take_role(owner, "wren")
    with pytest.raises(LogbookError, match=REFUSED):
        flights(club["wren"])
    with pytest.raises(LogbookError, match="'wren' has no role in this logbook"):
        take_role(owner, "wren")


def test_roles_are_given_by_the_owner_only(club: dict[str, Logbook]):
    with pytest.raises(LogbookError, match=REFUSED):
        give_role(club["teacher"], "stranger", pilot=None)


def test_a_pilot_sees_no_role_but_the_own(club: dict[str, Logbook]):
    assert [member.login for member in members(club["wren"])] == ["wren"]


def test_a_login_that_nobody_made_is_said(shared: Logbook):
    with pytest.raises(LogbookError, match="the database has no login 'nobody-at-all'"):
        give_role(shared, "nobody-at-all", pilot=None)


def test_a_file_has_no_roles(book: Logbook):
    with pytest.raises(LogbookError, match="a logbook in a file has no roles"):
        give_role(book, "wren", pilot=None)
