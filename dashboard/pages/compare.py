"""Before and after: the answer first, then the paired rulers, what was changed, and the numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import Any

from dash import Dash, html

from analysis.compare_results import Comparison, Metric
from analysis.effective import effective_bike
from analysis.ride_results import EndRide, RideSummary
from dashboard.answers import Answers
from dashboard.compare_words import METRIC_LABELS, comparison_table, split_metric, uses_its_travel, verdict
from dashboard.drawings.paired import TALL_PX, Places, paired_ruler
from dashboard.page import Asked, add_page, shell_of
from dashboard.parts import Look, card, cautions, csv_text, drawing, not_found, plate, table
from dashboard.setup_words import side_by_side
from dashboard.shell import MOST_COMPARED, STEPS, job_bar, setup_name
from dashboard.units import length
from ingest.errors import UsageError
from ingest.log import Log
from ingest.records import End


def register(app: Dash, answers: Answers) -> None:
    """Add the page."""

    def show(asked: Asked, look: Look) -> Any:
        wanted = [
            [log_id for log_id in asked.get(side, "").split(",") if log_id] for side in ("before", "after")
        ]
        if max(map(len, wanted)) > MOST_COMPARED:
            raise UsageError(f"more than {MOST_COMPARED} rides a side cannot be compared here: choose fewer")
        before, after = ([answers.header(log_id) for log_id in side] for side in wanted)
        was, now = [log for log in before if log], [log for log in after if log]
        if not was or not now or len(was) < len(before) or len(now) < len(after):
            return shell_of(not_found("One of the rides to compare is not in this book."))
        comparison = answers.comparison([log.id for log in was], [log.id for log in now])
        job = answers.job(now[0].job)
        logs = answers.book.logs(job.id) if job else []
        return [
            job_bar(job, logs, STEPS[3], now="read it"),
            html.Div(
                html.Div(
                    [
                        html.Div(
                            [
                                _answer(comparison),
                                *cautions(comparison.cautions),
                                _changed(was[0], now[0], look),
                                _rides(was, now),
                            ]
                        ),
                        html.Div([_rulers(comparison, look), _metrics(comparison, was, now, look)]),
                    ],
                    className="ff-columns ff-wide-right",
                ),
                className="ff-page",
            ),
        ]

    add_page(app, "compare", title="Before and after", path="/compare", show=show)


def _answer(comparison: Comparison) -> Any:
    said = comparison.answer
    short = {"yes": "Yes.", "no": "No."}.get(said.uses_its_travel, "Cannot tell.")
    return html.Section(
        [
            html.P("Does the bike use its travel after the work?", className="ff-quiet"),
            html.H1([html.B(short), html.Span(f" {uses_its_travel(said)}")], className="ff-verdict"),
            html.P(html.B(verdict(said))),
            html.Ul([html.Li(line) for line in said.because]),
        ],
        className="ff-card ff-answer",
    )


def _changed(before: Log, after: Log, look: Look) -> Any:
    states = [
        ("before", effective_bike(before.bike, before.setup)),
        ("after", effective_bike(after.bike, after.setup)),
    ]
    made = side_by_side(states, look.units, only_changes=True)
    rows: list[tuple[Any, ...]] = [("setup", setup_name(before), html.B(setup_name(after)))]
    rows += [(name, was, html.B(now)) for name, was, now in made.rows]
    for name, was, now in (
        ("rider", before.rider and before.rider.name, after.rider and after.rider.name),
        ("load", before.load_case, after.load_case),
    ):
        if was or now:
            rows.append((name, was or "not said", now or "not said"))
    return card("What was changed", table(("", "before", "after"), rows))


def _rides(before: Sequence[Log], after: Sequence[Log]) -> Any:
    lines = [
        html.P(
            [
                f"{side}: ",
                html.A(f"{setup_name(log)}, {log.started.replace('T', ' ')[:16]}", href=f"/ride/{log.id}"),
            ]
        )
        for side, logs in (("before", before), ("after", after))
        for log in logs
    ]
    return card("The rides", *lines)


def _first(rides: Sequence[RideSummary], end: End) -> EndRide | None:
    return next(
        (r for ride in rides if (r := ride.front if end is End.FRONT else ride.rear) is not None), None
    )


def _places(comparison: Comparison, end: End, rides: Sequence[RideSummary], *, after: bool) -> Places | None:
    """Take what a ruler shows from the metrics, so that drawing and table say the same."""
    of_end = {
        name: metric
        for metric in comparison.metrics
        for side, name in [split_metric(metric.name)]
        if side is end
    }
    first = _first(rides, end)
    if first is None or not {"mean_mm", "p95_mm", "travel_used_mm"} <= set(of_end):
        return None

    def value(metric: Metric) -> float:
        return metric.after if after else metric.before

    return Places(
        travel_mm=first.travel_mm,
        mean_mm=value(of_end["mean_mm"]),
        p95_mm=value(of_end["p95_mm"]),
        travel_used_mm=value(of_end["travel_used_mm"]),
    )


def _rulers(comparison: Comparison, look: Look) -> Any:
    pairs = [
        (end, was, now)
        for end in End
        if (was := _places(comparison, end, comparison.before, after=False)) is not None
        if (now := _places(comparison, end, comparison.after, after=True)) is not None
    ]
    scale = TALL_PX / max((max(was.travel_mm, now.travel_mm) for _, was, now in pairs), default=1.0)
    drawings = []
    for end, was, now in pairs:
        alt = f"{end}, before: {_said(was, look)}; after: {_said(now, look)}"
        drawings.append(
            drawing(
                partial(paired_ruler, end, was, now, look.units, px_per_mm=scale, title=alt),
                look,
                alt=alt,
                name=f"before_after_{end}",
                data=csv_text(
                    ("what", "before_mm", "after_mm"),
                    [
                        (field, getattr(was, field), getattr(now, field))
                        for field in ("travel_mm", "mean_mm", "p95_mm", "travel_used_mm")
                    ],
                ),
            )
        )
    return card(
        f"Travel, {look.units}",
        html.Div(drawings, className="ff-drawings"),
        sub="left, dashed: before · right, solid: after",
    )


def _in_pairs(rows: Iterable[tuple[Metric, tuple[str, ...]]]) -> list[tuple[Metric, tuple[str, ...]]]:
    """Put rear under front of the same metric."""
    order = list(METRIC_LABELS)

    def place(row: tuple[Metric, tuple[str, ...]]) -> tuple[int, str]:
        name = split_metric(row[0].name)[1]
        return (order.index(name) if name in order else len(order), name)

    return sorted(rows, key=place)  # sorted keeps front before rear


def _name(name: str, unit: str) -> str:
    """Name a metric with its unit, unless its name says it."""
    label = METRIC_LABELS.get(name, name)
    return label if not unit or unit.startswith("per ") else f"{label}, {unit}"


def _said(places: Places, look: Look) -> str:
    return (
        f"rides at {length(places.mean_mm, look.units)}, "
        f"5 % of the time past {length(places.p95_mm, look.units)}, "
        f"deepest {length(places.travel_used_mm, look.units)} of {length(places.travel_mm, look.units, 0)}"
    )


def _metrics(comparison: Comparison, before: Sequence[Log], after: Sequence[Log], look: Look) -> Any:
    made = comparison_table(comparison, look.units)
    rows = []
    for metric, (_, *cells) in _in_pairs(zip(comparison.metrics, made.rows, strict=True)):
        end, name = split_metric(metric.name)
        was, now, change, interval, unit, said = cells
        rows.append(
            [
                _name(name, unit),
                plate(end, short=True),
                was,
                html.B(now),
                change,
                interval,
                html.B(said) if metric.changed else html.Span(said, className="ff-quiet"),
            ]
        )
    head = ("", "end", "before", "after", "change", "95 in 100: it lies in", "in a word")
    sub = f"{len(before)} before, {len(after)} after"
    return card("Measured", table(head, rows, numbers=range(2, 6), stack=True), sub=sub)
