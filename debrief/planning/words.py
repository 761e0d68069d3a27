"""The sentences of a card, and how its numbers are written.

Owns      every sentence; units, decimals, courses in three figures.
Not here  which sentence stands where (``blocks``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.language import figure, mark, tr, within
from debrief.planning.card import Card
from debrief.planning.limits import Broken
from debrief.procedures.model import AltitudeLimit
from debrief.procedures.words import three_figures

CAUTION = mark(
    "For simulator flying and training only. Not for navigation, not for planning a real flight. The published "
    "procedure, its current chart, the clearance, the aircraft's manual and local rules prevail."
)
MINUS = "−"


_LEGS = mark(("Inbound", "Outbound", "Away at 45°", "Away at 80°", "Intercept", "Intermediate", "Final"))
_SIDES = mark({"left": "left", "right": "right"})
_PATTERNS = mark({"base turn": "base turn", "racetrack": "racetrack"})


def leg_name(name: str) -> str:
    """A leg of the card; what is none of them (a distance) as it is."""
    known = next((leg for leg in _LEGS if leg.casefold() == name.casefold()), None)
    return name if known is None else tr(known)


def side_name(side: str | None) -> str:
    """Left or right; of a pattern whose directions give it, nothing."""
    return tr(_SIDES[side]) if side is not None else ""


def pattern_name(pattern: str) -> str:
    """The shape of a reversal."""
    return tr(_PATTERNS.get(pattern, pattern))


def whole(value: float) -> str:
    """A number without decimals.

    >>> whole(1234.5), whole(-0.4)
    ('1,234', '0')
    """
    return figure(round(value), ",").replace("-", MINUS)


def feet(value_ft: float) -> str:
    """An altitude to the nearest ten feet, as it is flown.

    >>> feet(1188.9)
    '1,190'
    """
    return figure(round(value_ft, -1), ",.0f")


def miles(value_nm: float) -> str:
    """A distance to the hundredth.

    >>> miles(-0.126)
    '−0.13'
    """
    return figure(value_nm, ".2f").replace("-", MINUS)


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
    return f"{size}° {tr('R') if correction_deg > 0 else tr('L')}" if size else "0°"


def altitude(limit: AltitudeLimit | None) -> str:
    """An altitude restriction, short."""
    if limit is None:
        return ""
    if limit.between_ft is not None:
        return tr(
            "{low:,.0f} to {high:,.0f}",
            low=limit.between_ft[0],
            high=limit.between_ft[1],
        )
    if limit.at_ft is not None:
        return tr("at {altitude:,.0f}", altitude=limit.at_ft)
    if limit.at_or_above_ft is not None:
        return tr("{altitude:,.0f} or above", altitude=limit.at_or_above_ft)
    return tr("{altitude:,.0f} or below", altitude=limit.at_or_below_ft)


def _side(angle_deg: float) -> str:
    return f"{figure(abs(angle_deg), '.1f')}° {tr('E') if angle_deg >= 0.0 else tr('W')}"


def wind(card: Card) -> str:
    """The wind, in words."""
    conditions = card.conditions
    if conditions.wind_speed_kt == 0.0:
        return tr("still air")
    return tr(
        "wind from {direction} true, {speed:g} kt at every altitude",
        direction=course(conditions.wind_from_true_deg),
        speed=conditions.wind_speed_kt,
    )


def heading_sentences(card: Card) -> Iterator[str]:
    """What the card is for: speeds, wind, and the frame of its headings."""
    conditions, station = card.conditions, card.procedure.station
    if conditions.final_speed_kias != conditions.speed_kias:
        yield tr(
            "{speed:g} kt indicated, {final:g} kt on the final; {wind}.",
            speed=conditions.speed_kias,
            final=conditions.final_speed_kias,
            wind=wind(card),
        )
    else:
        yield tr("{speed:g} kt indicated; {wind}.", speed=conditions.speed_kias, wind=wind(card))
    declination = _side(station.declination_deg)
    if card.variation_deg is None:
        yield (
            tr(
                "Courses and headings are magnetic by the station's alignment, {declination}: the "
                "variation of this place and day is not known.",
                declination=declination,
            )
        )
        return
    yield (
        tr(
            "Courses are magnetic by the station's alignment, {declination}; headings by the "
            "variation of {when:%Y-%m-%d}, {variation_deg}, as a compass shows them.",
            declination=declination,
            when=conditions.when,
            variation_deg=_side(card.variation_deg),
        )
    )


def method_sentences() -> Iterator[str]:
    """How the numbers were found."""
    yield (
        tr(
            "True airspeed: standard atmosphere at the lowest altitude of the leg, on the final "
            "half-way down. Turns: the lesser of 25° of bank and 3°/s, begun and ended at once. "
            "Altitudes are those published, in feet; none is corrected for cold."
        )
    )


def broken(limit: Broken) -> str:
    """A limit that would be broken, in a sentence."""
    match limit.rule:
        case "reversal_speed":
            return tr(
                "Speed: {value:g} kt indicated is above the {limit:g} kt published for the reversal."
                if limit.published
                else "Speed: {value:g} kt indicated is above the {limit:g} kt of AIM 5-4-9; the file gives none.",
                value=limit.value,
                limit=limit.limit,
            )
        case "reversal_distance":
            return tr(
                "Distance: the reversal reaches {value:.2f} NM from the station, {beyond:.2f} NM beyond "
                "the {limit:g} NM allowed.",
                value=limit.value,
                beyond=limit.value - limit.limit,
                limit=limit.limit,
            )
        case "reversal_room":
            return tr(
                "Room: the inbound course is joined {value:.1f} NM past the station; nothing is left of "
                "it to descend on.",
                value=abs(limit.value),
            )
        case "intercept_overshoot":
            return tr(
                "Intercept: the last turn runs {value} NM past the course, more than {limit:g} NM: turn "
                "tighter, or leave the outbound leg farther out.",
                value=miles(limit.value),
                limit=limit.limit,
            )
        case "descent_angle":
            return tr(
                "Descent: it takes {value:.1f}° on the final, and none is designed steeper than "
                "{limit:.2f}° (FAA Order 8260.3): join the course farther out.",
                value=limit.value,
                limit=limit.limit,
            )
        case "outbound_length":
            return tr(
                "Outbound: at its altitude the DME never reads as little as {limit:g} NM.", limit=limit.limit
            )
        case "descent_rate":
            return tr(
                "Descent: the {leg} leg takes {value} ft/min, more than {limit}.",
                leg=within(leg_name(limit.leg)),
                value=whole(limit.value),
                limit=whole(limit.limit),
            )
        case _:
            return tr(
                "Step-down: the path passes {leg} at {value} ft, below the {limit} ft allowed until "
                "there: level off.",
                leg=limit.leg,
                value=whole(limit.value),
                limit=whole(limit.limit),
            )


def broken_in_short(limit: Broken) -> str:
    """A limit that would be broken, in a word or two."""
    return {
        "reversal_speed": tr("speed"),
        "reversal_distance": tr("distance"),
        "reversal_room": tr("room"),
        "intercept_overshoot": tr("intercept"),
        "outbound_length": tr("outbound"),
        "descent_angle": tr("angle (final)"),
        "descent_rate": tr("descent ({leg})", leg=within(leg_name(limit.leg))),
        "step_down": tr("step at {leg}", leg=limit.leg),
    }[limit.rule]
