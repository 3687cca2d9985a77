"""Cells and small tables of the ride page, made to hold on a phone."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.parts import table
from dashboard.wording import Table

SHORT = 11  # so many characters of two columns find room on a phone


def with_second(text: str, second: str) -> Any:
    """Write a cell with a quiet second line under its text."""
    return html.Div([text, *([html.Span(second, className="ff-second")] if second else [])])


def pairs(made: Table) -> Any:
    """Show front and rear side by side; on a phone a cell may take two lines, broken before its bracket."""
    rows = [[name, *map(_kept, cells)] for name, *cells in made.rows]
    return html.Div(table(made.head, rows, numbers=(1, 2)), className="ff-pairs")


def _kept(text: str) -> Any:
    """Keep a short number and its unit in one line."""
    number, bracket, share = text.partition(" (")
    if not number[:1].isdigit() or len(number) > SHORT:
        return text
    kept: list[Any] = [html.Span(number, className="ff-keep")]
    if bracket:
        kept += [" ", html.Span(f"({share}", className="ff-keep")]
    return html.Div(kept)
