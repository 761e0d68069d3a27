"""What is unusual about a standard, though valid.

Owns      the remarks of ``debrief standards check``.
Not here  what is wrong in a standard (``standard``, ``standard_reader``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from debrief.grading.standard import RuleName, Standard

_WIDE = 3.0  # times the widest of the bundled ones


def remarks(standard: Standard) -> Iterator[str]:
    """Each in one sentence."""
    asked = {tolerance.rule for tolerance in standard.rule}
    missing = [rule for rule in get_args(RuleName) if rule not in asked]
    if missing:
        yield f"nothing is said about {', '.join(missing)}: these are not judged."
    if not any(tolerance.required for tolerance in standard.rule):
        yield "no rule is required: every flight that is read is not assessable or satisfactory."
    yield from _wide(standard)
    if standard.adding is None:
        yield "there is no [adding]: all must pass, and the first attempt in a log counts."
    remembered = [t.rule for t in standard.rule if t.source.mark == "memory"]
    if remembered:
        yield f"the source of {', '.join(dict.fromkeys(remembered))} is only remembered: look it up."


def _wide(standard: Standard) -> Iterator[str]:
    from debrief.grading.standard_reader import bundled_standards

    widest: dict[tuple[str, str | None, str], float] = {}
    for other in bundled_standards().values():
        for tolerance in other.rule:
            for key in ("below", "above", "within", "at_most"):
                value = getattr(tolerance, key)
                if value:
                    place = tolerance.rule, tolerance.unit, key
                    widest[place] = max(widest.get(place, 0.0), value)
    for tolerance in standard.rule:
        for key in ("below", "above", "within", "at_most"):
            value, usual = getattr(tolerance, key), widest.get((tolerance.rule, tolerance.unit, key))
            if value and usual and value > _WIDE * usual:
                yield (
                    f"{tolerance.rule}: {key} = {value:g} {tolerance.unit or ''} is more than {_WIDE:g} times the widest "
                    f"of the bundled standards ({usual:g})."
                )
