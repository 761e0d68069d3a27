"""What takes long to make and is the same for every process of a test run is made by one of them."""

from __future__ import annotations

import copyreg
import os
import pickle
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

#: Names the folder that the processes of a test run share; pytest's set-up (``tests.conftest``) makes it.
FOLDER_VARIABLE = "DEBRIEF_TEST_FOLDER"

Make = TypeVar("Make", bound=Callable[..., Any])


def _read_only(values: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(values)


class _Pickler(pickle.Pickler):
    """One that knows read-only dictionaries, too."""

    dispatch_table = copyreg.dispatch_table | {MappingProxyType: lambda proxy: (_read_only, (dict(proxy),))}


def once_a_run(make: Make) -> Make:
    """Keep what a function of plain values makes: in memory, and for the other processes of the run in a file."""

    @cache
    def kept(*key: object) -> object:
        folder = os.environ.get(FOLDER_VARIABLE)
        if folder is None:
            return make(*key)
        path = Path(folder) / " ".join([make.__module__, make.__name__, *map(str, key)])
        if path.exists():
            return pickle.loads(path.read_bytes())
        made = make(*key)
        whole = path.with_name(f"{path.name} {os.getpid()}")
        with whole.open("wb") as file:
            _Pickler(file).dump(made)
        whole.replace(path)
        return made

    return cast("Make", kept)
