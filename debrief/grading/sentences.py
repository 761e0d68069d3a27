"""A verdict in words: the sentences of its rule and variant, with its quantities.

Owns      ``message``, ``advice``, ``praise``, and the names of items and findings.
Not here  the sentences (``sentence_table``, ``pointer_advice``), the quantities (``words``).
"""

from __future__ import annotations

from debrief.grading.assessment import Assessment
from debrief.grading.pointer_advice import POINTER_ADVICE
from debrief.grading.sentence_table import SENTENCES
from debrief.grading.words import phase_label
from debrief.language import mark, sentence, tr

_REPEATED = mark("{message} It happened {times} times; this was the worst.")

_ITEMS = mark(
    {
        "altitude": "Altitude",
        "altitude_before_station": "Altitude kept up to the station",
        "minimum_descent_altitude": "Minimum descent altitude",
        "step_down": "Step-downs",
        "tracking": "Tracking",
        "not_established": "Established inbound",
        "reverse_sensing": "Corrections towards the course",
        "needle_chasing": "Steady headings along the course",
        "weaving": "Steady track along the course",
        "station_missed": "Station passage",
        "turn_lead": "Turn at the station",
        "outbound_length": "Length of the outbound leg",
        "reversal_missing": "Published reversal",
        "reversal_side": "Side of the reversal",
        "reversal_distance": "Distance of the reversal",
        "reversal_speed": "Speed in the reversal",
        "intercept_angle": "Intercept angle",
        "intercept_overshoot": "Overshoot of the inbound course",
        "descent_rate": "Descent rate on final",
        "stabilised": "Stabilised approach",
        "missed_approach": "Missed approach",
        "log_quality": "Log",
    }
)
_SAID_BY_PHASE = ("altitude", "altitude_before_station", "tracking", "station_missed")
_MISSED_ITEMS = mark(
    {
        "NM": "Start of the missed approach",
        "ft/min": "Climb in the missed approach",
        "deg": "Course of the missed approach",
        "ft": "Altitude of the missed approach",
    }
)
_ARC_ITEMS = mark({"NM": "Distance of the DME arc", "ft": "Altitude on the DME arc"})


def message(assessment: Assessment) -> str:
    """What was seen, of a finding."""
    sentences = SENTENCES[assessment.rule, assessment.variant]
    template = sentences.marginal if assessment.outcome == "marginal" else sentences.exceeded
    text = tr(template, **assessment.facts)
    if assessment.times > 1:
        text = tr(_REPEATED, message=text, times=assessment.times)
    return sentence(text)


def advice(assessment: Assessment, *, pointer: bool = False) -> str:
    """What to do next time; ``pointer`` where the course was flown by that of an NDB."""
    key = assessment.rule, assessment.variant
    template = POINTER_ADVICE.get(key) if pointer else None
    return sentence(tr(template or SENTENCES[key].advice, **assessment.facts))


def praise(assessment: Assessment) -> str:
    """What was within its limit, with the number; empty where there is nothing to say."""
    sentences = SENTENCES.get((assessment.rule, assessment.variant))
    # a reason says that nothing was compared
    if sentences is None or not sentences.well or assessment.reason:
        return ""
    return sentence(tr(sentences.well, **assessment.facts))


def finding_kind(assessment: Assessment) -> str:
    """What a finding is about, where the name of its rule does not say it; else nothing."""
    if assessment.kind:
        return assessment.kind
    if assessment.rule in ("missed_approach", "arc"):
        return item_name(assessment)
    if (assessment.rule, assessment.variant) == ("minimum_descent_altitude", "circling"):
        return tr("Circling minimum")
    return ""


def item_name(assessment: Assessment) -> str:
    """What a standard asks for, as a line of its table."""
    if assessment.rule == "missed_approach":
        return tr(_MISSED_ITEMS[assessment.tolerance.unit or "NM"])
    if assessment.rule == "arc":
        return tr(_ARC_ITEMS[assessment.tolerance.unit or "NM"])
    if assessment.kind:
        return assessment.kind
    name = tr(_ITEMS[assessment.rule])
    if assessment.rule in _SAID_BY_PHASE and assessment.phase is not None:
        return f"{name}, {phase_label(assessment.phase)}"
    return name
