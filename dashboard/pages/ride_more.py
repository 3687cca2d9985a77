"""What the ride page keeps folded: all numbers, speeds, strokes, how far to trust them, their origin."""

from __future__ import annotations

from typing import Any

from dash import html

from analysis.effective import effective_bike
from analysis.mounting_doubt import mounting_doubt
from analysis.ride_results import RideSummary
from dashboard.log_words import log_line
from dashboard.pages.ride_cells import pairs
from dashboard.parts import Look, text_table
from dashboard.ride_events import ends_of
from dashboard.ride_words import ride_table
from dashboard.speed_words import (
    SPEED_MEANS,
    STROKE_MEANS,
    shaft_lines,
    shaft_speeds,
    stroke_table,
    wheel_speeds,
)
from dashboard.trust_words import BASIS, TRUST, trust_lines, trust_table
from ingest.log import Log
from ingest.records import End


def folded(log: Log, ride: RideSummary, look: Look) -> list[Any]:
    """Give the folded cards in the order people ask for them."""
    return [
        _fold("All numbers", pairs(ride_table(ride, look.units))),
        _speeds(ride, look),
        *_strokes(ride, look),
        _trust(log, look),
        _about(log, ride),
    ]


def _fold(title: str, *children: Any) -> Any:
    return html.Details([html.Summary(html.H2(title)), *children], className="ff-card ff-fold")


def _speeds(ride: RideSummary, look: Look) -> Any:
    shaft = shaft_speeds(ride, look.units)
    tables = [text_table(wheel_speeds(ride, look.units), numbers=range(1, 5), stack=True)]
    if shaft is not None:
        tables.append(text_table(shaft, numbers=range(1, 5), stack=True))
    return _fold(
        "Speeds at the wheel and at the shock shaft",
        html.P(SPEED_MEANS),
        html.Div(tables, className="ff-columns ff-halves" if len(tables) > 1 else ""),
        *(html.P(line) for line in shaft_lines(ride)),
    )


def _strokes(ride: RideSummary, look: Look) -> list[Any]:
    made = stroke_table(ride, look.units)
    if not made.rows:
        return []
    return [
        _fold("Strokes by size", html.P(STROKE_MEANS), pairs(made)),
    ]


def _trust(log: Log, look: Look) -> Any:
    bike = effective_bike(log.bike, log.setup)
    doubts = [doubt for end in End if (doubt := mounting_doubt(bike, end)) is not None]
    numbers = range(2, 2 + len(doubts))
    return _fold(
        "How far to trust this on a real bike",
        html.P(TRUST),
        html.P(html.B(" ".join(trust_lines(doubts, look.units)))),
        text_table(trust_table(doubts, look.units), numbers=numbers, stack=True),
        html.P(BASIS, className="ff-quiet"),
    )


def _about(log: Log, ride: RideSummary) -> Any:
    lines = [log_line(log), *(f"amended: {text}" for text in ride.amendments)]
    lines += [
        f"{end}: speeds of swings up to {result.bandwidth_hz:.0f} a second (−3 dB: three tenths too low "
        f"there), {result.samples} samples, {result.masked_samples} left out"
        for end, result in ends_of(ride)
    ]
    return _fold("About this recording", *(html.P(line) for line in lines))
