"""How the reports look: papers, type sizes, inks, and the line of each phase.

Owns      every size, colour and line style of the reports, and the words printed on every page.
Not here  where things go (``layout``, ``pages``), what they say (``words``).
Source    Hues that the colour-blind can tell apart: M. Okabe and K. Ito, Color Universal Design (2008). Mark: memory.

Phases differ by colour, by dash pattern and by weight, so that any one of the three is enough.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from debrief.language import mark

Paper = Literal["A4", "Letter"]

#: Width and height. [pt]
PAPERS: dict[Paper, tuple[float, float]] = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}

MARGIN_PT = 42.0
HEADER_PT = 26.0  # from the top margin to the text
FOOTER_PT = 30.0
GAP_PT = 6.0

TITLE_PT = 17.0
RESULT_PT = 15.0
SECTION_PT = 12.0
HEADING_PT = 9.5
BODY_PT = 8.4
TABLE_PT = 7.6
SMALL_PT = 7.0  # the smallest type on any page
LEADING = 1.34  # line pitch over type size

INK = "#1a1a1a"
SOFT = "#565656"
FAINT = "#8c8c8c"
RULE = "#bdbdbd"
GRID = "#e3e3e3"
WASH = "#f1f1ef"
PAPER_WHITE = "#ffffff"
LIMIT = "#7a2e00"
NOMINAL = "#cfcfcf"

CAUTION = mark(
    "For simulator flying and training debriefs. Not for navigation. "
    "The published procedure, local rules and a qualified instructor or examiner prevail."
)

PICTURE_DPI = 120


@dataclass(frozen=True, slots=True)
class Look:
    """A line: its name in legends, colour, dashes (in line widths; none is solid) and width. [pt]"""

    name: str
    colour: str
    dashes: tuple[float, ...]
    width_pt: float


PHASE_LOOKS: dict[str, Look] = {
    "inbound": Look(mark("Inbound"), "#3d9bd3", (4.0, 1.6), 1.5),
    "station_passage": Look(mark("Station passage"), "#6b6b6b", (), 3.6),
    "outbound": Look(mark("Outbound"), "#0072b2", (), 1.7),
    "course_reversal": Look(mark("Course reversal"), "#d55e00", (5.0, 1.2, 1.0, 1.2), 1.8),
    "intermediate": Look(mark("Intermediate"), "#00805c", (2.4, 1.0), 1.9),
    "final": Look(mark("Final"), "#000000", (), 2.3),
    "missed_approach": Look(mark("Missed approach"), "#a8447f", (0.9, 0.9), 2.2),
    "landing": Look(mark("Landing"), "#7a6000", (1.0, 1.8), 2.6),
}
#: The published lines that a plan shows: those of the phases, and what has no phase of its own.
LINE_LOOKS = PHASE_LOOKS | {"visual_segment": Look(mark("Visual segment"), "#000000", (1.0, 2.2), 2.3)}
#: Flown before ``inbound`` begins: it has no phase of its own.
ARC_LOOK = Look(mark("DME arc"), PHASE_LOOKS["inbound"].colour, (1.6, 1.0), 1.7)
#: Thin and dotted: under every phase's line, and told from the grey of before and after without any colour.
REFERENCE_LOOK = Look(mark("Without error, in this wind"), "#2b2b2b", (2.2, 1.6), 1.0)
OUTSIDE_LOOK = Look(mark("Before and after"), "#a6a6a6", (), 0.7)
BY_EYE_DASHES = (0.5, 1.2)  # of the same, where it is flown by eye
NOMINAL_LOOK = Look(mark("As published, still air"), NOMINAL, (), 4.0)

#: A shape beside the word, so that the result is seen without colour.
RESULT_MARKS: dict[str, tuple[str, str]] = {
    "satisfactory": ("o", "#00694c"),
    "unsatisfactory": ("X", "#b03a00"),
    "not assessable": ("D", "#6b6b6b"),
    "marginal": ("^", "#9a6a00"),
}
