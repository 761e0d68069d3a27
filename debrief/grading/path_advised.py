"""The path down the final that advice goes by.

Owns      ``path_advised``: the published angle, else that from the published altitude where the final begins; from how
          far out that can be flown, where the final was begun too near (``join_before_nm``).
Not here  the angle that the flight itself needed (``measures.descent``), rates and sentences of advice.
"""

from __future__ import annotations

from debrief.grading.words import degrees, feet
from debrief.language import tr
from debrief.measures.descent import angle_from_deg
from debrief.measures.scene import Scene
from debrief.navigation.descent import THRESHOLD_CROSSING_FT, gradient_ft_nm
from debrief.procedures.model import Procedure
from debrief.result import FinalMeasures

#: A path to advise where nothing tells another one. [deg] Mark: common practice.
USUAL_PATH_DEG = 3.0
#: Steeper than this is a steep approach, which no advice asks for. Mark: common practice.
STEEP_DEG = 4.5
#: What is asked for instead: 400 ft/NM, the most of a non-precision final.
#: Source: FAA Order 8260.3 (TERPS). Mark: seen (2nd hand).
JOINED_FOR_DEG = 3.77


def path_advised(scene: Scene, final: FinalMeasures | None) -> tuple[float, str]:
    """The angle of the path to fly [deg], and the same in words, which say from where it counts.

    Who came to the final fix too low or too high is not told the path from there as if it were the procedure's.
    """
    leg = scene.procedure.final
    if leg is not None and leg.descent_angle_deg is not None:
        return leg.descent_angle_deg, degrees(leg.descent_angle_deg, nearest=0.1)
    published_ft = _published_ft(scene.procedure)
    angle_deg = None if published_ft is None else angle_from_deg(scene, published_ft)
    if published_ft is not None and angle_deg is not None:
        angle = degrees(angle_deg, nearest=0.1)
        return angle_deg, tr("{angle} from {altitude}", angle=angle, altitude=feet(published_ft, exact=True))
    if final is not None and final.required_angle_deg is not None:
        angle = degrees(final.required_angle_deg, nearest=0.1)
        return final.required_angle_deg, tr("{angle} from where the final began", angle=angle)
    return USUAL_PATH_DEG, degrees(USUAL_PATH_DEG, nearest=0.1)


def join_before_nm(scene: Scene, angle_deg: float) -> float | None:
    """How far before the runway a final to a station on the aerodrome is to be begun, that was begun too near. [NM]

    ``None`` where the path from there, ``angle_deg``, was no steep one, or is the procedure's own.
    """
    procedure, runway = scene.procedure, scene.procedure.runway
    published_ft = _published_ft(procedure)
    own = procedure.final is not None and procedure.final.descent_angle_deg is not None
    if own or runway is None or published_ft is None or not procedure.station_on_aerodrome:
        return None
    if angle_deg <= STEEP_DEG:
        return None
    return (published_ft - runway.elevation_ft - THRESHOLD_CROSSING_FT) / float(
        gradient_ft_nm(JOINED_FOR_DEG)
    )


def _published_ft(procedure: Procedure) -> float | None:
    """The lowest altitude published for the leg that ends where the final begins."""
    before = "inbound" if procedure.reversal is None else "course_reversal"
    return procedure.low_ft("intermediate" if procedure.has_intermediate else before)
