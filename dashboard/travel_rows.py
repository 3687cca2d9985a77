"""How the figure of a ride is divided: for each end a plate, lines for words, and the travel under them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dashboard.parts import Look
from dashboard.theme import FONT
from dashboard.travel_points import View, time_ticks
from dashboard.units import Units, number

TEXT_PX = 16
PLATE_PX, WORDS_PX, PLOT_PX, LANE_PX = 38, 22, 140, 22
BOTTOM_PX = 40
DEEP = 1.06  # how far an axis reaches past full travel, for the hatching


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One end in the figure: its full travel, in the unit shown, and how many lines of words stand above."""

    full: float
    word_lines: int

    @property
    def height_px(self) -> int:
        """Height without the plate."""
        return PLOT_PX + WORDS_PX * self.word_lines

    @property
    def top(self) -> float:
        """The travel, negative, at which the axis begins: room for the words above topped out."""
        return -self.full * DEEP * WORDS_PX * self.word_lines / PLOT_PX

    def line(self, number_from_travel: int) -> float:
        """Give the place on the axis of a line of words, counted from the travel upward."""
        return -self.full * DEEP * WORDS_PX * (number_from_travel + 0.5) / PLOT_PX


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """All rows of a figure from the top, and how many lanes of bars lie under them."""

    rows: tuple[Row, ...]
    lanes: tuple[str, ...]

    @property
    def height_px(self) -> int:
        """Height of the plots with their plates, without the time axis."""
        return sum(row.height_px + PLATE_PX for row in self.rows) + self._lanes_px

    @property
    def _lanes_px(self) -> int:
        return LANE_PX * len(self.lanes) + (8 if self.lanes else 0)

    def domain(self, index: int) -> tuple[float, float]:
        """Give the lower and the upper end of a row, as shares of the height from below."""
        above = sum(row.height_px for row in self.rows[:index]) + PLATE_PX * (index + 1)
        high = 1 - above / self.height_px
        return max(high - self.rows[index].height_px / self.height_px, 0.0), high

    def lanes_domain(self) -> tuple[float, float]:
        """Give the lower and the upper end of the lanes."""
        return 0.0, LANE_PX * len(self.lanes) / self.height_px


def axis(row: int) -> str:
    """Name the axis of a row as a trace calls it."""
    return "y" if row == 0 else f"y{row + 1}"


def layout(rows: Rows, view: View, look: Look) -> dict[str, Any]:
    """Lay the figure out: its size, one axis of time, one of travel for each row."""
    colours = look.colours
    at, text = time_ticks(view)
    made: dict[str, Any] = {
        "paper_bgcolor": colours.card,
        "plot_bgcolor": colours.steel,
        "font": {"family": FONT, "size": TEXT_PX, "color": colours.ink},
        "height": rows.height_px + BOTTOM_PX,
        "margin": {"l": 56, "r": 24, "t": 0, "b": BOTTOM_PX},
        "showlegend": False,
        "dragmode": "zoom",
        "hovermode": "closest",
        "xaxis": {
            "range": list(view),
            "tickvals": at,
            "ticktext": text,
            "anchor": "free",
            "position": 0.0,
            "ticks": "outside",
            "showgrid": False,
            "zeroline": False,
            "linecolor": colours.ink,
            "minallowed": view[0],
            "maxallowed": view[1],
        },
        "shapes": [_above(row, index, colours.card) for index, row in enumerate(rows.rows) if row.word_lines],
    }
    for index, row in enumerate(rows.rows):
        made["yaxis" if index == 0 else f"yaxis{index + 1}"] = _travel_axis(row, rows.domain(index), look)
    if rows.lanes:
        made[f"yaxis{len(rows.rows) + 1}"] = _lanes_axis(rows, look)
    return made


def _above(row: Row, index: int, colour: str) -> dict[str, Any]:
    """Cover the plot's ground where words stand above topped out."""
    return {
        "type": "rect",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": axis(index),
        "y0": 0,
        "y1": row.top,
        "fillcolor": colour,
        "line": {"width": 0},
        "layer": "below",
    }


def _travel_axis(row: Row, domain: tuple[float, float], look: Look) -> dict[str, Any]:
    colours = look.colours
    step = 50.0 if look.units is Units.MM else 2.0
    ticks = [i * step for i in range(int(row.full / step) + 1) if row.full - i * step > 0.6 * step or i == 0]
    return {
        "domain": list(domain),
        "range": [row.full * DEEP, row.top],
        "fixedrange": True,
        "tickvals": [*ticks, row.full],
        "ticktext": [f"{tick:g}" for tick in ticks] + [number(row.full, int(look.units is Units.IN))],
        "gridcolor": colours.hair,
        "zeroline": True,
        "zerolinecolor": colours.ink,
        "zerolinewidth": 2,
        "side": "left",
    }


def _lanes_axis(rows: Rows, look: Look) -> dict[str, Any]:
    count = len(rows.lanes)
    return {
        "domain": list(rows.lanes_domain()),
        "range": [count - 0.5, -0.5],
        "fixedrange": True,
        "tickvals": list(range(count)),
        "ticktext": list(rows.lanes),
        "showgrid": False,
        "zeroline": False,
        "side": "left",
        "linecolor": look.colours.ink,
    }
