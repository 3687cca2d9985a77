"""The parts the pages are put together from: cards, tables, plates, words, drawings and faults."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from dash import dcc, html

from dashboard.drawings.little import little_ruler
from dashboard.drawings.svg import data_uri
from dashboard.theme import PRINT, Palette, Theme, palette
from dashboard.units import Units
from dashboard.wording import Table
from ingest.records import End

Children = Any  # what Dash takes as children: a component, a text, or a list of both


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a person wants it shown."""

    units: Units
    theme: Theme

    @property
    def colours(self) -> Palette:
        """The colours for drawings and figures."""
        return palette(self.theme)


def named(label: str) -> dict[str, Any]:
    """Give the name by which a screen reader calls a part of the page."""
    return {"aria-label": label}


def look_of(units: object, theme: object) -> Look:
    """Read what the browser sent; what is not known is taken as the first choice."""
    return Look(
        units=Units.IN if units == Units.IN else Units.MM,
        theme=Theme.DARK if theme == Theme.DARK else Theme.LIGHT,
    )


def card(title: Children, *children: Children, sub: Children = None, links: Sequence[Children] = ()) -> Any:
    """Make a card with its title, a quiet line beside it and links at the right."""
    head: list[Any] = [html.H2(title, className="" if sub is not None else "ff-grow")]
    if sub is not None:
        head.append(html.Span(sub, className="ff-quiet ff-grow"))
    return html.Section([html.Header([*head, *links]), *children], className="ff-card")


def page_head(title: str, sub: str | None = None, *actions: Children) -> Any:
    """Make the line above the cards: the page's title and its buttons."""
    return html.Div(
        [
            html.H1(title),
            html.Span(sub or "", className="ff-quiet ff-grow"),
            *([html.Div(list(actions), className="ff-buttons")] if actions else []),
        ],
        className="ff-head",
    )


def button_link(text: str, href: str, *, main: bool = False) -> Any:
    """Make a link that looks like a button."""
    return dcc.Link(text, href=href, className="ff-button ff-main" if main else "ff-button")


def open_link(what: str, href: str) -> Any:
    """Make the link that opens a row of a table; the eye reads *Open*, a screen reader all of it."""
    return dcc.Link(["Open", html.Span(f" {what}", className="ff-hidden")], href=href)


def plate(end: End, *, short: bool = False) -> Any:
    """Make the plate of an end: FRONT, or REAR in its double frame."""
    text = end.value[0].upper() if short else end.value.upper()
    return html.Span(text, className=f"ff-plate {end.value}", title=end.value)


def word(text: str, look: Look) -> Any:
    """Write a word of judgement with its little ruler before it."""
    images = [
        html.Img(src=data_uri(little_ruler(text, colours)), alt="", className=name, width=26, height=26)
        for colours, name in ((look.colours, "ff-screen"), (PRINT, "ff-print"))
    ]
    return html.Span([*images, text], className="ff-word")


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[Children]],
    *,
    numbers: Iterable[int] = (),
    stack: bool = False,
) -> Any:
    """Make a table whose first cell names the row; ``numbers`` are the columns with figures.

    On a phone it scrolls inside its card, or with ``stack`` each row becomes a block.
    """
    right = set(numbers)

    def cell(index: int, text: Children) -> Any:
        extra: dict[str, Any] = {"data-head": head[index]}
        if index == 0:
            return html.Th(text, scope="row", **extra)
        return html.Td(text, className="n" if index in right else "", **extra)

    titles = [
        html.Th(text, scope="col", className="n" if index in right else "") for index, text in enumerate(head)
    ]
    body = [html.Tr([cell(index, text) for index, text in enumerate(row)]) for row in rows]
    return html.Div(
        html.Table([html.Thead(html.Tr(titles)), html.Tbody(body)], className="ff-stack" if stack else ""),
        className="ff-scroll",
        tabIndex="0",
    )


def text_table(made: Table, *, numbers: Iterable[int] = (), stack: bool = False) -> Any:
    """Show a table of `dashboard.wording`."""
    return table(made.head, made.rows, numbers=numbers, stack=stack)


def drawing(draw: Callable[[Palette], str], look: Look, *, alt: str, name: str, data: str | None) -> Any:
    """Show a drawing on the screen in the chosen theme and on paper in black, with links to save it."""
    images = [
        html.Img(src=data_uri(draw(colours)), alt=text, className=kind)
        for colours, text, kind in ((look.colours, alt, "ff-screen"), (PRINT, "", "ff-print"))
    ]
    links = [save_button("SVG", f"{name}.svg", None)]
    if data is not None:
        links.append(save_button("Data", f"{name}.csv", data))
    return html.Figure([*images, html.Figcaption(links)], className="ff-drawing")


def save_button(text: str, file_name: str, data: str | None) -> Any:
    """Make the link that saves a drawing, or the numbers given as ``data``; `assets/save.js` does it."""
    extra: dict[str, Any] = {"data-save": file_name} | ({} if data is None else {"data-csv": data})
    return html.Button(text, type="button", className="ff-link", title=f"save {file_name}", **extra)


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write rows as CSV after RFC 4180."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(["" if cell is None else cell for cell in row] for row in rows)
    return out.getvalue()


def cautions(lines: Sequence[str]) -> list[Any]:
    """Make the caution box, nothing where there is nothing to say."""
    if not lines:
        return []
    return [
        html.Section(
            [html.H2("Mind this"), html.Ul([html.Li(line) for line in lines])], className="ff-card ff-caution"
        )
    ]


def fault(what: str, do: str, *, href: str = "/", link: str = "All jobs") -> Any:
    """Say what happened and what to do, with one way on."""
    return html.Section(
        [html.H2("This cannot be shown"), html.P(what), html.P(do), button_link(link, href, main=True)],
        className="ff-card ff-fault",
        role="alert",
    )


def not_found(what: str) -> Any:
    """Say that the book does not have what the address names."""
    return fault(what, "Nothing is lost. Choose it from the list of jobs.")
