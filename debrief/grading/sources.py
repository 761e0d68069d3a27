"""The words of our own in the sources of the bundled standards, so that they can be said in another language.

Owns      ``source_words``, which a ``Source`` is told by.
Not here  the sources themselves (``standards/``). The titles of published texts stay as they were published.
"""

from __future__ import annotations

from debrief.language import mark, tr

#: Names of the bundled standards, titles and parts of their sources: all that are not the name of a published text.
WORDS = mark(
    (
        "Instrument rating",
        "Airline transport pilot",
        "European instrument skill test",
        "Training",
        "Regulation (EU) No 1178/2011, Annex I (Part-FCL)",
        "ICAO Doc 8168, quoted in FAA-H-8261-1",
        "a published minimum has no tolerance below it",
        "a test is flown once: the first approach counts",
        "climb away",
        "climb begun at the missed approach point",
        "corrections of 10 degrees to either side, and smaller ones after",
        "corrections towards the course",
        "intercept after a reversal",
        "lead at the station",
        "no corrections quicker than the indication answers",
        "nothing is published for arcs",
        "noticed and corrected within ten seconds",
        "outbound leg ended by DME",
        "outbound leg ended by time",
        "practice: the best approach of a log counts",
        "room to intercept after the turn at the station",
        "the figure of the instrument rating",
        "the published procedure is flown as drawn",
        "three quarters of full scale: FAA-S-ACS-11A asks to track accurately and gives no number",
        "training flights, not a test",
        "what a log must show",
        "what an instructor would accept as seen",
        "what still counts as a passage",
        "Appendix 7, paragraph 11",
        "Task VI.A, nonprecision approach",
        "Task VI.D, nonprecision approach",
        "chapter 4",
        "seen",
        "seen (2nd hand)",
        "memory",
        "common practice",
    )
)


def source_words(text: str) -> str:
    """A name, title, part or mark in the language that is spoken; of a standard of one's own as it stands."""
    return tr(text)
