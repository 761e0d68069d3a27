"""What a comparison says, in sentences, and how each number was found.

Owns      the sentences of page one, the words of the method with their sources.
Not here  the numbers (``debrief.comparison``), where they stand (``comparison_pages``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.comparison.model import (
    LEAST_FLIGHTS,
    Comparison,
    Hard,
    Interval,
    MeasureComparison,
    PilotMeasure,
)
from debrief.reports.words import NOTHING, number, phase_name, rule_name

HARD_SHOWN = 3


def value(of: float | None, measure: MeasureComparison, *, signed: bool = False) -> str:
    """A value with its unit."""
    text = number(of, measure.measure.decimals, signed=signed)
    unit = measure.measure.unit
    return text if text == NOTHING else text + (unit if unit.startswith("°") else f" {unit}")


def interval(of: Interval | None, decimals: int) -> str:
    """From and to; a dash where there is none."""
    return NOTHING if of is None else f"{number(of[0], decimals)} to {number(of[1], decimals)}"


def share(of: float) -> str:
    """A share of flights in per cent."""
    return f"{100.0 * of:.0f} %"


def differences(comparison: Comparison) -> Iterator[str]:
    """One sentence for each pilot and measure that differs from the others beyond chance."""
    for measure in comparison.measures:
        for row in measure.pilots:
            if row.differs is not None:
                yield _difference(measure, row)


def differences_by_measure(comparison: Comparison) -> Iterator[str]:
    """The same in one sentence a measure, where there are many."""
    for measure in comparison.measures:
        decimals = measure.measure.decimals
        parts = []
        for kind, club in (("level", measure.club.level), ("spread", measure.club.spread)):
            named = [
                f"{row.pilot} {number(row.level if kind == 'level' else row.spread, decimals)}"
                for row in measure.pilots
                if row.differs in (kind, "both")
            ]
            if named:
                parts.append(f"{kind} (the club's {number(club, decimals)}) {', '.join(named)}")
        if parts:
            yield f"{measure.measure.words} ({measure.measure.unit}): {'; '.join(parts)}."


def _difference(measure: MeasureComparison, row: PilotMeasure) -> str:
    what = measure.measure.words[0].lower() + measure.measure.words[1:]
    if measure.measure.words.startswith("DME"):
        what = measure.measure.words
    parts = []
    if row.differs in ("level", "both"):
        parts.append(f"level {value(row.level, measure)}, the club's {value(measure.club.level, measure)}")
    if row.differs in ("spread", "both"):
        parts.append(f"spread {value(row.spread, measure)}, the club's {value(measure.club.spread, measure)}")
    return f"{row.pilot}, {what}: {'; '.join(parts)} ({row.flights} flights)."


def trends(comparison: Comparison) -> Iterator[str]:
    """One sentence for each pilot and measure that moves with time beyond chance."""
    for measure in comparison.measures:
        for row in measure.pilots:
            if row.trend is not None and row.trend.beyond_chance:
                what = measure.measure.words
                yield (
                    f"{row.pilot}, {what if what.startswith('DME') else what[0].lower() + what[1:]}: "
                    f"{value(row.trend.per_month, measure, signed=True)} a month "
                    f"(95 %: {interval(row.trend.interval, measure.measure.decimals)})."
                )


def hard_sentence(hard: Hard) -> str:
    """How often the club missed one item."""
    where = f", {phase_name(hard.phase).lower()}" if hard.phase else ""
    low, high = hard.interval
    return (
        f"{rule_name(hard.rule)}{where}: missed in {hard.missed} of {hard.flights} flights "
        f"({share(hard.share)}; 95 %: {share(low)} to {share(high)})."
    )


def too_few(comparison: Comparison) -> str:
    """Who is shown and not judged, in a sentence; "" where nobody is."""
    counts = dict.fromkeys(comparison.pilots, 0)
    for flown in comparison.flights:
        if flown.pilot in counts:
            counts[flown.pilot] += 1
    few = [name for name, count in counts.items() if count < LEAST_FLIGHTS]
    if not few:
        return ""
    return f"Fewer than {LEAST_FLIGHTS} flights, so shown and not judged: {', '.join(few)}."


def nothing_found(comparison: Comparison) -> str:
    """What to say where no pilot differs: that is no proof of being equal."""
    if comparison.club_pilots < 2:
        return "One pilot alone is compared with nobody; the charts show the flights over time."
    return (
        "No pilot differs from the others beyond chance. That does not say that all fly alike: the table gives the "
        "smallest change that so many flights would have shown."
    )


METHOD: tuple[tuple[str, str], ...] = (
    (
        "Flights",
        (
            "The first approach of each flight counts, so that no two values share a day's wind and mood. All approaches are "
            "drawn. Measures are those of the flights' own reports."
        ),
    ),
    (
        "Wind and speed",
        (
            "Levels and spreads are given at the club's mean wind and aircraft speed: their effects are estimated from how "
            "each pilot's own flights differ (within-pilot regression; Greene, Econometric Analysis, 11; memory), where there "
            "are enough flights; the table says for which measures. As flown they stand beside it."
        ),
    ),
    (
        "Level and spread",
        (
            "A mixed model: levels from a normal distribution over pilots, each pilot with a variance of her or his own, from "
            "a scaled inverse chi-square distribution. Fitted by restricted maximum likelihood (Patterson and Thompson 1971; "
            "Laird and Ware 1982; memory) and by moments (Smyth 2004, 6.2; memory). What few flights show is drawn towards the "
            "club, but never out of its own interval (Efron and Morris 1972; memory)."
        ),
    ),
    (
        "Intervals",
        (
            "95 % for every pilot, not only on average: the 5 % are divided between the two sides by what the other pilots "
            "make likely (Pratt 1963; Yu and Hoff 2018; memory). Degrees of freedom allow for flights that stray farther than "
            "normal ones (Box 1953; memory). One interval in twenty misses all the same."
        ),
    ),
    (
        "Who differs",
        (
            "How each flight strays from its pilot's mean is dealt out anew over the flights, 999 times; a pilot differs from the "
            "median of the others where that brings as great a difference anywhere in the report in at most 5 of 100 deals "
            "(Westfall and Young 1993, 2.8; Freedman and Lane 1983; memory). Who is found is left out of what the rest are held "
            "against, and they are tested again (Goeman and Solari 2010; memory): one far off must not make the others differ. "
            "So a report names anybody falsely about once in twenty at most. Whatever wind and speed could explain is taken away first. There is no ranking: pilots stand by name."
        ),
    ),
    (
        "Trends",
        (
            "Least squares over time, 30 days a month, from six flights on. Beyond chance where dealing the days anew within "
            "each pilot brings a trend as clear anywhere in the report in at most 5 of 100 deals."
        ),
    ),
    (
        "Smallest change",
        (
            "Between the earlier and the later half of a pilot's flights: what would have shown in four cases of five, at 5 %, "
            "two-sided (non-central t; Cohen 1988, 2.3; memory)."
        ),
    ),
    (
        "Charts over time",
        (
            "Individuals and moving range: mean ± 3 mean ranges / 1.128, upper limit of the range 3.267 mean ranges (Shewhart; "
            "ISO 7870-2; memory). A filled mark lies outside, or is the eighth in a row on one side."
        ),
    ),
    (
        "What is hard",
        (
            "Share of flights in which an item of the standard was unsatisfactory or marginal. Wilson's interval (1927; memory), "
            "with fewer flights counted where those of one pilot are alike."
        ),
    ),
)
