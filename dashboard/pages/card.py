"""The sag card on one sheet of paper: the answer, both rulers, the numbers, how it was taken, who signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dash import Dash, html

from analysis.effective import effective_bike
from analysis.results import SagCheck
from analysis.sag_advice import SAFETY
from dashboard import sag_card_words as words
from dashboard.answers import Answers
from dashboard.drawings.sag import sag_card
from dashboard.drawings.svg import data_uri
from dashboard.page import Asked, add_page, shell_of
from dashboard.pages.sag import LEGEND, alt_text
from dashboard.parts import Look, button_link, not_found, plate, table, word
from dashboard.safety import GEOMETRY_LIMITS
from dashboard.sag_words import sag_cautions
from dashboard.shell import setup_name
from dashboard.theme import PRINT, Theme
from dashboard.wording import Table, shortened
from ingest.log import Kind, Log
from ingest.records import Bike, End

RULER_PX = 150.0  # height of the torn ruler: two of them leave room for the numbers on one sheet
ROWS = 35  # lines of text beside what is always there, on the shorter of A4 and Letter
LEAST = 4  # lines that advice and cautions have at the least; what does not fit is on the sag page


def register(app: Dash, answers: Answers) -> None:
    """Add the page.

    Dash tries addresses in the order of the pages' names and lets ``<log_id>`` swallow a slash: this page is
    called card so that it is tried before the sag page.
    """

    def show(asked: Asked, look: Look) -> Any:
        log = answers.header(asked.get("log_id"))
        if log is None or log.kind is not Kind.SAG:
            return shell_of(not_found("There is no such sag check in this book."))
        return html.Div([_buttons(log), _sheet(answers, log, look)], className="ff-page")

    add_page(app, "card", title="Sag card", path_template="/sag/<log_id>/card", show=show)


def _buttons(log: Log) -> Any:
    prints: dict[str, Any] = {"data-print": "page"}  # assets/print.js
    press = html.Button("Print", type="button", className="ff-button ff-main", **prints)
    return html.Div([press, button_link("Back to the sag check", f"/sag/{log.id}")], className="ff-buttons")


def _sheet(answers: Answers, log: Log, look: Look) -> Any:
    check = answers.sag(log.id)
    return sheet(answers.book.shop, log, check, effective_bike(log.bike, log.setup), look)


def sheet(shop: str, log: Log, check: SagCheck, bike: Bike, look: Look) -> Any:
    """Build the sheet; ``bike`` is the bike under the log's setup. It is paper, white in either theme.

    Advice and cautions get the lines that numbers, settings and notes leave, so that it stays one sheet.
    """
    paper = replace(look, theme=Theme.LIGHT)
    numbers = words.measured_table(check, bike, paper.units)
    taken, settings = words.taken_rows(log, paper.units), words.settings_rows(bike, paper.units)
    room = ROWS - words.table_rows(numbers) - max(map(words.listed_rows, (taken, settings)))
    advice, cautions = words.other_advice(check), sag_cautions(check)
    wanted = sum(words.rows_of(line, words.LINE_CHARS) for line in cautions)
    for_cautions = min(wanted, max(LEAST, room // 2))
    for_advice = max(LEAST, room - for_cautions)
    setup = shortened(setup_name(log), 40)
    return html.Article(
        [
            _head(shop, log),
            html.Div(
                [
                    html.H1(words.headline(check)),
                    html.P(html.B(words.seat_line(check, bike, paper.units))),
                    _lines(advice, for_advice),
                ],
                className="ff-sheet-answer",
            ),
            _rulers(check, paper),
            _numbers(numbers, paper),
            html.Div(
                [_list("How it was taken", taken), _list(f"Settings: {setup}", settings)],
                className="ff-sheet-halves",
            ),
            *([html.Section([html.H2("Mind this"), _lines(cautions, for_cautions)])] if cautions else []),
            html.Div(
                [html.P([html.B("Safety: "), SAFETY, " ", GEOMETRY_LIMITS]), _signatures()],
                className="ff-sheet-end",
            ),
            _foot(log, check),
        ],
        className="ff-card ff-sheet",
    )


def _head(shop: str, log: Log) -> Any:
    job = "no job" if log.job is None else f"Job {log.job}"
    date = log.started.replace("T", " ")[:16]
    return html.Div(
        [
            html.Div([html.B(shortened(shop, 60)), html.Span("Sag card")]),
            html.Div([html.B(job), html.Span(date)]),
        ],
        className="ff-sheet-head",
    )


def _lines(lines: Sequence[str], rows: int) -> Any:
    shown, more = words.fitting(lines, rows)
    if more:
        shown, more = words.fitting(lines, rows - 1)  # the line that counts the rest takes one too
    if lines and not shown:
        shown, more = (shortened(lines[0], words.LINE_CHARS * (rows - 1)),), len(lines) - 1
    rest = [f"… and {more} more on the sag page of this log."] if more else []
    return html.Ul([html.Li(line) for line in (*shown, *rest)])


def _rulers(check: SagCheck, look: Look) -> Any:
    drawn: list[Any] = []
    for end, found in words.ends_of(check):
        if found is None:
            drawn.append(html.Div([plate(end), html.P("not measured")], className="ff-sheet-none"))
            continue
        alt = alt_text(end, found, look)
        picture = sag_card(end, found, look.units, PRINT, title=alt, height_px=RULER_PX)
        drawn.append(html.Img(src=data_uri(picture), alt=alt))
    return html.Div(drawn, className="ff-sheet-rulers")


def _numbers(made: Table, look: Look) -> Any:
    rows = [
        (name, *(word(cell, look) if name == words.WORD_ROW and cell != "–" else cell for cell in cells))
        for name, *cells in made.rows
    ]
    return table(("sag", *End), rows)


def _list(title: str, pairs: Sequence[tuple[str, str]]) -> Any:
    listed: list[Any] = []
    for name, text in pairs:
        listed += [html.Dt(name), html.Dd(text)]
    return html.Section([html.H2(title), html.Dl(listed)])


def _signatures() -> Any:
    lines = [html.Div(html.Span(text)) for text in ("for the shop, date", "rider, date")]
    return html.Div(lines, className="ff-sheet-sign")


def _foot(log: Log, check: SagCheck) -> Any:
    amended = f" Amended: {shortened('; '.join(check.amendments), 120)}." if check.amendments else ""
    log_id, software = log.id, check.software or "flatfoot"
    return html.P(f"{LEGEND} Log {log_id}, {software}.{amended}", className="ff-sheet-small")
