"""Settings that all tests share."""

import os
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

from debrief.threads import compute_in_one_thread
from tests.once import FOLDER_VARIABLE

compute_in_one_thread()

# The same examples on every machine, and no deadline: a first call pays for an import.
settings.register_profile("debrief", max_examples=60, deadline=None, derandomize=True)
settings.load_profile("debrief")


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder that the processes of a run share; one that another process started has that one's."""
    if FOLDER_VARIABLE in os.environ:
        return
    folder = TemporaryDirectory(prefix="debrief-tests-")
    os.environ[FOLDER_VARIABLE] = folder.name
    config.add_cleanup(folder.cleanup)
    config.add_cleanup(lambda: os.environ.pop(FOLDER_VARIABLE))
