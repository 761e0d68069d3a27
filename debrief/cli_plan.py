"""The command before the flight: the plan card of a procedure at a speed in a wind.

Owns      ``debrief plan``.
Not here  what stands on the card (``planning``), drawing it (``reports.plan_card``), catching errors (``cli``).
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from debrief.cli_options import Paper
from debrief.cli_terminal import say


def plan(
    procedure: Annotated[
        str,
        typer.Argument(
            metavar="PROCEDURE", help="A procedure file (.toml), or the name of a bundled procedure."
        ),
    ],
    speed: Annotated[
        str,
        typer.Option(
            "--speed",
            metavar="KT",
            help="Indicated airspeed in knots; a range such as 160-190 gives a row each 10 kt.",
        ),
    ],
    wind: Annotated[
        str,
        typer.Option(
            "--wind", metavar="DIR/KT", help="Where the wind comes from in degrees true, and its knots."
        ),
    ] = "0/0",
    final_speed: Annotated[
        str | None,
        typer.Option(metavar="KT", help="Indicated airspeed on the final, where it is another one."),
    ] = None,
    arrival: Annotated[
        str | None,
        typer.Option(
            metavar="COURSE",
            help="The magnetic course flown to the station; without it a table of turns is given.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", metavar="DIR", help="Write the card into this folder, too, as PDF and PNG."
        ),
    ] = None,
    language: Annotated[str, typer.Option(metavar="LANG", help="The language of the card: en, de.")] = "en",
    paper: Paper = "A4",
) -> None:
    """Plan an approach: headings, leads, times, descent, and which limits this speed and wind would break.

    All is computed from the procedure; no weather or terrain is looked up.
    """
    from datetime import UTC, datetime

    from debrief.language import speaking, tr
    from debrief.planning.card import plan_card
    from debrief.planning.conditions import Conditions, read_course, read_speed, read_speeds, read_wind
    from debrief.planning.text import card_text
    from debrief.procedures import load_procedure

    wind_from_true_deg, wind_speed_kt = read_wind(wind)
    final_kias = None if final_speed is None else read_speed(final_speed)
    course_deg = None if arrival is None else read_course(arrival)
    speeds_kias = read_speeds(speed)
    loaded, now = load_procedure(procedure), datetime.now(UTC)
    cards = [
        plan_card(
            loaded,
            Conditions(
                speed_kias=speed_kias,
                final_speed_kias=speed_kias if final_kias is None else final_kias,
                wind_from_true_deg=wind_from_true_deg,
                wind_speed_kt=wind_speed_kt,
                when=now,
                arrival_course_deg=course_deg,
            ),
        )
        for speed_kias in speeds_kias
    ]
    written: tuple[Path, ...] = ()
    with speaking(language):
        if out is not None:
            from debrief.reports.plan_card import write_plan_card

            written = write_plan_card(cards, out, paper=paper)
        lines = card_text(cards).splitlines()
        if written:
            lines += ["", tr("wrote {files}", files=", ".join(str(file) for file in written))]
    for line in lines:
        say(line)
