"""How often the wheel moves faster than a speed: one panel an end, the share on a logarithmic scale."""

from __future__ import annotations

import math
from itertools import pairwise

from analysis.ride_results import EndRide, Exceedance
from dashboard.drawings import svg
from dashboard.drawings.ruler import plate
from dashboard.theme import Palette
from dashboard.units import MM_PER_INCH, Units, length_number
from ingest.records import End

LEFT, TOP, RIGHT, HIGH = 100.0, 84.0, 20.0, 190.0
SHARES = ((0.5, "half"), (0.1, "1 in 10"), (0.01, "1 in 100"), (0.001, "1 in 1000"))
FEWEST = 20  # a share seen in fewer samples is not drawn
FOOT_PX, BAND_PX = 56.0, 24.0
LEAST_BAND_PX = 4.0  # a dead band is drawn at least this wide, or nobody would see it


def speed_panel(
    end: End, ride: EndRide, units: Units, palette: Palette, *, fastest_mm_s: float, title: str
) -> str:
    """Draw the share of the ride faster than each speed: compression thick and ▼, rebound thin and △."""
    panel = _Panel(units, palette, end, fastest_mm_s)
    body = "".join(
        [
            plate(end, LEFT + panel.width / 2, 6, palette),
            _legend(palette),
            panel.ground(),
            panel.dead_band(ride.dead_band_mm_s),
            panel.curve(ride, ride.rebound_exceedance, rebound=True),
            panel.curve(ride, ride.compression_exceedance, rebound=False),
        ]
    )
    foot = FOOT_PX + (BAND_PX if ride.dead_band_mm_s > 0 else 0.0)
    return svg.document(svg.WIDTH_PX, TOP + HIGH + foot, body, title, palette)


def last_drawn(ride: EndRide) -> float:
    """Give the fastest speed that enough samples were faster than, mm/s: the panel ends there."""
    floor = _floor(ride.samples)
    curves = (ride.compression_exceedance, ride.rebound_exceedance)
    seen = [
        s
        for curve in curves
        for s, share in zip(curve.speed_mm_s, curve.share, strict=True)
        if share >= floor
    ]
    return max(seen, default=0.0)


def _floor(samples: int) -> float:
    return max(FEWEST / max(samples, 1), SHARES[-1][0] / 1.41)


def _legend(palette: Palette) -> str:
    ink, y = palette.ink, 60.0
    return (
        svg.line(40, y, 72, y, ink, 4)
        + _down(56, y, ink)
        + svg.label(80, y, "compression", ink)
        + svg.line(206, y, 238, y, ink, 1.6)
        + _up(222, y, ink, palette.card)
        + svg.label(246, y, "rebound", ink)
    )


def _down(x: float, y: float, colour: str) -> str:
    return svg.shape([(x - 7, y - 6), (x + 7, y - 6), (x, y + 7)], fill=colour)


def _up(x: float, y: float, colour: str, ground: str) -> str:
    return svg.shape([(x - 7, y + 6), (x + 7, y + 6), (x, y - 7)], fill=ground, stroke=colour)


class _Panel:
    """The axes of one panel, and what is drawn on them."""

    def __init__(self, units: Units, palette: Palette, end: End, fastest_mm_s: float) -> None:
        self.units, self.palette, self.end = units, palette, end
        self.width = svg.WIDTH_PX - LEFT - RIGHT
        self.unit_mm = 1.0 if units is Units.MM else MM_PER_INCH
        self.step = nice_step(fastest_mm_s / self.unit_mm, 3)
        steps = max(math.ceil(fastest_mm_s / self.unit_mm / self.step), 1)
        self.full_mm_s = steps * self.step * self.unit_mm

    def x(self, speed_mm_s: float) -> float:
        return LEFT + speed_mm_s / self.full_mm_s * self.width

    def y(self, share: float) -> float:
        decades = math.log10(1 / SHARES[-1][0]) + 0.15
        return TOP - math.log10(max(share, 1e-9)) / decades * HIGH

    def ground(self) -> str:
        colours = self.palette
        parts = [svg.rect(LEFT, TOP, self.width, HIGH, fill=colours.steel)]
        for share, name in SHARES:
            y = self.y(share)
            parts.append(svg.line(LEFT, y, LEFT + self.width, y, colours.hair, 1))
            parts.append(svg.label(LEFT - 8, y, name, colours.ink, anchor="end"))
        floor = TOP + HIGH
        parts.append(svg.line(LEFT, floor, LEFT + self.width, floor, colours.ink))
        parts.append(svg.line(LEFT, TOP, LEFT, floor, colours.ink))
        for i in range(round(self.full_mm_s / self.unit_mm / self.step) + 1):
            x = self.x(i * self.step * self.unit_mm)
            parts.append(svg.line(x, floor, x, floor + 6, colours.ink))
            parts.append(svg.label(x, floor + 17, f"{i * self.step:g}", colours.ink, anchor="middle"))
        text = f"{self.units}/s at the wheel"
        parts.append(svg.label(LEFT + self.width / 2, floor + 40, text, colours.ink, anchor="middle"))
        return "".join(parts)

    def dead_band(self, until_mm_s: float) -> str:
        """Hatch the speeds that noise alone makes, and say so under the axis."""
        if not until_mm_s > 0:
            return ""
        colours = self.palette
        wide = min(max(self.x(until_mm_s) - LEFT, LEAST_BAND_PX), self.width)
        text = f"hatched: under {length_number(until_mm_s, self.units, 0)} {self.units}/s, noise"
        return (
            svg.rect(LEFT, TOP, wide, HIGH, fill=colours.card)
            + svg.hatch(LEFT, TOP, wide, HIGH, colours.ink, step=7)
            + svg.line(LEFT + wide, TOP, LEFT + wide, TOP + HIGH, colours.ink, 1)
            + svg.label(svg.WIDTH_PX / 2, TOP + HIGH + 64, text, colours.ink2, anchor="middle")
        )

    def curve(self, ride: EndRide, seen: Exceedance, *, rebound: bool) -> str:
        points = [
            (self.x(speed), self.y(share))
            for speed, share in zip(seen.speed_mm_s, seen.share, strict=True)
            if share >= _floor(ride.samples) and ride.dead_band_mm_s <= speed <= self.full_mm_s
        ]
        if len(points) < 2:
            return ""
        hue = self.palette.hue(self.end)
        run = svg.shape(points, stroke=hue, stroke_width=1.6 if rebound else 4, closed=False)
        signs = [
            _up(x, y, hue, self.palette.card) if rebound else _down(x, y, hue)
            for x, y in _every(points, 44.0 if rebound else 52.0)
        ]
        return run + "".join(signs)


def _every(points: list[tuple[float, float]], apart_px: float) -> list[tuple[float, float]]:
    """Pick points about evenly along a run of lines, the ends left free."""
    chosen, walked = [], 0.0
    for (x1, y1), (x2, y2) in pairwise(points):
        walked += math.hypot(x2 - x1, y2 - y1)
        if walked >= apart_px:
            chosen.append((x2, y2))
            walked = 0.0
    return chosen


def nice_step(span: float, count: int) -> float:
    """Give a step of 1, 2 or 5 times a power of ten that divides a span into about ``count`` parts.

    >>> nice_step(1400, 3)
    500.0
    """
    raw = max(span, 1e-9) / count
    power = 10.0 ** math.floor(math.log10(raw))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if raw <= step * power)
