"""What every page must be: nothing clipped, nothing on top of anything else, nothing too small to read."""

from __future__ import annotations

from collections.abc import Iterable

from debrief.reports.page import Page, TextBox

SMALLEST_TYPE_PT = 7.0
PRINTERS_MARGIN_PT = 18.0  # a quarter of an inch that many printers cannot reach
TOUCHING_PT = 0.4  # boxes are measured from the tallest letters: so much of them is air


def faults(pages: Iterable[Page]) -> list[str]:
    """What is wrong with the setting of the pages, in words."""
    found = []
    for number, page in enumerate(pages, start=1):
        paper = page.area.inset(PRINTERS_MARGIN_PT)
        for text in page.texts:
            box = text.box
            if (
                box.left < paper.left
                or box.right > paper.right
                or box.top < paper.top
                or box.bottom > paper.bottom
            ):
                found.append(f"page {number}: {text.text!r} runs off the paper")
            if text.size_pt < SMALLEST_TYPE_PT:
                found.append(f"page {number}: {text.text!r} is set in {text.size_pt:g} pt")
        found += [f"page {number}: {a.text!r} lies on {b.text!r}" for a, b in overlapping(page.texts)]
    return found


def overlapping(texts: list[TextBox]) -> list[tuple[TextBox, TextBox]]:
    """Every two texts that share paper."""
    in_order = sorted(texts, key=lambda text: text.box.top)
    pairs = []
    for index, first in enumerate(in_order):
        box = first.box.inset(TOUCHING_PT)
        for second in in_order[index + 1 :]:
            if second.box.top > box.bottom:
                break
            if box.overlaps(second.box.inset(TOUCHING_PT)):
                pairs.append((first, second))
    return pairs
