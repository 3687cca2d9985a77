"""Parts of the before/after page: a table with the rear under the front, and folds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from dash import html

from dashboard.parts import Children, plate
from ingest.records import End

Group = tuple[Children, Sequence[tuple[End | None, Sequence[Children]]]]
"""A name, and for each end its cells; ``None`` in place of the end is the bike as a whole."""


def pair_table(
    head: Sequence[str], groups: Iterable[Group], *, numbers: Iterable[int] = (), kind: str = ""
) -> Any:
    """Make a table of named groups, the rear's row under the front's.

    ``head`` begins with the name's column and the end's column, and may hold a second line after a line end;
    ``numbers`` counts from the cell after those two.
    On a phone the name stands over its rows (`assets/compare.css`).
    """
    right = {index + 2 for index in numbers}
    titles = [
        html.Th(second(*text.split("\n")), scope="col", className="n" if index in right else "")
        for index, text in enumerate(head)
    ]
    bodies = [html.Tbody(_rows(name, rows, right)) for name, rows in groups]
    return html.Div(
        html.Table([html.Thead(html.Tr(titles)), *bodies], className=f"ff-pairs-table {kind}".strip()),
        className="ff-scroll",
        tabIndex="0",
    )


def _rows(
    name: Children,
    rows: Sequence[tuple[End | None, Sequence[Children]]],
    right: set[int],
) -> list[Any]:
    made = []
    for number, (end, cells) in enumerate(rows):
        row: list[Any] = []
        if number == 0:
            row.append(html.Th(name, scope="rowgroup", rowSpan=len(rows)))
        row.append(html.Td("" if end is None else plate(end, short=True), className="end"))
        for index, cell in enumerate(cells, 2):
            row.append(html.Td(cell, className="n" if index in right else ""))
        made.append(html.Tr(row))
    return made


def second(text: Children, under: str = "") -> Any:
    """Write a cell with a quiet second line under its text."""
    return [text, html.Span(under, className="ff-second")] if under else text


def fold(title: str, *children: Children, kind: str = "ff-fold") -> Any:
    """Fold something away; what is an `ff-fold` is printed unfolded (`assets/print.js`)."""
    return html.Details([html.Summary(title), *children], className=kind)


def lines(said: Iterable[Children]) -> Any:
    """Make a list of sentences."""
    return html.Ul([html.Li(line) for line in said])


def placed(made: Any, order: int) -> Any:
    """Give a card its place on a phone, where the columns are one."""
    made.className = f"{made.className} ff-o{order}"
    return made


def roomy(title: str, *children: Children, order: int, sub: str = "") -> Any:
    """Make a card that is open where there is room and folded on a phone (`assets/compare.js`)."""
    head = [html.H2(title), *([html.Span(sub, className="ff-quiet")] if sub else [])]
    return html.Details([html.Summary(head), *children], className=f"ff-card ff-fold ff-roomy ff-o{order}")
