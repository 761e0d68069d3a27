"""Which measures pilots are compared by.

Owns      the list. Each is one number a flight, by its path in the result file.
Not here  how they are measured (``debrief.measures``).

Few and telling: every measure more makes it harder to show that anybody differs.
"""

from __future__ import annotations

from debrief.comparison.model import Compared

CATALOGUE: tuple[Compared, ...] = (
    Compared(name="turn.lead_nm", words="Lead of the turn at the station", unit="NM", decimals=2),
    Compared(name="outbound.deviation_deg.rms", words="Needle off, outbound", unit="°"),
    Compared(name="outbound.turn_off_dme_nm", words="DME at the turn off", unit="NM", decimals=2),
    Compared(name="outbound.time_from_passage_s", words="Time outbound", unit="s", decimals=0),
    Compared(name="course_reversal.max_distance_nm", words="Farthest in the reversal", unit="NM", decimals=2),
    Compared(name="course_reversal.turn_rate_deg_s", words="Rate of the turn back", unit="°/s", decimals=2),
    Compared(
        name="course_reversal.max_airspeed_kias", words="Fastest in the reversal", unit="kt", decimals=0
    ),
    Compared(name="intercept.angle_deg", words="Angle of the intercept", unit="°"),
    Compared(name="intercept.overshoot_nm", words="Overshoot of the course", unit="NM", decimals=2),
    Compared(name="intermediate.deviation_deg.rms", words="Needle off, intermediate", unit="°"),
    Compared(name="final.deviation_deg.rms", words="Needle off, final", unit="°"),
    Compared(name="final.lowest_altitude_ft", words="Lowest on final", unit="ft", decimals=0),
    Compared(
        name="final.max_descent_rate_ft_min", words="Fastest descent on final", unit="ft/min", decimals=0
    ),
    Compared(name="final.airspeed_kias.mean", words="Airspeed on final", unit="kt", decimals=0),
    Compared(
        name="missed_approach.start_past_point_nm", words="Climb begun past the point", unit="NM", decimals=2
    ),
)
