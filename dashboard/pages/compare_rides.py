"""The cards of the before/after page about the riding: which rides, alike or not, what to ride next."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from analysis.comparable import what_is_missing
from dashboard import ids
from dashboard.compare_words import METRIC_LABELS
from dashboard.compared import Compared, Side
from dashboard.likeness_words import alike_lines, likeness_table
from dashboard.pages.compare_parts import fold, lines, placed, roomy
from dashboard.parts import Look, card, text_table
from dashboard.shell import setup_name
from dashboard.units import duration
from ingest.log import Log
from ingest.records import End

PLANNED = ("mean_mm", "p95_mm", "p99_mm", "bottoming_per_10_min", "topping_per_10_min")


def rides(compared: Compared) -> Any:
    """Name the rides of both sides, and say whether all but the setup was alike."""
    comparison = compared.comparison
    sides = (("Before", compared.before), ("After", compared.after))
    alike: list[Any] = []
    if comparison.likeness:
        said = [html.H3("Was all else alike?"), *(html.P(line) for line in alike_lines(comparison))]
        table = text_table(likeness_table(comparison), stack=True)
        alike = [html.Div(said, className="ff-screen"), fold("All else, side by side", table)]
    return roomy("The rides", *(_side(name, side) for name, side in sides), *alike, order=10)


def _side(name: str, side: Side) -> Any:
    links: list[Any] = []
    for log in side.logs:
        links += [html.A(_when(log), href=f"/ride/{log.id}"), f" ({duration(log.duration_s)}), "]
    links[-1] = links[-1].removesuffix(", ")
    return html.P([html.B(f"{name}, {setup_name(side.logs[0])}: "), *links])


def _when(log: Log) -> str:
    return log.started.replace("T", " ")[:16]


def ride_next(compared: Compared) -> list[Any]:
    """Say what to ride or note next; nothing where nothing is missing."""
    missing = what_is_missing(compared.before.logs, compared.after.logs)
    if not missing:
        return []
    said = lines(f"{line[0].upper()}{line[1:]}." for line in missing)
    return [placed(card("What to ride next", said, sub="so that the answer can be believed"), 5)]


def plan_card(compared: Compared, look: Look) -> Any:
    """Offer to plan a test day from the spread already seen."""
    names = [f"{end}_{kind}" for kind in PLANNED for end in End]
    measured = {metric.name for metric in compared.comparison.metrics}
    options = [{"value": name, "label": _asked(name, look)} for name in names if name in measured]
    return html.Details(
        [
            html.Summary(html.H2("Plan a test day")),
            html.P("How many runs, and how long, until a change of this size shows on this bike and route."),
            html.Div(
                [
                    _field(
                        "Which number",
                        ids.DAY_METRIC,
                        dcc.Dropdown(
                            options,
                            options[0]["value"] if options else None,
                            id=ids.DAY_METRIC,
                            clearable=False,
                        ),
                    ),
                    _field(
                        "Change worth seeing",
                        ids.DAY_CHANGE,
                        dcc.Input(
                            id=ids.DAY_CHANGE, type="text", value="5", inputMode="numeric", debounce=True
                        ),
                    ),
                    html.Button("Plan it", id=ids.DAY_PLAN, className="ff-button"),
                ],
                className="ff-pair ff-day",
            ),
            html.Div(id=ids.DAY_SHOWN, role="status"),
        ],
        className="ff-card ff-noprint ff-o11",
    )


def _asked(name: str, look: Look) -> str:
    end, _, kind = name.partition("_")
    unit = f", {look.units}" if kind.endswith("_mm") else ""
    return f"{end}: {METRIC_LABELS[kind]}{unit}"


def _field(label: str, name: str, field: Any) -> Any:
    return html.Div([html.Label(label, htmlFor=name), field], className="ff-field")
