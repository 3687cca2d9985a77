"""Empty cells of an imported file: how many readings are missing, of which column, in words."""

from __future__ import annotations

import numpy as np

from ingest.log import Log

EMPTY_CELLS = "empty cells"
"""Why a gap is there: rows left out because not every column of counts had a reading."""


def empty_cell_lines(log: Log) -> tuple[str, ...]:
    """Say a line for each column with empty cells, and one for the rows left out because of some."""
    lines = []
    rows = sum(gap.lost_samples for gap in log.gaps if gap.reason == EMPTY_CELLS)
    if rows:
        lines.append(
            f"about {rows} of {log.rows + rows} rows were left out, front and rear, "
            "because a cell in them was empty"
        )
    for column, channel in enumerate(log.channels):
        empty = sum(
            int(np.count_nonzero(np.isnan(part.values[:, column])))
            for part in log.segments
            if part.values.dtype.kind == "f"
        )
        if empty:
            lines.append(f"{channel.name}: {empty} of {log.rows} cells were empty and are left out")
    return tuple(lines)
