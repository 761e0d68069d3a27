"""The help page.

Owns      which page that is. Its words stand in the template.
"""

from __future__ import annotations

from starlette.responses import Response

from debrief.web.answers import page
from debrief.web.guard import Ask
from debrief.web.limits import MEGABYTE, MOST_UPLOAD_BYTES


def help_page(ask: Ask) -> Response:
    """How it works, which logs can be read, the keys of the replay."""
    return page(ask, "help.html", most_mb=round(MOST_UPLOAD_BYTES / MEGABYTE))
