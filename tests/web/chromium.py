"""Debian's Chromium for tests, installed where it is missing."""

from __future__ import annotations

import os
import shutil
import subprocess
from functools import cache

# Without these it looks for its maker's hosts at every start.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@cache
def chromium() -> str:
    """Where it is."""
    found = shutil.which("chromium")
    if found is None and shutil.which("apt-get") and os.geteuid() == 0:
        subprocess.run(["apt-get", "update", "-q"], check=True, capture_output=True)
        subprocess.run(["apt-get", "install", "-qy", "chromium"], check=True, capture_output=True)
        found = shutil.which("chromium")
    assert found, "The tests of the page need Chromium. On Debian or Ubuntu: sudo apt-get install chromium"
    return found
