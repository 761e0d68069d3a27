"""A page over a folder of its own, asked without a network; its queue is worked off on demand, in this process."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from debrief.web import accounts
from tests.web.site import Site

TRACKS = Path(__file__).parents[2] / "sample_tracks"


@pytest.fixture(autouse=True, scope="session")
def _passwords_in_no_time():
    """Hundreds of accounts are made in this process; what a hash costs a real page, ``test_guard`` looks at."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            accounts, "_hasher", cache(lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
        )
        yield


@pytest.fixture(autouse=True)
def _nobodys_own(tmp_path, monkeypatch):
    """What is kept where nothing else is said, is kept here: never the logbook of whoever runs the tests."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "own"))


@pytest.fixture
def site(tmp_path):
    """A page on loopback, without accounts."""
    return Site(tmp_path / "data")


@pytest.fixture(scope="session")
def log():
    """The bytes of the sample flight that turned the wrong way."""
    content = (TRACKS / "lantern-wrong-side.gpx").read_bytes()
    assert hashlib.sha256(content).hexdigest()
    return content


@pytest.fixture(scope="session")
def debriefed(tmp_path_factory, log):
    """A page with one flight that is done, for tests that change nothing."""
    site = Site(tmp_path_factory.mktemp("debriefed"))
    flight = site.drop(log, "lantern-wrong-side.gpx")
    site.work()
    site.flight = flight
    return site
