"""The curves of a batch of scenes as tables on even grids: one look-up gives value and slope."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from analysis.virtual_scene import Scene

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Part = TypeVar("Part", bound=Hashable)

TRAVEL_GRID_MM, BEYOND_MM = 0.1, 40.0
SPEED_GRID_M_S, FASTEST_M_S = 0.005, 15.0


class Table:
    """Curves on one even grid, a block of rows for each distinct part, each value with the rise to the next.

    ``curves`` has one (points, columns) array a part; ``parts``, shape (2, scenes), says which part sits
    where. The row for a value is ``value * per_unit + start``, rounded down.
    """

    def __init__(self, curves: Sequence[Floats], low: float, step: float, parts: Places) -> None:
        rises = [np.diff(curve, axis=0, append=curve[-1:]) for curve in curves]
        self._rows = np.concatenate([np.hstack(pair) for pair in zip(curves, rises, strict=True)])
        starts = np.cumsum([0, *(curve.shape[0] for curve in curves)])
        self._per_unit = 1.0 / step
        self._start = starts[parts] - low / step
        columns = curves[0].shape[1]
        self._place = np.empty(parts.shape)
        self._index = np.empty(parts.shape, dtype=np.intp)
        self._found = np.empty((*parts.shape, 2 * columns))
        self._value, self._rise = self._found[..., :columns], self._found[..., columns:]

    def at(self, values: Floats) -> Floats:
        """Look up (2, scenes) values: all columns, (2, scenes, columns), good until the next call."""
        place, index = self._place, self._index
        np.multiply(values, self._per_unit, place)
        np.add(place, self._start, place)
        np.copyto(index, place, casting="unsafe")
        np.subtract(place, index, place)
        self._rows.take(index, 0, self._found, "clip")
        np.multiply(self._rise, place[..., None], self._rise)
        return np.add(self._value, self._rise, self._value)


def travel_table(scenes: Sequence[Scene]) -> Table:
    """Force along the travel, d(stroke)/d(travel), damping of stops and of an oil lock over travel."""
    parts, which = _distinct([[scene.bike.ends[end] for scene in scenes] for end in (0, 1)])
    curves = []
    for end in parts:
        travel_mm = np.arange(-BEYOND_MM, end.travel_mm + BEYOND_MM, TRAVEL_GRID_MM)
        columns = (
            end.elastic_force_n(travel_mm),
            end.motion_ratio(travel_mm),
            end.stop_damping_n_s_m(travel_mm),
            end.lock_damping_n_s_m(travel_mm),
        )
        curves.append(np.column_stack(columns))
    return Table(curves, -BEYOND_MM / 1e3, TRAVEL_GRID_MM / 1e3, which)


def damper_table(scenes: Sequence[Scene]) -> Table:
    """Damper force over shaft speed."""
    dampers = [[scene.bike.ends[end].damper for scene in scenes] for end in (0, 1)]
    parts, which = _distinct(dampers)
    speed = np.arange(-FASTEST_M_S, FASTEST_M_S, SPEED_GRID_M_S)
    return Table([part.force_n(speed)[:, None] for part in parts], -FASTEST_M_S, SPEED_GRID_M_S, which)


def _distinct(rows: list[list[Part]]) -> tuple[list[Part], Places]:
    parts = list(dict.fromkeys(part for row in rows for part in row))
    return parts, np.array([[parts.index(part) for part in row] for row in rows], dtype=np.intp)
