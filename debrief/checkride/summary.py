"""The summary of a graded folder as a PDF: the table, what an examiner should look at, and each flight's items.

Owns      what stands on its pages.
Not here  how pages are set (``reports.flow``), the rows (``model``).

An examiner reads from it: who did what, by how much, and where a person must decide. A pilot finds his flight with every
limit it was held against.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from debrief.checkride.model import (
    NOT_ASSESSABLE,
    SATISFACTORY,
    TO_EXAMINER,
    UNREADABLE,
    UNSATISFACTORY,
    Item,
    Row,
)
from debrief.checkride.results import Results
from debrief.reports.files import bound
from debrief.reports.flow import Column, Flow, Group
from debrief.reports.flow import Row as Line
from debrief.reports.layout import shortened
from debrief.reports.page import ASCENT, Page
from debrief.reports.style import RESULT_MARKS, SECTION_PT, SMALL_PT, SOFT, TABLE_PT, TITLE_PT, Paper
from debrief.reports.words import (
    MINUS,
    NOTHING,
    decimals_of,
    limit_decimals,
    limit_quantity,
    number,
    quantity,
    sided_limit,
    sided_quantity,
)

_ORDER = (SATISFACTORY, UNSATISFACTORY, NOT_ASSESSABLE, UNREADABLE)
_MOST_DETAILED = 100  # flights: of more the items stand in one table, a line a flight
_MOST_TABLED = 400  # of more still, in results.json only
_ITEMS_ACROSS = 6
_NAME_PT = 88.0  # a flight in that table: one line
_MOST_NOTED = 300  # lines for the examiner
_LEAST_TOLD = 0.2  # weaker flags stand in results.json only
_MARK_PT = 7.0


def summary_pdf(results: Results, paper: Paper) -> bytes:
    """The PDF's bytes; the same results give the same."""
    dated = [row.recorded for row in results.flights if row.recorded]
    date = datetime.fromisoformat(max(dated)) if dated else datetime(2000, 1, 1, tzinfo=UTC)
    return bound(summary_pages(results, paper), title=_title(results), creator=results.program, date=date)


def summary_pages(results: Results, paper: Paper) -> list[Page]:
    """Every page."""
    flow = Flow(paper, (_title(results), str(results.standard.get("name", ""))))
    flow.title(_title(results), TITLE_PT)
    _counts(flow, results)
    _overview(flow, results.flights)
    _for_the_examiner(flow, results.flights)
    _decided(flow, results.flights)
    _reasons(flow, results.flights)
    _details(flow, results.flights)
    flow.heading("How the table came about")
    for text in _method(results):
        flow.paragraph(text)
    return flow.finish()


def _title(results: Results) -> str:
    count = len(results.flights)
    return f"Checkride: {number(count)} {'submission' if count == 1 else 'submissions'}"


def _counts(flow: Flow, results: Results) -> None:
    standard = results.standard
    offered = results.procedures
    procedures = offered[0]["name"] if len(offered) == 1 else f"the best fitting of {len(offered)} procedures"
    flow.paragraph(f"Against {procedures}, by the standard {standard.get('name', '')}.")
    flow.space(2.0)
    counts = Counter(row.decided for row in results.flights)
    for result in _ORDER:
        if counts[result]:
            y_pt = flow.y_pt + ASCENT * SECTION_PT
            _mark(flow.page, flow.left + _MARK_PT / 2, y_pt - 0.36 * SECTION_PT, result)
            flow.page.text(
                flow.left + _MARK_PT + 6.0, y_pt, f"{number(counts[result])} {result}", SECTION_PT, bold=True
            )
            flow.y_pt += SECTION_PT * 1.45
    overruled = sum(row.decided != row.result for row in results.flights)
    if overruled:
        flow.paragraph(
            f"After the review; in {overruled} of them the examiner decided otherwise than the machine.",
            colour=SOFT,
        )


def _mark(page: Page, x_pt: float, y_pt: float, result: str) -> None:
    shape, colour = RESULT_MARKS.get(result, ("s", "#6b6b6b"))
    page.mark(x_pt, y_pt, shape, _MARK_PT, colour)


def _overview(flow: Flow, rows: Sequence[Row]) -> None:
    columns = (
        Column("Pilot", 16),
        Column("File", 22),
        Column("Result", 15),
        Column("First cause", 40),  # a sentence or three; the others are words
        Column("Least margin", 9, "right"),
        Column("Log", 6),
        Column("Flags", 11),
    )
    lines = [
        Line(
            (
                row.pilot,
                row.file,
                _result_words(row),
                row.first_cause or (_failed_words(row) if row.result == UNSATISFACTORY else NOTHING),
                _margin_words(row),
                row.log_quality or NOTHING,
                _flag_words(row) or NOTHING,
            )
        )
        for row in rows
    ]
    flow.titled_table("Results", columns, lines)


def _result_words(row: Row) -> str:
    if row.decided == row.result:
        return row.result
    return f"{row.decided} (examiner; machine: {row.result})"


def _failed_words(row: Row) -> str:
    failed = [item.item for item in row.items if item.required and item.verdict == UNSATISFACTORY]
    return ", ".join(dict.fromkeys(failed)) or NOTHING


def _margin_words(row: Row) -> str:
    return number(row.margin, 2, signed=True)


def _flag_words(row: Row) -> str:
    return ", ".join(
        dict.fromkeys(flag.sign.replace("_", " ") for flag in row.flags if flag.strength >= TO_EXAMINER)
    )


def _for_the_examiner(flow: Flow, rows: Sequence[Row]) -> None:
    """Marginal items, signs with their evidence, and what could not be assessed."""
    noted = [row for row in rows if row.to_examiner]
    flow.heading("For the examiner to decide")
    if not noted:
        flow.paragraph(
            "Nothing: no verdict lies within its uncertainty, and no log shows a sign of having been edited."
        )
        return
    flow.paragraph(
        "A verdict within the measurement's own uncertainty is marginal, and nobody fails by it. A sign is evidence that "
        "a log may not be what it says; it is never a verdict of cheating.",
        colour=SOFT,
    )
    columns = (Column("Flight", 24), Column("What", 24), Column("Why", 72))
    lines: list[Line | Group] = []
    for row in noted:
        if len(lines) >= _MOST_NOTED:
            lines.append(Line(("", "and more", "They stand in results.csv, in the column to_examiner.")))
            break
        name = f"{row.pilot}, {row.file}" if row.pilot not in row.file else row.file
        for what, why in _noted(row):
            lines.append(Line((name, what, why)))
            name = ""
    flow.table(columns, lines)


def _decided(flow: Flow, rows: Sequence[Row]) -> None:
    """What an examiner decided otherwise, whole results first."""
    columns = (
        Column("Flight", 22),
        Column("What", 20),
        Column("Machine", 14),
        Column("Decided", 14),
        Column("By, on", 18),
        Column("Because", 32),
    )
    lines = [
        Line((row.file, what, machine, over.result, f"{over.by}, {over.time[:10]}", over.because))
        for row in rows
        for what, machine, over in (
            ("the result", row.result, row.overruled),
            *((item.item, item.verdict, item.overruled) for item in row.items),
        )
        if over is not None
    ]
    if lines:
        flow.titled_table("Decided by an examiner", columns, lines)


def _noted(row: Row) -> Iterator[tuple[str, str]]:
    if row.result == NOT_ASSESSABLE:
        yield NOT_ASSESSABLE, row.reason
    for item in row.items:
        if item.verdict == "marginal" and item.required and item.overruled is None:
            yield f"marginal: {item.item}", _against(item)
    for flag in row.flags:
        if flag.strength >= _LEAST_TOLD:
            weak = "" if flag.strength >= TO_EXAMINER else ", weak"
            other = f" Other file: {flag.other}." if flag.other else ""
            yield (
                f"{flag.sign.replace('_', ' ')} ({flag.strength:.2f}{weak})",
                f"{_sentence(flag.evidence)}{other}",
            )


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}".rstrip(".") + "."


def _against(item: Item) -> str:
    value = sided_quantity(item.rule, item.unit, item.value)
    limit = sided_limit(item.rule, item.unit, item.limit)
    reason = f" {_sentence(item.reason)}" if item.reason else ""
    return (
        f"{value} against a limit of {limit}.{reason}"
        if item.limit is not None
        else (reason.strip() or NOTHING)
    )


def _reasons(flow: Flow, rows: Sequence[Row]) -> None:
    unread = [row for row in rows if row.result == UNREADABLE]
    if not unread:
        return
    columns = (Column("File", 30), Column("Why it could not be read", 90))
    flow.titled_table("Not read", columns, [Line((row.file, row.reason)) for row in unread])


def _details(flow: Flow, rows: Sequence[Row]) -> None:
    shown = [row for row in rows if row.items]
    if not shown:
        return
    columns = (
        Column("Item", 34),
        Column("Verdict", 18),
        Column("Value", 13, "right"),
        Column("Limit", 13, "right"),
        Column("Margin", 13, "right"),
        Column("Remark", 34),
    )
    flow.heading("Flight by flight", keep_pt=130.0)
    if len(shown) > _MOST_TABLED:
        flow.paragraph(
            f"The items of so many flights ({len(shown)}) stand in results.json, each with its margin."
        )
        return
    if len(shown) > _MOST_DETAILED:
        _item_tables(flow, shown)
        return
    for row in shown:
        attempt = f", attempt {row.attempt} of {row.attempts}" if row.attempts > 1 else ""
        title = f"{row.pilot}: {_result_words(row)}"
        flow.subheading(title, keep_pt=90.0)
        remark = f" ({row.remark})" if row.remark else ""
        told = f"{row.file}{attempt}{remark}. {row.procedure}. {row.reason}"
        flow.paragraph(told, size_pt=SMALL_PT, colour=SOFT)
        flow.table(columns, [Line(_cells(item), bold=_bold(item)) for item in row.items])


def _item_tables(flow: Flow, rows: Sequence[Row]) -> None:
    """Every item of every flight, a line a flight: the value, and its margin in brackets; the limit stands above."""
    flow.paragraph(
        "A line a flight: the value of each item, in brackets its margin. The usual limit stands above; where a flight was "
        f"held to another one, it stands behind the value. {_VERDICT_SIGNS[UNSATISFACTORY]} unsatisfactory, "
        f"{_VERDICT_SIGNS['marginal']} marginal, {NOTHING} not to be assessed, * decided by the examiner. Reasons and "
        "remarks stand in results.json.",
        colour=SOFT,
    )
    flights = Counter(row.pilot for row in rows)
    names = {row.file: row.pilot if flights[row.pilot] == 1 else row.file for row in rows}
    for procedure in dict.fromkeys(row.procedure for row in rows):
        own = [row for row in rows if row.procedure == procedure]
        kinds = list(dict.fromkeys((item.item, item.unit) for row in own for item in row.items))
        for first in range(0, len(kinds), _ITEMS_ACROSS):
            across = kinds[first : first + _ITEMS_ACROSS]
            limits = [_usual_limit(own, kind) for kind in across]
            columns = (
                Column("Flight", 20),
                *(
                    Column(_item_head(kind, limit), 13, "right")
                    for kind, limit in zip(across, limits, strict=True)
                ),
            )
            lines = [
                Line(
                    (
                        shortened(names[row.file], _NAME_PT, TABLE_PT),
                        *(_item_cell(row, *pair) for pair in zip(across, limits, strict=True)),
                    )
                )
                for row in own
            ]
            more = (
                f", items {first + 1} to {first + len(across)} of {len(kinds)}"
                if len(kinds) > _ITEMS_ACROSS
                else ""
            )
            flow.titled_table(f"{procedure}{more}", columns, lines, lesser=True)


_VERDICT_SIGNS = {UNSATISFACTORY: "!", "marginal": "?"}


def _usual_limit(rows: Sequence[Row], kind: tuple[str, str | None]) -> float | None:
    limits = Counter(
        i.limit for row in rows for i in row.items if (i.item, i.unit) == kind and i.limit is not None
    )
    return limits.most_common(1)[0][0] if limits else None


def _item_head(kind: tuple[str, str | None], limit: float | None) -> str:
    name, unit = kind
    return name if limit is None else f"{name}, limit {limit_quantity(limit, unit)}"


def _item_cell(row: Row, kind: tuple[str, str | None], limit: float | None) -> str:
    """The weakest of a flight's items of that name: one may be asked for in several phases."""
    own = [item for item in row.items if (item.item, item.unit) == kind]
    if not own:
        return ""
    item = min(own, key=lambda item: (item.margin is None, item.margin or 0.0))
    unit = item.unit or ""
    other = (
        f" of {number(item.limit, limit_decimals(item.limit, unit))}"
        if item.limit not in (None, limit)
        else ""
    )
    margin = f" ({number(item.margin, decimals_of(unit), signed=True)})" if item.margin is not None else ""
    value = number(item.value, decimals_of(unit))
    if value == NOTHING and item.decided == SATISFACTORY:
        value = "yes"
    star = "*" if item.overruled is not None else ""
    return f"{value}{other}{margin}{_VERDICT_SIGNS.get(item.decided, '')}{star}"


def _bold(item: Item) -> bool:
    return item.required and item.decided in (UNSATISFACTORY, "marginal")


def _cells(item: Item) -> tuple[str, ...]:
    over = item.overruled
    remarks = [f"{over.by}, {over.time[:10]}: {over.because}"] if over is not None else []
    if not item.required:
        remarks.append("advisory")
    if item.reason and not item.reason.startswith("advisory"):
        remarks.append(item.reason.partition("; advisory")[0])
    verdict = item.verdict if over is None else f"{over.result} (machine: {item.verdict})"
    return (
        item.item,
        verdict,
        sided_quantity(item.rule, item.unit, item.value),
        sided_limit(item.rule, item.unit, item.limit),
        quantity(item.margin, item.unit, signed=True),
        "; ".join(remarks),
    )


def _method(results: Results) -> Iterator[str]:
    standard = results.standard
    sums = f"{standard.get('name', '')} ({standard.get('file', '')}, SHA-256 {str(standard.get('sha256', ''))[:16]})"
    yield (
        f"Made by {results.program}. Standard: {sums}. Each log's and each procedure's sum stands in results.json, so that "
        "the same files can be graded again and give the same table."
    )
    yield (
        "Margin is limit less value, negative where the limit was passed. The least margin is that of the required items, "
        "each in the steps in which the standard counts how serious an excess is: +1.00 is one such step inside the limit, "
        f"{MINUS}1.00 one beyond. An item is unsatisfactory only where its limit was passed by more than the measurement's "
        "uncertainty (95 %). What the log does not show is not assessable, which fails nobody."
    )
