"""Readings somebody wrote down: a small CSV file with a header, two numbers a row and, if noted, the way."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from ingest.errors import FileProblem
from ingest.toml_reader import read_text_file

WAYS: Mapping[str, str | None] = {"up": "up", "down": "down", "": None}
WAY_COLUMNS = ("direction", "way")
MOST_ROWS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class PointRow:
    """One row: its two numbers in the order asked for, and ``up``, ``down`` or ``None``."""

    first: float
    second: float
    way: str | None


def read_points_csv(path: Path, first: str, second: str) -> tuple[PointRow, ...]:
    """Read rows with the columns ``first`` and ``second``, and ``direction`` (up, down, empty) if there.

    Raises `FileProblem`, with the line, for anything that cannot be meant.
    """
    text = read_text_file(path, "CSV file")
    rows = [(line, row) for line, row in enumerate(csv.reader(text.splitlines()), start=1) if any(row)]
    if not rows:
        raise FileProblem(f"{path} is empty: it needs a header {first},{second}[,direction] and rows")
    header = [cell.strip().lower() for cell in rows[0][1]]
    for name in (first, second):
        if header.count(name) != 1:
            raise FileProblem(
                f"{path}, line {rows[0][0]}: there has to be one column {name!r}; "
                f"a header is {first},{second}[,direction], this one is {','.join(header)[:60]!r}"
            )
    unknown = [name for name in header if name not in (first, second, *WAY_COLUMNS)]
    if unknown:
        raise FileProblem(
            f"{path}, line {rows[0][0]}: column {unknown[0][:60]!r} is not known; "
            f"a header is {first},{second}[,direction]"
        )
    if not 2 <= len(rows) <= MOST_ROWS:
        raise FileProblem(f"{path} has {len(rows) - 1} rows below its header: 1 to {MOST_ROWS} are allowed")
    way = next((name for name in WAY_COLUMNS if name in header), None)
    return tuple(_row(path, line, header, row, (first, second), way) for line, row in rows[1:])


def _row(
    path: Path, line: int, header: Sequence[str], row: Sequence[str], names: tuple[str, str], way: str | None
) -> PointRow:
    if len(row) != len(header):
        raise FileProblem(f"{path}, line {line}: {len(row)} cells where the header has {len(header)}")
    cells = {name: cell.strip() for name, cell in zip(header, row, strict=True)}
    numbers = []
    for name in names:
        try:
            number = float(cells[name])
        except ValueError:
            number = float("nan")
        if not isfinite(number):
            raise FileProblem(f"{path}, line {line}: {cells[name][:60]!r} in column {name} is not a number")
        numbers.append(number)
    said = cells[way].lower() if way is not None else ""
    if said not in WAYS:
        raise FileProblem(
            f"{path}, line {line}: {said[:60]!r} in column {way}; allowed are up, down or empty"
        )
    return PointRow(first=numbers[0], second=numbers[1], way=WAYS[said])
