"""Travel over time as a drawing of its own, for paper and for saving: the whole ride, black on white.

It shows what `dashboard.travel_figure` shows on the screen, from the same thinned travel and the same spans.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from dashboard.drawings import svg
from dashboard.drawings.ruler import plate
from dashboard.ride_events import NumberedEvent
from dashboard.theme import Palette
from dashboard.travel_figure import Scene, events_with_room
from dashboard.travel_points import View, thinned, time_ticks, whole_view
from dashboard.travel_rows import LANE_PX, PLATE_PX, PLOT_PX, WORDS_PX
from dashboard.travel_spans import Drawn, Word, drawn, lanes, mark_words, span_words
from dashboard.units import Units, number
from ingest.records import End

WIDTH_PX = 700.0  # A4 between its margins, so that 16 px stay 12 pt
LEFT, RIGHT, FOOT_PX, HATCH_PX = 62.0, 12.0, 34.0, 8.0
SQUARE_PX = 22.0


def travel_drawing(scene: Scene, palette: Palette, *, title: str) -> str:
    """Draw the travel of every measured end over the whole ride, front above rear."""
    view = whole_view(scene.motions)
    parts: list[str] = []
    top = 0.0
    first_top = PLATE_PX + WORDS_PX * bool(scene.marks())
    for end in scene.motions:
        top += PLATE_PX
        above = WORDS_PX * scene.row(end).word_lines
        parts.append(_Row(scene, palette, end, view, top + above).drawing())
        parts.append(plate(end, LEFT + 40, top - PLATE_PX + 4, palette))
        top += above + PLOT_PX + HATCH_PX
    place = _Time(view)
    parts += [
        svg.line(place.x(at_s), first_top - 10, place.x(at_s), top - HATCH_PX, palette.ink, 1.2)
        for at_s, _ in scene.marks()
    ]
    parts.append(_words(mark_words(scene.marks(), view), place, PLATE_PX + WORDS_PX / 2, palette))
    for lane in lanes(scene.ride):
        top += LANE_PX
        parts.append(svg.label(LEFT - 8, top - 2, lane.name, palette.ink, anchor="end"))
        hue = palette.ink if lane.end is None else palette.hue(lane.end)
        for span in drawn(lane.spans, view):
            left, wide = place.x(span.start_s), place.x(span.end_s) - place.x(span.start_s)
            fill = palette.card if lane.end is End.REAR else hue
            parts.append(svg.rect(left, top - 7, wide, 10, fill=fill, stroke=hue))
    top += 6.0
    parts.append(_time_axis(place, top, palette))
    return svg.document(WIDTH_PX, top + FOOT_PX, "".join(parts), title, palette)


class _Time:
    """Where a time lies from left to right."""

    def __init__(self, view: View) -> None:
        self.view = view

    def x(self, at_s: float) -> float:
        low, high = self.view
        return LEFT + (at_s - low) / (high - low) * (WIDTH_PX - LEFT - RIGHT)


class _Row:
    """One end: its ground, scale, travel, what was left out, and the squares of its events."""

    def __init__(self, scene: Scene, palette: Palette, end: End, view: View, top: float) -> None:
        self.scene, self.palette, self.end, self.view, self.top = scene, palette, end, view, top
        self.full = scene.row(end).full
        self.time = _Time(view)
        self.right = WIDTH_PX - RIGHT

    def y(self, shown: float) -> float:
        return self.top + min(max(shown / self.full, -0.02), 1.02) * PLOT_PX

    def drawing(self) -> str:
        spans = drawn(self.scene.left_out(self.end), self.view)
        return "".join(
            [
                self._scale(),
                self._curve(),
                *(self._left_out(span) for span in spans),
                _words(span_words(spans, self.view), self.time, self.top - WORDS_PX / 2, self.palette),
                self._stop(),
                self._mean(),
                *(self._square(item) for item in events_with_room(self.scene.ride, self.end, self.view)),
            ]
        )

    def _scale(self) -> str:
        colours = self.palette
        step = 50.0 if self.scene.look.units is Units.MM else 2.0
        parts = [svg.rect(LEFT, self.top, self.right - LEFT, PLOT_PX, fill=colours.steel)]
        ticks = [
            i * step for i in range(int(self.full / step) + 1) if self.full - i * step > 0.6 * step or not i
        ]
        for tick in [*ticks, self.full]:
            y = self.y(tick)
            parts.append(svg.line(LEFT, y, self.right, y, colours.hair, 1))
            text = number(tick, int(self.scene.look.units is Units.IN and tick == self.full))
            parts.append(svg.label(LEFT - 8, y, text, colours.ink, anchor="end"))
        parts.append(svg.line(LEFT, self.top, self.right, self.top, colours.ink, 2))
        return "".join(parts)

    def _curve(self) -> str:
        at_s, shown = thinned(self.scene.motions[self.end], self.view, self.scene.look.units)
        hue, parts = self.palette.hue(self.end), []
        run: list[tuple[float, float]] = []
        for t, value in zip(at_s.tolist(), shown.tolist(), strict=True):
            if math.isnan(value):
                parts.append(_run(run, hue))
                run = []
            else:
                run.append((self.time.x(t), self.y(value)))
        return "".join([*parts, _run(run, hue)])

    def _left_out(self, span: Drawn) -> str:
        left, right = self.time.x(span.start_s), self.time.x(span.end_s)
        ground = svg.rect(left, self.top, right - left, PLOT_PX, fill=self.palette.card)
        return ground + svg.hatch(left, self.top, right - left, PLOT_PX, self.palette.ink)

    def _stop(self) -> str:
        ink = self.palette.ink
        y = self.y(self.scene.stop(self.end))
        height = self.top + PLOT_PX + HATCH_PX - y
        return svg.line(LEFT, y, self.right, y, ink, 2) + svg.hatch(LEFT, y, self.right - LEFT, height, ink)

    def _mean(self) -> str:
        result = self.scene.result(self.end)
        if result is None:
            return ""
        y = self.top + result.mean_mm / self.scene.motions[self.end].travel_mm * PLOT_PX
        return "".join(
            svg.line(LEFT, y, self.right, y, colour, width)
            for colour, width in ((self.palette.steel, 4), (self.palette.ink, 1.5))
        )

    def _square(self, item: NumberedEvent) -> str:
        ink, card = self.palette.ink, self.palette.card
        x = self.time.x(item.event.t_s)
        y = self.top + (0.1 if item.is_topping else 0.9) * PLOT_PX
        ground, text = (card, ink) if item.is_topping else (ink, card)
        half = SQUARE_PX / 2
        wide = max(half, svg.text_width_px(str(item.number), bold=True) / 2 + 3)
        return svg.rect(
            x - wide, y - half, 2 * wide, SQUARE_PX, fill=ground, stroke=text if item.is_topping else card
        ) + svg.label(x, y, str(item.number), text, bold=True, anchor="middle")


def _run(points: list[tuple[float, float]], hue: str) -> str:
    return svg.shape(points, stroke=hue, stroke_width=1, closed=False) if len(points) > 1 else ""


def _words(words: Sequence[Word], time: _Time, y: float, palette: Palette) -> str:
    return "".join(
        svg.label(
            time.x(word.at_s) + (4 if word.side == "right" else -4),
            y,
            word.text,
            palette.ink,
            anchor="start" if word.side == "right" else "end",
        )
        for word in words
    )


def _time_axis(time: _Time, top: float, palette: Palette) -> str:
    parts = [svg.line(LEFT, top, WIDTH_PX - RIGHT, top, palette.ink)]
    for at_s, text in zip(*time_ticks(time.view), strict=True):
        x = time.x(at_s)
        room = svg.text_width_px(text) / 2
        parts.append(svg.line(x, top, x, top + 6, palette.ink))
        parts.append(svg.label(min(x, WIDTH_PX - room), top + 18, text, palette.ink, anchor="middle"))
    return "".join(parts)
