"""Travel over time as a plotly figure: front above rear, topped out at the top.

The figure is a list of traces made for the stretch in view; zooming makes them again for another stretch,
so that what is shown and what is shown closer can never differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import plotly.graph_objects as go
from dash import Patch

from analysis.motion import EndMotion
from analysis.ride_results import EndRide, RideSummary, Span
from dashboard.parts import Look
from dashboard.ride_events import NumberedEvent, numbered_events
from dashboard.travel_points import View, thinned, time_ticks, whole_view
from dashboard.travel_rows import DEEP, TEXT_PX, Row, Rows, axis, layout
from dashboard.travel_spans import Drawn, Lane, Word, drawn, lanes, left_out, mark_words, span_words
from dashboard.units import in_units
from ingest.log import Log
from ingest.records import End

SQUARES = 11  # as many event squares fit side by side on a phone
NAMED_MARKS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All a figure shows: what was measured, what it says, how it is shown.

    ``names`` are the titles of the sections, by the time of the mark each begins at.
    """

    motions: Mapping[End, EndMotion]
    ride: RideSummary
    log: Log
    look: Look
    names: Mapping[float, str] = field(default_factory=dict)

    def result(self, end: End) -> EndRide | None:
        """Give what one end did."""
        return self.ride.end(end)

    def left_out(self, end: End) -> list[Span]:
        """Give what was left out of one end."""
        return left_out(self.log, self.result(end))

    def marks(self) -> list[tuple[float, str]]:
        """Give when somebody marked, and what was said; with its number where a section begins there."""
        marks = self.log.marks[:NAMED_MARKS]
        return [(mark.t_s, self.names.get(mark.t_s, mark.text)) for mark in marks]

    def row(self, end: End) -> Row:
        """Give the row of one end: a line for what was left out, in the first another for the marks."""
        words = bool(self.left_out(end)) + (bool(self.marks()) and end == next(iter(self.motions)))
        return Row(full=in_units(self.motions[end].travel_mm, self.look.units), word_lines=words)

    def stop(self, end: End) -> float:
        """Give where the travel of one end stops, as shown: where it was found, else the nominal travel."""
        result = self.result(end)
        found = result.found_travel_mm if result else None
        return in_units(self.motions[end].travel_mm if found is None else found, self.look.units)


def travel_figure(scene: Scene) -> Any:
    """Draw the travel of the ends that were measured, over the whole of the log."""
    view = whole_view(scene.motions)
    rows = Rows(
        rows=tuple(scene.row(end) for end in scene.motions),
        lanes=tuple(lane.name for lane in lanes(scene.ride)),
    )
    figure = go.Figure(data=list(_traces(scene, view)), layout=layout(rows, view, scene.look))
    for index, end in enumerate(scene.motions):
        for plate in _plates(end, rows.domain(index)[1], scene.look):
            figure.add_annotation(plate)
        result = scene.result(end)
        if result is not None:
            at = in_units(result.mean_mm, scene.look.units)
            for colour, width in ((scene.look.colours.steel, 4), (scene.look.colours.ink, 1.5)):
                figure.add_hline(at, line={"color": colour, "width": width}, yref=axis(index))
    for at_s, _ in scene.marks():
        low = rows.domain(len(rows.rows) - 1)[0]
        figure.add_shape(
            type="line", x0=at_s, x1=at_s, yref="paper", y0=low, y1=rows.domain(0)[1],
            line={"color": scene.look.colours.ink, "width": 1.2},
        )  # fmt: skip
    return figure


def zoomed(scene: Scene, view: View) -> Patch:
    """Give the change that shows another stretch of the same figure."""
    change = Patch()
    for place, trace in enumerate(_traces(scene, view)):
        change["data"][place].update({"x": trace.x, "y": trace.y})
        if trace.text is not None:
            change["data"][place].update({"text": trace.text, "textposition": trace.textposition})
    at, text = time_ticks(view)
    change["layout"]["xaxis"].update({"range": list(view), "tickvals": at, "ticktext": text})
    return change


def _traces(scene: Scene, view: View) -> Iterator[Any]:
    """Make every trace for a stretch, always the same ones in the same order."""
    look = scene.look
    for index, (end, motion) in enumerate(scene.motions.items()):
        row, spans = scene.row(end), drawn(scene.left_out(end), view)
        x, y = thinned(motion, view, look.units)
        yield _line(end, x, y, index, look)
        yield _areas([(span.start_s, span.end_s, 0.0, row.full) for span in spans], index, look)
        yield _areas([(*view, scene.stop(end), row.full * DEEP)], index, look)
        yield _words(span_words(spans, view), row.line(0), index, look)
        for topping in (False, True):
            yield _squares(_seen(scene.ride, end, topping, view), topping, row, index, look)
    for end in list(scene.motions)[:1]:
        row = scene.row(end)
        yield _words(mark_words(scene.marks(), view), row.line(row.word_lines - 1), 0, look)
    for place, lane in enumerate(lanes(scene.ride)):
        yield _bars(lane, drawn(lane.spans, view), place, len(scene.motions), look)


def _line(end: End, x: Any, y: Any, index: int, look: Look) -> Any:
    return go.Scatter(
        x=x,
        y=y,
        yaxis=axis(index),
        mode="lines",
        name=end.value,
        line={"color": look.colours.hue(end), "width": 1.3},
        hovertemplate=f"{end} %{{y:.1f}} {look.units}, %{{x:.2f}} s<extra></extra>",
    )


def _areas(boxes: Sequence[tuple[float, float, float, float]], index: int, look: Look) -> Any:
    """Hatch areas (from, to, top, bottom) on a ground of the card's colour: there is no travel there."""
    colours = look.colours
    x: list[float | None] = []
    y: list[float | None] = []
    for low, high, top, bottom in boxes:
        x += [low, high, high, low, low, None]
        y += [top, top, bottom, bottom, top, None]
    return go.Scatter(
        x=x,
        y=y,
        yaxis=axis(index),
        mode="lines",
        line={"width": 0, "color": colours.ink},
        fill="toself",
        fillcolor=colours.card,
        fillpattern={
            "shape": "/",
            "size": 8,
            "solidity": 0.15,
            "fgcolor": colours.ink,
            "bgcolor": colours.card,
        },
        hoverinfo="skip",
    )


def _words(words: Sequence[Word], at: float, index: int, look: Look) -> Any:
    return go.Scatter(
        x=[word.at_s for word in words],
        y=[at] * len(words),
        yaxis=axis(index),
        mode="text",
        text=[_plain(f" {word.text} ") for word in words],
        textposition=[f"middle {word.side}" for word in words],
        textfont={"size": TEXT_PX, "color": look.colours.ink},
        hoverinfo="skip",
        cliponaxis=False,
    )


def _plain(text: str) -> str:
    """Plotly reads a little HTML in its texts; a mark is only a text."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _bars(lane: Lane, spans: Sequence[Drawn], place: int, index: int, look: Look) -> Any:
    """Draw the bars of a lane: full, at the rear hollow, for both ends together in ink."""
    colours = look.colours
    hue = colours.ink if lane.end is None else colours.hue(lane.end)
    half = 0.22
    x: list[float | None] = []
    y: list[float | None] = []
    for span in spans:
        low, high = span.start_s, span.end_s
        x += [low, high, high, low, low, None]
        y += [place - half, place - half, place + half, place + half, place - half, None]
    return go.Scatter(
        x=x,
        y=y,
        yaxis=axis(index),
        mode="lines",
        line={"width": 1.5, "color": hue},
        fill="toself",
        fillcolor=colours.card if lane.end is End.REAR else hue,
        hoverinfo="skip",
    )


def _seen(ride: RideSummary, end: End, topping: bool, view: View) -> list[NumberedEvent]:
    """Choose the events whose squares are drawn: those in view that do not cover the one before."""
    apart_s = (view[1] - view[0]) / SQUARES
    chosen: list[NumberedEvent] = []
    for item in numbered_events(ride):
        if item.end is not end or item.is_topping is not topping or not view[0] <= item.event.t_s <= view[1]:
            continue
        if not chosen or item.event.t_s - chosen[-1].event.t_s >= apart_s:
            chosen.append(item)
    return chosen


def events_with_room(ride: RideSummary, end: End, view: View) -> list[NumberedEvent]:
    """Choose the events of one end whose squares are drawn, bottomings before toppings."""
    return [item for topping in (False, True) for item in _seen(ride, end, topping, view)]


def _squares(events: Sequence[NumberedEvent], topping: bool, row: Row, index: int, look: Look) -> Any:
    ink, card = look.colours.ink, look.colours.card
    return go.Scatter(
        x=[e.event.t_s for e in events],
        # Beside the place where it happened, so that the square covers no curve and is not cut off.
        y=[row.full * (0.1 if topping else 0.9)] * len(events),
        yaxis=axis(index),
        mode="markers+text",
        marker={
            "symbol": "square",
            "size": 24,
            "color": card if topping else ink,
            "line": {"color": ink if topping else card, "width": 2},
        },
        text=[str(e.number) for e in events],
        textposition=["middle center"] * len(events),
        textfont={"color": ink if topping else card, "size": TEXT_PX},
        hoverinfo="skip",
        zorder=2,
    )


def _plates(end: End, top: float, look: Look) -> list[dict[str, Any]]:
    """Make the plate of an end as a note above its row; the rear's second frame is a note behind it."""
    hue, card = look.colours.hue(end), look.colours.card
    plate = {
        "text": f"<b>{end.value.upper()}</b>",
        "x": 0,
        "xref": "paper",
        "xanchor": "left",
        "xshift": 4,
        "y": top,
        "yref": "paper",
        "yanchor": "bottom",
        "yshift": 5,
        "showarrow": False,
        "font": {"color": card, "size": TEXT_PX - 1},
        "bgcolor": hue,
        "borderpad": 2,
    }
    frame = {"bgcolor": card, "bordercolor": hue, "borderwidth": 2, "borderpad": 4}
    return [plate | frame, plate] if end is End.REAR else [plate]
