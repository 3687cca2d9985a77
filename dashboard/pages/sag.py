"""One sag check: the sag card of each end, what it says, and the readings behind it."""

from __future__ import annotations

from functools import partial
from typing import Any

from dash import Dash, html

from analysis.effective import effective_bike
from analysis.results import EndSag, SagCheck
from dashboard.answers import Answers
from dashboard.budget_words import budget_line, budget_table, budgets
from dashboard.drawings.sag import sag_card
from dashboard.log_words import log_line
from dashboard.page import Asked, add_page, shell_of
from dashboard.parts import (
    Look,
    button_link,
    card,
    cautions,
    csv_text,
    drawing,
    not_found,
    plate,
    table,
    text_table,
    word,
)
from dashboard.sag_card_words import spring_table
from dashboard.sag_words import friction, sag_cautions
from dashboard.shell import Step, job_bar, setup_name
from dashboard.units import NOTHING, length, length_number, number, percent, quantity
from ingest.log import Kind, Log
from ingest.records import End

LEGEND = (
    "Shaded band: the reading and its doubt; 95 times in 100 the true sag lies inside. "
    "I-bar: friction, from let down gently to pushed and let up. Bracket: target."
)


def register(app: Dash, answers: Answers) -> None:
    """Add the page."""

    def show(asked: Asked, look: Look) -> Any:
        log = answers.header(asked.get("log_id"))
        if log is None or log.kind is not Kind.SAG:
            return shell_of(not_found("There is no such sag check in this book."))
        check = answers.sag(log.id)
        job = answers.job(log.job)
        logs = answers.book.logs(job.id) if job else []
        return [
            job_bar(job, logs, Step.SAG, now="measured"),
            html.Div(
                html.Div(
                    [
                        html.Div(
                            [
                                _card(log, check, look),
                                _springs(log, check, look),
                                _readings(check, look),
                                *doubt_cards(check, look),
                            ]
                        ),
                        html.Div(
                            [
                                _says(check),
                                html.Div(
                                    button_link("Print card", f"/sag/{log.id}/card"), className="ff-buttons"
                                ),
                                *cautions(sag_cautions(check)),
                                _about(log, check),
                            ],
                            className="ff-first",  # on a phone the word comes before the drawing
                        ),
                    ],
                    className="ff-columns ff-wide-left",
                ),
                className="ff-page",
            ),
        ]

    add_page(app, "sag", title="Sag card", path_template="/sag/<log_id>", show=show)


def _ends(check: SagCheck) -> list[tuple[End, EndSag]]:
    both = ((End.FRONT, check.front), (End.REAR, check.rear))
    return [(end, sag) for end, sag in both if sag is not None]


def alt_text(end: End, sag: EndSag, look: Look) -> str:
    """Say in words all a sag card shows."""
    target = NOTHING
    if sag.target_sag_mm is not None:
        target = " to ".join(length_number(value, look.units, 0) for value in sag.target_sag_mm)
    return (
        f"Sag {end}: unladen {quantity(sag.unladen_sag_mm, look.units)}, rider "
        f"{quantity(sag.rider_sag_mm, look.units)}, target {target} {look.units} of "
        f"{length(sag.travel_mm, look.units, 0)} travel, friction {friction(sag, look.units)}: {sag.word}"
    )


def _card(log: Log, check: SagCheck, look: Look) -> Any:
    drawings = []
    for end, sag in _ends(check):
        alt = alt_text(end, sag, look)
        drawings.append(
            drawing(
                partial(sag_card, end, sag, look.units, title=alt),
                look,
                alt=alt,
                name=f"sag_{log.id}_{end}",
                data=_csv(sag),
            )
        )
    return html.Section(
        [
            html.Header([html.H1("Sag card"), html.Span(_what(log), className="ff-quiet ff-grow")]),
            html.Div(drawings, className="ff-drawings"),
            html.P(LEGEND, className="ff-quiet"),
            _table(check, look),
        ],
        className="ff-card",
    )


def _what(log: Log) -> str:
    parts = [log.started.replace("T", " ")[:16], setup_name(log)]
    if log.rider is not None:
        parts.append(log.rider.name)
    return " · ".join([*parts, *([log.load_case] if log.load_case else [])])


def _csv(sag: EndSag) -> str:
    head = ("phase", "side", "start_s", "end_s", "travel_mm", "spread_mm")
    return csv_text(
        head, [(r.phase, r.side, r.start_s, r.end_s, r.travel_mm, r.spread_mm) for r in sag.readings]
    )


def _table(check: SagCheck, look: Look) -> Any:
    unit = look.units
    beside = {
        "feet down": [sag.feet_down_sag_mm for _, sag in _ends(check)],
        "rolling": [sag.rolling_sag_mm for _, sag in _ends(check)],
    }
    marked = [name for name, sags in beside.items() if any(sag is not None for sag in sags)]
    head = (
        "",
        f"unladen {unit}",
        f"rider {unit}",
        "% of travel",
        *(f"{name} {unit}" for name in marked),
        f"target {unit}",
        f"friction {unit}",
        "in a word",
    )
    rows = []
    for row, (end, sag) in enumerate(_ends(check)):
        target = NOTHING
        if sag.target_sag_mm is not None:
            target = "–".join(length_number(value, unit, 0) for value in sag.target_sag_mm)
        rows.append(
            [
                plate(end, short=True),
                quantity(sag.unladen_sag_mm, unit),
                html.B(quantity(sag.rider_sag_mm, unit)),
                number(sag.rider_sag_percent, 1),
                *(quantity(beside[name][row], unit) for name in marked),
                target,
                friction(sag, unit).removesuffix(f" {unit}"),
                word(sag.word, look),
            ]
        )
    return table(head, rows, numbers=range(1, 6 + len(marked)), stack=True)


def _says(check: SagCheck) -> Any:
    lines = list(check.advice) or ["Nothing to advise from this check."]
    first = html.P(html.B(lines[0]), style={"fontSize": "18px"})
    rest = [html.Ul([html.Li(line) for line in lines[1:]])] if len(lines) > 1 else []
    return html.Section([html.H2("What this says"), first, *rest], className="ff-card ff-answer")


def _readings(check: SagCheck, look: Look) -> Any:
    unit = look.units
    rows = [
        [
            plate(end, short=True),
            reading.phase + (f", {reading.side}" if reading.side else ""),
            f"{number(reading.start_s, 1)} to {number(reading.end_s, 1)}",
            length_number(reading.travel_mm, unit),
            length_number(reading.spread_mm, unit, 2),
        ]
        for end, sag in _ends(check)
        for reading in sag.readings
    ]
    head = ("", "held still as", "from–to s", f"read {unit}", f"spread {unit}")
    return card("Readings", table(head, rows, numbers=(2, 3, 4)), sub="each still span, as it was taken")


def _springs(log: Log, check: SagCheck, look: Look) -> Any:
    """Say wheel rate, preload now and its change, and whether the spring fits, as the printed card does."""
    made = spring_table(check, effective_bike(log.bike, log.setup), look.units)
    return card("Preload and springs", text_table(made))


def doubt_cards(check: SagCheck, look: Look) -> list[Any]:
    """Give one card an end, of its rider sag where there is one: what makes the doubt, what shrinks it."""
    cards = []
    latest = {name.split(",")[0]: (name, budget) for name, budget in budgets(check)}
    for name, budget in latest.values():
        shown = budget_table(budget, look.units)
        head = (
            "",
            f"share of ± {length_number(budget.expanded_uncertainty_mm, look.units)}",
            *shown.head[2:],
        )
        body = [
            table(head, [list(row) for row in shown.rows], numbers=(1, 2)),
            html.P(budget_line(budget, look.units), className="ff-quiet ff-small"),
        ]
        cards.append(card(f"Where the doubt comes from, {name}", html.Div(body)))
    return cards


def _about(log: Log, check: SagCheck) -> Any:
    lines = [log_line(log), *(f"amended: {text}" for text in check.amendments)]
    shares = [
        f"{end}: unladen {percent(sag.unladen_sag_percent)} of the travel"
        for end, sag in _ends(check)
        if sag.unladen_sag_percent is not None
    ]
    return html.Div([html.P(line, className="ff-quiet ff-small") for line in [*lines, *shares]])
