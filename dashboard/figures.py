"""Travel over time as a plotly figure: front above rear, topped out at the top, thinned for the screen.

Only what the screen can show is sent: at most `POINTS` points a trace for the stretch in view, the
least and the greatest of each of a thousand stretches, so that every peak stays. Zooming asks for the
stretch again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import plotly.graph_objects as go
from dash import Patch
from tsdownsample import MinMaxDownsampler, NaNMinMaxDownsampler

from analysis.calibration import Floats
from analysis.motion import EndMotion
from analysis.ride_results import RideSummary, TravelEvent
from dashboard.parts import Look
from dashboard.theme import FONT
from dashboard.units import Units, duration, in_units, number
from ingest.log import Log
from ingest.records import End

POINTS = 2000
TEXT_PX = 16
ROW_GAP = 0.14  # room for the plate of the rear
SQUARES = 11  # as many event squares fit side by side on a phone
NAMED_MARKS = 20
_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)

View = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberedEvent:
    """An event with the number it has in the table and in the figure."""

    number: int
    end: End
    event: TravelEvent
    is_topping: bool


def numbered_events(ride: RideSummary) -> list[NumberedEvent]:
    """Give the events of both ends in the order of time, numbered from 1."""
    found = [
        (event.t_s, end, event, topping)
        for end, result in ((End.FRONT, ride.front), (End.REAR, ride.rear))
        if result is not None
        for events, topping in ((result.bottoming, False), (result.topping, True))
        for event in events.events
    ]
    found.sort(key=lambda item: item[0])
    return [
        NumberedEvent(number=i, end=end, event=event, is_topping=topping)
        for i, (_, end, event, topping) in enumerate(found, 1)
    ]


def thinned(motion: EndMotion, view: View, units: Units) -> tuple[Floats, Floats]:
    """Thin the travel in view to about `POINTS` points; gaps and masked samples stay open (NaN)."""
    parts = []
    for segment in motion.segments:
        size = segment.travel_mm.size
        first = min(max(int((view[0] - segment.start_s) / segment.dt_s) - 1, 0), size)
        last = min(max(int((view[1] - segment.start_s) / segment.dt_s) + 2, 0), size)
        if last > first:
            parts.append((segment, first, last))
    total = sum(last - first for _, first, last in parts)
    times: list[Floats] = []
    travels: list[Floats] = []
    open_end = np.array([np.nan])
    for segment, first, last in parts:
        values = segment.travel_mm[first:last]
        share = max(int(POINTS * (last - first) / total) // 2 * 2, 4)  # two for each stretch: least, greatest
        chosen = _chosen(values, share)
        at_s = np.asarray(segment.start_s + (first + chosen) * segment.dt_s, dtype=np.float64)
        times += [at_s, open_end]
        travels += [values[chosen], open_end]
    if not times:
        return np.empty(0), np.empty(0)
    mm = np.concatenate(travels)[:-1]
    return np.concatenate(times)[:-1], mm if units is Units.MM else in_units(1.0, units) * mm


def _chosen(values: Floats, share: int) -> npt.NDArray[np.int64]:
    if values.size <= share:
        return np.arange(values.size)
    kind = NaNMinMaxDownsampler if np.isnan(values).any() else MinMaxDownsampler
    tool: Any = kind()
    chosen: npt.NDArray[np.int64] = tool.downsample(np.ascontiguousarray(values), n_out=share).astype(
        np.int64
    )
    return chosen


def time_ticks(view: View) -> tuple[list[float], list[str]]:
    """Choose at most six round times in a stretch and write them as minutes and seconds.

    >>> time_ticks((0.0, 150.0))
    ([0, 30, 60, 90, 120, 150], ['0:00', '0:30', '1:00', '1:30', '2:00', '2:30'])
    """
    span = max(view[1] - view[0], 1e-3)
    step = next((step for step in _STEPS_S if span / step <= 5.5), _STEPS_S[-1])
    first = int(np.ceil(view[0] / step - 1e-9))
    last = int(np.floor(view[1] / step + 1e-9))
    at = [i * step for i in range(first, last + 1)]
    decimals = 0 if step >= 1 else 1 if step >= 0.1 else 2
    return at, [duration(t) if not decimals else f"{number(t, decimals)} s" for t in at]


def whole_view(motions: Mapping[End, EndMotion]) -> View:
    """Give the stretch that holds everything."""
    starts = [m.segments[0].start_s for m in motions.values() if m.segments]
    ends = [
        m.segments[-1].start_s + m.segments[-1].travel_mm.size * m.segments[-1].dt_s
        for m in motions.values()
        if m.segments
    ]
    return (min(starts, default=0.0), max(ends, default=1.0))


def travel_figure(motions: Mapping[End, EndMotion], ride: RideSummary, log: Log, look: Look) -> Any:
    """Draw the travel of the ends that were measured over the whole ride."""
    view = whole_view(motions)
    figure = go.Figure(layout=_layout(motions, view, look))
    for row, (end, motion) in enumerate(motions.items()):
        x, y = thinned(motion, view, look.units)
        figure.add_trace(_line(end, x, y, row, look))
    for row, (end, motion) in enumerate(motions.items()):
        for topping in (False, True):  # these two kinds come first: `zoomed` finds them by their place
            figure.add_trace(_squares(_seen(ride, end, topping, view), topping, motion, row, look))
    for row, (end, motion) in enumerate(motions.items()):
        figure.add_trace(_stop(motion, view, row, look))
        for left_out in log.gaps:
            figure.add_trace(_gap(left_out.t_s, left_out.duration_s, motion, row, look))
        figure.add_annotation(_plate(end, figure.layout["yaxis" if row == 0 else "yaxis2"].domain[1], look))
        result = ride.front if end is End.FRONT else ride.rear
        if result is not None:
            at = in_units(result.mean_mm, look.units)
            for colour, width in ((look.colours.steel, 4), (look.colours.ink, 1.5)):
                figure.add_hline(at, line={"color": colour, "width": width}, yref=_axis(row))
    for mark in log.marks[:NAMED_MARKS]:
        figure.add_vline(mark.t_s, line={"color": look.colours.ink, "width": 1.2})
        figure.add_annotation(
            x=mark.t_s, y=1.0, yref="paper", yanchor="bottom", xanchor="left", text=_plain(mark.text),
            showarrow=False, font={"size": TEXT_PX},
        )  # fmt: skip
    return figure


def zoomed(motions: Mapping[End, EndMotion], ride: RideSummary, view: View, look: Look) -> Patch:
    """Give the change that shows another stretch of the same figure."""
    change = Patch()
    for row, (end, motion) in enumerate(motions.items()):
        x, y = thinned(motion, view, look.units)
        change["data"][row].update({"x": x, "y": y})
        for topping in (False, True):
            marks = _squares(_seen(ride, end, topping, view), topping, motion, row, look)
            place = len(motions) + 2 * row + int(topping)
            change["data"][place].update({"x": marks.x, "y": marks.y, "text": marks.text})
    at, text = time_ticks(view)
    change["layout"]["xaxis"].update({"range": list(view), "tickvals": at, "ticktext": text})
    return change


def asked_view(relayout: Mapping[str, Any] | None, whole: View) -> View | None:
    """Read from plotly's message which stretch a person zoomed to; ``None`` where it says nothing of time."""
    if not relayout:
        return None
    if relayout.get("xaxis.autorange"):
        return whole
    given: Any = relayout.get("xaxis.range") or (
        relayout.get("xaxis.range[0]"),
        relayout.get("xaxis.range[1]"),
    )
    try:
        low, high = float(given[0]), float(given[1])
    except (TypeError, ValueError, IndexError, KeyError):
        return None
    low, high = max(min(low, high), whole[0]), min(max(low, high), whole[1])
    return (low, high) if high > low else None


def _axis(row: int) -> str:
    return "y" if row == 0 else "y2"


def _plain(text: str) -> str:
    """Plotly reads a little HTML in its texts; a mark is only a text."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _line(end: End, x: Any, y: Any, row: int, look: Look) -> Any:
    return go.Scatter(
        x=x,
        y=y,
        yaxis=_axis(row),
        mode="lines",
        name=end.value,
        line={"color": look.colours.hue(end), "width": 1.3},
        hovertemplate=f"{end} %{{y:.1f}} {look.units}, %{{x:.2f}} s<extra></extra>",
    )


def _area(x: Sequence[float], y: Sequence[float], row: int, look: Look) -> Any:
    return go.Scatter(
        x=x,
        y=y,
        yaxis=_axis(row),
        mode="lines",
        line={"width": 0, "color": look.colours.ink},
        fill="toself",
        fillcolor=look.colours.card,
        fillpattern={
            "shape": "/",
            "size": 8,
            "solidity": 0.15,
            "fgcolor": look.colours.ink,
            "bgcolor": look.colours.card,
        },
        hoverinfo="skip",
    )


def _stop(motion: EndMotion, view: View, row: int, look: Look) -> Any:
    full = in_units(motion.travel_mm, look.units)
    low = full * 1.06
    return _area([view[0], view[1], view[1], view[0]], [full, full, low, low], row, look)


def _gap(t_s: float, duration_s: float, motion: EndMotion, row: int, look: Look) -> Any:
    full = in_units(motion.travel_mm, look.units)
    area = _area([t_s, t_s + duration_s, t_s + duration_s, t_s], [0, 0, full, full], row, look)
    area.update(mode="lines+text" if row == 0 else "lines", textposition="top right")
    area.update(
        text=[f"left out, {number(duration_s, 1)} s", "", "", ""],
        textfont={"size": TEXT_PX},
        cliponaxis=False,
    )
    return area


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


def _plate(end: End, top: float, look: Look) -> dict[str, Any]:
    """Make the plate of an end as a note above its row."""
    return {
        "text": f"<b>{end.value.upper()}</b>",
        "x": 0,
        "xref": "paper",
        "xanchor": "left",
        "y": top,
        "yref": "paper",
        "yanchor": "bottom",
        "yshift": 3,
        "showarrow": False,
        "font": {"color": look.colours.card, "size": TEXT_PX - 1},
        "bgcolor": look.colours.hue(end),
        "bordercolor": look.colours.hue(end),
        "borderpad": 2,
    }


def _squares(events: Sequence[NumberedEvent], topping: bool, motion: EndMotion, row: int, look: Look) -> Any:
    ink, card = look.colours.ink, look.colours.card
    return go.Scatter(
        x=[e.event.t_s for e in events],
        # Beside the place where it happened, so that the square covers no curve and is not cut off.
        y=[in_units(motion.travel_mm * (0.08 if topping else 0.92), look.units)] * len(events),
        yaxis=_axis(row),
        mode="markers+text",
        marker={
            "symbol": "square",
            "size": 24,
            "color": card if topping else ink,
            "line": {"color": ink if topping else card, "width": 2},
        },
        text=[str(e.number) for e in events],
        textfont={"color": ink if topping else card, "size": TEXT_PX},
        hoverinfo="skip",
        zorder=2,
    )


def _layout(motions: Mapping[End, EndMotion], view: View, look: Look) -> dict[str, Any]:
    colours = look.colours
    rows = len(motions)
    at, text = time_ticks(view)
    layout: dict[str, Any] = {
        "paper_bgcolor": colours.card,
        "plot_bgcolor": colours.steel,
        "font": {"family": FONT, "size": TEXT_PX, "color": colours.ink},
        "height": 90 + 160 * rows,
        "margin": {"l": 56, "r": 16, "t": 34, "b": 40},
        "showlegend": False,
        "dragmode": "zoom",
        "hovermode": "closest",
        "xaxis": {
            "range": list(view),
            "tickvals": at,
            "ticktext": text,
            "anchor": _axis(rows - 1),
            "ticks": "outside",
            "showgrid": False,
            "zeroline": False,
            "linecolor": colours.ink,
            "minallowed": view[0],
            "maxallowed": view[1],
        },
    }
    for row, motion in enumerate(motions.values()):
        layout["yaxis" if row == 0 else "yaxis2"] = _travel_axis(motion, row, rows, look)
    return layout


def _travel_axis(motion: EndMotion, row: int, rows: int, look: Look) -> dict[str, Any]:
    colours = look.colours
    full = in_units(motion.travel_mm, look.units)
    step = 50.0 if look.units is Units.MM else 2.0
    ticks = [i * step for i in range(int(full / step) + 1) if full - i * step > 0.6 * step or i == 0]
    height = (1 - ROW_GAP * (rows - 1)) / rows
    top = 1 - row * (height + ROW_GAP)
    return {
        "domain": [max(top - height, 0.0), top],
        "range": [full * 1.06, 0],
        "fixedrange": True,
        "tickvals": [*ticks, full],
        "ticktext": [f"{tick:g}" for tick in ticks] + [number(full, int(look.units is Units.IN))],
        "gridcolor": colours.hair,
        "zeroline": False,
        "linecolor": colours.ink,
        "side": "left",
    }
