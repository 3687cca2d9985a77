"""The curves of a batch of scenes as tables on even grids: one look-up gives value and slope."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from analysis.virtual_scene import Scene

Floats = npt.NDArray[np.float64]
Part = TypeVar("Part", bound=Hashable)

TRAVEL_GRID_MM, BEYOND_MM = 0.1, 40.0
SPEED_GRID_M_S, FASTEST_M_S = 0.005, 15.0


class Table:
    """Curves on one even grid, a block of rows for each distinct part, each value with the rise to the next.

    ``curves`` has one (points, columns) array a part; ``parts``, shape (2, scenes), says which part sits
    where. The row for a value is ``value * per_unit + start``, rounded down.
    """

    def __init__(
        self, curves: Sequence[Floats], low: float, step: float, parts: npt.NDArray[np.intp]
    ) -> None:
        rises = [np.diff(curve, axis=0, append=curve[-1:]) for curve in curves]
        self.rows = np.concatenate([np.hstack(pair) for pair in zip(curves, rises, strict=True)])
        points = [curve.shape[0] for curve in curves]
        starts = np.concatenate([[0], np.cumsum(points)[:-1]])
        self.per_unit = 1.0 / step
        self.start = starts[parts] - low / step


def travel_table(scenes: Sequence[Scene]) -> Table:
    """Force along the travel, d(stroke)/d(travel) and stop damping over travel."""
    parts, which = _distinct([[scene.bike.ends[end] for scene in scenes] for end in (0, 1)])
    curves = []
    for end in parts:
        travel_mm = np.arange(-BEYOND_MM, end.travel_mm + BEYOND_MM, TRAVEL_GRID_MM)
        columns = (
            end.elastic_force_n(travel_mm),
            end.motion_ratio(travel_mm),
            end.stop_damping_n_s_m(travel_mm),
        )
        curves.append(np.column_stack(columns))
    return Table(curves, -BEYOND_MM / 1e3, TRAVEL_GRID_MM / 1e3, which)


def damper_table(scenes: Sequence[Scene]) -> Table:
    """Damper force over shaft speed."""
    dampers = [[scene.bike.ends[end].damper for scene in scenes] for end in (0, 1)]
    parts, which = _distinct(dampers)
    speed = np.arange(-FASTEST_M_S, FASTEST_M_S, SPEED_GRID_M_S)
    return Table([part.force_n(speed)[:, None] for part in parts], -FASTEST_M_S, SPEED_GRID_M_S, which)


def _distinct(rows: list[list[Part]]) -> tuple[list[Part], npt.NDArray[np.intp]]:
    parts = list(dict.fromkeys(part for row in rows for part in row))
    return parts, np.array([[parts.index(part) for part in row] for row in rows], dtype=np.intp)
