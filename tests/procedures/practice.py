"""A valid procedure file, and what the reader says about a changed one."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import ProcedureError
from debrief.procedures import load_procedure

VALID = """\
format = 1
name = "Practice VOR/DME runway 22"
issued = 2026-01-15

[station]
ident = "QXQ"
kind = "VOR/DME"
latitude = 47.1
longitude = -31.2
elevation_ft = 310
declination_deg = -11.0

[runway]
ident = "22"
latitude = 47.03
longitude = -31.266
elevation_ft = 214
course_true_deg = 213.0

[[leg]]
phase = "inbound"
altitude = { at_or_above_ft = 4000 }

[[leg]]
phase = "outbound"
radial_deg = 44
length = { dme_nm = 5.0 }
altitude = { at_or_above_ft = 3500 }

[[leg]]
phase = "course_reversal"
pattern = "45/180"
side = "left"
within_nm = 10
leg_seconds = 60
max_speed_kias = 200
altitude = { at_or_above_ft = 2800 }

[[leg]]
phase = "intermediate"
course_deg = 224
altitude = { at_or_above_ft = 2800 }

[[leg]]
phase = "final"
course_deg = 224
altitude = { at_or_above_ft = 980 }
step_down = [ { until_dme_nm = 2.0, at_or_above_ft = 1700 } ]
missed_approach_point = { dme_nm = 4.6 }
descent_angle_deg = 3.0
"""


def message(content: str | bytes, folder: Path) -> str:
    """The error's text for a file of that content, named ``p.toml``."""
    path = folder / "p.toml"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(ProcedureError) as caught:
        load_procedure("p.toml")
    return str(caught.value)


def changed(old: str, new: str) -> str:
    assert old in VALID
    return VALID.replace(old, new, 1)
