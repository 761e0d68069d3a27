"""The sentences of a card, and how its numbers are written.

Owns      every sentence; units, decimals, courses in three figures.
Not here  which sentence stands where (``blocks``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.planning.card import Card
from debrief.planning.limits import Broken
from debrief.procedures.model import AltitudeLimit
from debrief.procedures.words import three_figures

CAUTION = (
    "For simulator flying and training only. Not for navigation, not for planning a real flight. The published "
    "procedure, its current chart, the clearance, the aircraft's manual and local rules prevail."
)
MINUS = "−"


def whole(value: float) -> str:
    """A number without decimals.

    >>> whole(1234.5), whole(-0.4)
    ('1,234', '0')
    """
    return f"{round(value):,}".replace("-", MINUS)


def feet(value_ft: float) -> str:
    """An altitude to the nearest ten feet, as it is flown.

    >>> feet(1188.9)
    '1,190'
    """
    return f"{round(value_ft, -1):,.0f}"


def miles(value_nm: float) -> str:
    """A distance to the hundredth.

    >>> miles(-0.126)
    '−0.13'
    """
    return f"{value_nm:.2f}".replace("-", MINUS)


def course(direction_deg: float) -> str:
    """A direction in three figures.

    >>> course(359.6), course(7.2)
    ('360°', '007°')
    """
    return f"{three_figures(round(direction_deg))}°"


def clock(seconds: float) -> str:
    """Minutes and seconds.

    >>> clock(75.4), clock(59.7)
    ('1:15', '1:00')
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def correction(correction_deg: float) -> str:
    """A wind correction with its side.

    >>> correction(8.01), correction(-3.4), correction(0.2)
    ('8° R', '3° L', '0°')
    """
    size = abs(round(correction_deg))
    return f"{size}° {'R' if correction_deg > 0 else 'L'}" if size else "0°"


def altitude(limit: AltitudeLimit | None) -> str:
    """An altitude restriction, short."""
    if limit is None:
        return ""
    if limit.between_ft is not None:
        return f"{limit.between_ft[0]:,.0f} to {limit.between_ft[1]:,.0f}"
    if limit.at_ft is not None:
        return f"at {limit.at_ft:,.0f}"
    if limit.at_or_above_ft is not None:
        return f"{limit.at_or_above_ft:,.0f} or above"
    return f"{limit.at_or_below_ft:,.0f} or below"


def _side(angle_deg: float) -> str:
    return f"{abs(angle_deg):.1f}° {'E' if angle_deg >= 0.0 else 'W'}"


def wind(card: Card) -> str:
    """The wind, in words."""
    conditions = card.conditions
    if conditions.wind_speed_kt == 0.0:
        return "still air"
    return f"wind from {course(conditions.wind_from_true_deg)} true, {conditions.wind_speed_kt:g} kt at every altitude"


def heading_sentences(card: Card) -> Iterator[str]:
    """What the card is for: speeds, wind, and the frame of its headings."""
    conditions, station = card.conditions, card.procedure.station
    final = ""
    if conditions.final_speed_kias != conditions.speed_kias:
        final = f", {conditions.final_speed_kias:g} kt on the final"
    yield f"{conditions.speed_kias:g} kt indicated{final}; {wind(card)}."
    declination = _side(station.declination_deg)
    if card.variation_deg is None:
        yield (
            f"Courses and headings are magnetic by the station's alignment, {declination}: the variation of this place "
            "and day is not known."
        )
        return
    yield (
        f"Courses are magnetic by the station's alignment, {declination}; headings by the variation of "
        f"{conditions.when:%Y-%m-%d}, {_side(card.variation_deg)}, as a compass shows them."
    )


def method_sentences() -> Iterator[str]:
    """How the numbers were found."""
    yield (
        "True airspeed: standard atmosphere at the lowest altitude of the leg, on the final half-way down. Turns: the "
        "lesser of 25° of bank and 3°/s, begun and ended at once. Altitudes are those published, in feet; none is "
        "corrected for cold."
    )


def broken(limit: Broken) -> str:
    """A limit that would be broken, in a sentence."""
    match limit.rule:
        case "reversal_speed":
            of = "published for the reversal" if limit.published else "of AIM 5-4-9; the file gives none"
            return f"Speed: {limit.value:g} kt indicated is above the {limit.limit:g} kt {of}."
        case "reversal_distance":
            return (
                f"Distance: the reversal reaches {limit.value:.1f} NM from the station, {limit.value - limit.limit:.1f} "
                f"NM beyond the {limit.limit:g} NM allowed."
            )
        case "reversal_room":
            return (
                f"Room: the inbound course is joined {abs(limit.value):.1f} NM past the station; nothing is left of it "
                "to descend on."
            )
        case "intercept_overshoot":
            return (
                f"Intercept: the last turn runs {miles(limit.value)} NM past the course, more than {limit.limit:g} NM: "
                "turn tighter, or leave the outbound leg farther out."
            )
        case "descent_angle":
            return (
                f"Descent: it takes {limit.value:.1f}° on the final, and none is designed steeper than "
                f"{limit.limit:.2f}° (FAA Order 8260.3): join the course farther out."
            )
        case "outbound_length":
            return f"Outbound: at its altitude the DME never reads as little as {limit.limit:g} NM."
        case "descent_rate":
            return f"Descent: the {limit.leg} leg takes {whole(limit.value)} ft/min, more than {whole(limit.limit)}."
        case _:
            return (
                f"Step-down: the path passes {limit.leg} at {whole(limit.value)} ft, below the {whole(limit.limit)} ft "
                "allowed until there: level off."
            )


def broken_in_short(limit: Broken) -> str:
    """A limit that would be broken, in a word or two."""
    return {
        "reversal_speed": "speed",
        "reversal_distance": "distance",
        "reversal_room": "room",
        "intercept_overshoot": "intercept",
        "outbound_length": "outbound",
        "descent_angle": "angle (final)",
        "descent_rate": f"descent ({limit.leg})",
        "step_down": f"step at {limit.leg}",
    }[limit.rule]
