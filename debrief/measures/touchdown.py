"""How sure a touchdown is.

Owns      the error of its moment, by what told it: the log's own flag, or the braking that sets in.
Not here  finding it (phases), where on the runway it was (``ending``).
Source    In simulated landings recorded at every interval and noise the smoothed braking sets in late by ``LATE_PER_S``
          times the square of the time over which the smoother takes samples together.
"""

from __future__ import annotations

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment
from debrief.measures.scene import Scene
from debrief.navigation.units import KT_PER_M_S

#: By simulated landings, see above. [1/s]
LATE_PER_S = 0.25
_BESIDE_S = 2.0  # to each side, for how fast the braking grows
_LEAST_JERK_KT_S2 = 0.1  # a braking that grows more slowly tells nothing


def touchdown(scene: Scene, t_s: float) -> Moment | None:
    """The error of the moment of touchdown; ``None`` where something else told it, as the last altitude heard."""
    log, flight = scene.flight.log, scene.flight
    if "on_ground" in log.track.columns:
        # the first sample on the ground: the wheels touched since the one before
        half_s = log.measured_interval_s / 2.0
        return Moment(0.0, -half_s, within_s=half_s)
    view = flight.at(np.array([t_s - _BESIDE_S, t_s + _BESIDE_S]))
    jerk_kt_s2 = float(view.acceleration_kt_s[0] - view.acceleration_kt_s[1]) / (2.0 * _BESIDE_S)
    if not jerk_kt_s2 >= _LEAST_JERK_KT_S2:
        return None
    wrong_kt_s = log_errors.one(log_errors.acceleration_m_s2(flight)) * KT_PER_M_S
    return Moment(wrong_kt_s / jerk_kt_s2, -LATE_PER_S * log_errors.smoothed_over_s(flight) ** 2)
