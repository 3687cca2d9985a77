"""The customer's report on paper: the answer first, what was measured, what it costs, signatures last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from dash import html

from analysis.as_done import Done
from dashboard import proof_words
from dashboard import report_words as words
from dashboard.drawings.side_view import side_view
from dashboard.drawings.svg import data_uri
from dashboard.hand_over import hand_over
from dashboard.pages.report_measured import measured_card
from dashboard.parts import Children, table
from dashboard.report_job import Reported, Visited
from dashboard.setup_words import side_by_side
from dashboard.shell import bike_line
from dashboard.theme import PRINT
from dashboard.units import Units, mass, sentence
from ingest.version import SOFTWARE

TOLD = ("rider_sag_mm", "seat_drop_mm", "seat_drop_taped_mm", "wanted_mm")
"""What a rider asks of a plan; the rest only where it differs."""
VIEWS = {"ff-screen": 340.0, "ff-print": 440.0}
"""How wide the side view is drawn: on a screen it stands as large as it is, on paper it is made to fit."""
CAPTION = "To scale, rider aboard. Dashed: before. Solid: after."
MEASURED_AGAIN = "new table"


def sheet(reported: Reported, units: Units) -> Any:
    """Build the report: paper, black on white in either theme."""
    return html.Article(
        [
            _head(reported),
            _answer(reported, units),
            measured_card(reported, units),
            *_work(reported, units),
            *_proof(reported, units),
            _settings(reported, units),
            *_hand_over(reported, units),
            _signatures(reported),
            html.Footer(html.P(words.foot(reported, SOFTWARE))),
        ],
        className="ff-card ff-report",
    )


def _head(reported: Reported) -> Any:
    job, logs = reported.job, reported.logs
    date = logs[-1].started[:10] if logs else ""
    return html.Header(
        [
            html.Div([html.B(words.shortened(reported.shop, 60)), html.Span(f"for {_who(reported)}")]),
            html.Div([html.B(f"Job {job.id} · {date}"), html.Span(words.shortened(bike_line(job), 80))]),
        ],
        className="ff-report-head",
    )


def _who(reported: Reported) -> str:
    return words.shortened(reported.job.rider.name, 60)


def _answer(reported: Reported, units: Units) -> Any:
    said: list[Any] = [html.H1(words.headline(reported, units))]
    said += [html.P(line) for line in words.answer_lines(reported, units)]
    return html.Section([html.Div(said), *_view(reported, units)], className="ff-report-answer")


def _view(reported: Reported, units: Units) -> list[Any]:
    if reported.views is None:
        return []
    before, after = reported.views
    alt = "The bike from the side, before and after, to scale"
    drawn = [
        html.Img(
            src=data_uri(side_view(before, after, units, PRINT, title=alt, px_wide=wide)),
            alt=alt,
            className=kind,
        )
        for kind, wide in VIEWS.items()
    ]
    return [html.Figure([*drawn, html.Div(CAPTION)])]


def part(title: str, *children: Children) -> Any:
    """Make a part of the report under its heading."""
    return html.Section([html.H2(title), *children], className="ff-report-part")


def _halves(left: Any, right: Any) -> Any:
    return html.Div([left, right], className="ff-report-halves")


def _work(reported: Reported, units: Units) -> list[Any]:
    if reported.after is None:
        return []
    left = _changed(reported, reported.after, units)
    return [left] if reported.done is None else [_halves(left, _costs(reported, reported.done, units))]


def _changed(reported: Reported, after: Visited, units: Units) -> Any:
    states = [("before", reported.before.now), ("after", after.now)]
    made = side_by_side(states, units, only_changes=True)
    rows = [("setup", reported.before.name, after.name)]
    for name, was, now in made.rows:
        rows.append((name, "", MEASURED_AGAIN) if name.endswith("leverage") else (name, was, now))
    return part("What we changed", _pairs(("", "before", "after"), rows))


def _costs(reported: Reported, done: Done, units: Units) -> Any:
    rows, missing = words.cost_rows(reported, units)
    back = html.P([html.B("Can it go back up? "), words.capital(words.way_back(done)), "."])
    gone = f"Not measured: {', '.join(name.lower() for name in missing)}." if missing else ""
    shown = [_pairs(("", "before", "after"), rows)] if rows else []
    return part("What it costs you", *shown, back, *([html.P(gone)] if gone else []))


def _pairs(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Any:
    cells = [(name, was, html.B(now)) for name, was, now in rows]
    return table(head, cells, numbers=(1, 2))


def _proof(reported: Reported, units: Units) -> list[Any]:
    said = [html.P(line) for line in words.proof_lines(reported)]
    if reported.proved is None:
        return said
    proof = reported.proved.proof
    told = [one for one in proof.promises if one.measured and (one.name in TOLD or one in proof.differs)]
    made = proof_words.proof_table(replace(proof, promises=tuple(told)), units)
    return [part("Plan against measurement", *said, table(made.head, made.rows, numbers=(1, 2, 3, 4)))]


def _settings(reported: Reported, units: Units) -> Any:
    last = reported.last
    weighs = reported.job.rider.mass_kg
    rider = "" if weighs is None else f" for {mass(weighs, units)} in gear"
    lines = [
        html.P([html.B(f"{words.capital(end)}: "), text]) for end, text in words.settings(last.now, units)
    ]
    return part(f"Settings now: {words.shortened(last.name, 40)}{rider}", *lines)


def _hand_over(reported: Reported, units: Units) -> list[Any]:
    mind = _mind(reported, units)
    return [mind] if reported.done is None else [_halves(_ticks(reported.done, units), mind)]


def _ticks(done: Done, units: Units) -> Any:
    option = replace(done.option, gives_up=(words.TOLD,))
    lines = [
        html.Li([html.Span(className="ff-box"), html.Span([tick.what, *_should(tick.should_be, units)])])
        for tick in hand_over(option, units, "measured")
    ]
    return part("Handed over and ticked", html.Ul(lines, className="ff-report-ticks"))


def _should(text: str | None, units: Units) -> list[Any]:
    return [] if text is None else [" ", html.B(words.capital(sentence(text, units)) + ".")]


def _mind(reported: Reported, units: Units) -> Any:
    return part("Please mind", html.Ul([html.Li(line) for line in words.mind_lines(reported, units)]))


def _signatures(reported: Reported) -> Any:
    rider = "rider, date" if reported.after is None else "rider: height approved, told what to mind; date"
    return html.Div([html.Div("for the shop, date"), html.Div(rider)], className="ff-report-sign")
