"""The queue: every flight at least once, no result twice, nothing lost when a worker or the server ends."""

from __future__ import annotations

from collections import Counter

import pytest

from debrief.web import flights
from debrief.web.flights import Wishes
from debrief.web.limits import MOST_TRIES
from debrief.web.store import Store


@pytest.fixture
def connection(tmp_path):
    store = Store(tmp_path)
    store.make()
    with store.open() as connection:
        yield connection


def add(connection, sha256="aa", owner=None):
    return flights.add(
        connection,
        owner=owner,
        sha256=sha256,
        file=f"{sha256}.gpx",
        size_bytes=1,
        pilot="",
        wishes=Wishes(),
    )


def test_the_same_log_is_one_flight_however_often_it_is_dropped(connection):
    first, new = add(connection)
    second, again = add(connection)

    assert (first.id, new, again) == (second.id, True, False)


def test_flights_are_taken_in_the_order_they_came_and_each_once(connection):
    ids = [add(connection, sum_)[0].id for sum_ in ("aa", "bb", "cc")]

    taken = [flights.claim(connection, f"lease-{n}") for n in range(4)]

    assert [flight and flight.id for flight in taken] == [*ids, None]


def test_an_end_is_written_only_while_the_lease_is_held(connection):
    """A worker that was thought dead and was not must not write over the one that took its place."""
    flight, _ = add(connection)
    flights.claim(connection, "slow")
    flights.give_back(connection, "slow")
    flights.claim(connection, "other")

    late = flights.finish(connection, "slow", "done", result_key="late")
    in_time = flights.finish(connection, "other", "done", result_key="in time")

    assert (late, in_time) == (False, True)
    assert flights.one(connection, flight.id).result_key == "in time"


def test_a_log_that_ends_its_process_again_and_again_is_refused_with_the_reason(connection):
    flight, _ = add(connection)
    for attempt in range(MOST_TRIES):
        assert flights.claim(connection, f"lease-{attempt}") is not None
        flights.give_back(connection, f"lease-{attempt}")

    ended = flights.one(connection, flight.id)
    assert ended.state == "refused"
    assert ended.said == flights.ENDED_SUDDENLY
    assert flights.claim(connection, "another") is None


def test_no_log_is_blamed_for_the_end_of_the_server(connection):
    flight, _ = add(connection)
    for attempt in range(MOST_TRIES + 3):
        assert flights.claim(connection, f"lease-{attempt}") is not None
        flights.give_all_back(connection)

    assert flights.one(connection, flight.id).state == "waiting"


def test_a_flight_whose_page_is_shown_waits_again_where_its_files_were_not_finished(connection):
    flight, _ = add(connection)
    flights.claim(connection, "lease")
    flights.show(connection, "lease", {"results": []}, "key")
    assert flights.one(connection, flight.id).state == "done"

    flights.give_all_back(connection)

    assert flights.one(connection, flight.id).state == "waiting"


def test_an_answer_ends_the_lease_so_that_what_is_still_in_work_is_not_kept(connection):
    flight, _ = add(connection)
    flights.claim(connection, "old")

    flights.answer(connection, flight.id, Wishes(standard="training"))

    assert flights.finish(connection, "old", "done", result_key="of the old wishes") is False
    assert flights.one(connection, flight.id).wishes.standard == "training"


def test_a_removed_flight_comes_back_and_is_forgotten_only_after_long(connection, monkeypatch):
    flight, _ = add(connection)
    flights.remove(connection, flight.id)
    assert flights.listed(connection, owner=None) == ()
    assert flights.forget_removed(connection) == (set(), set())

    assert flights.bring_back(connection, flight.id)
    assert [entry.id for entry in flights.listed(connection, owner=None)] == [flight.id]

    flights.remove(connection, flight.id)
    monkeypatch.setattr(flights, "KEPT_REMOVED_S", -1.0)
    assert flights.forget_removed(connection) == ({"aa"}, set())


def test_a_log_added_again_meanwhile_keeps_the_removed_one_away(connection):
    flight, _ = add(connection)
    flights.remove(connection, flight.id)
    add(connection)

    assert flights.bring_back(connection, flight.id) is False


def test_a_log_that_two_people_flew_is_not_forgotten_with_one_of_them(connection, monkeypatch):
    connection.execute("INSERT INTO account VALUES (1, 'Ada', 'pilot', '', 0, NULL)")
    mine, _ = add(connection)
    add(connection, owner=1)
    flights.remove(connection, mine.id)
    monkeypatch.setattr(flights, "KEPT_REMOVED_S", -1.0)

    assert flights.forget_removed(connection) == (set(), set())


def test_a_long_list_comes_in_parts(site):
    """Of 230 flights each stands on one page of the list and of the pile, and none on two."""
    ids = []
    with site.store.open() as connection:
        for number in range(230):
            flight, _ = flights.add(
                connection,
                owner=None,
                sha256=f"{number:064x}",
                file=f"log {number}.gpx",
                size_bytes=1,
                pilot="",
                wishes=Wishes(),
            )
            ids.append(flight.id)
        connection.execute("UPDATE flight SET state = 'refused', said = 'no log', to_book = booked")
    site.looked_at(site.browser, "/pile")
    for path, link in (("/?", "/flights/"), ("/pile?show=all&", "/pile/")):
        seen = Counter()
        for begin, count in ((0, 100), (100, 100), (200, 30)):
            text = site.get(f"{path}begin={begin}").text
            there = {found for found in ids if f'href="{link}{found}' in text}
            assert len(there) == count
            assert f"{begin + 1} to {min(begin + 100, 230)} of 230" in text
            seen.update(there)
        assert seen == Counter(ids)
        for odd in ("x", "-1", "9" * 30, "1e3", "²"):
            assert site.get(f"{path}begin={odd}").status_code == 200
        assert "201 to 230 of 230" in site.get(f"{path}begin=999999").text
