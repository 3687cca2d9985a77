"""The cells of a CSV file (RFC 4180 with a header) as arrays; every complaint names the line.

The file is read by pyarrow, which is quick but does not say where something is wrong. When it refuses a
file, or a value turns out to be wrong, the file is gone through again line by line to find the place.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Never

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.csv as pa_csv

from ingest.errors import FileProblem

TIMES = ("t_us", "time_s")
TRAVEL = ("front_mm", "rear_mm")
MARK = "mark"
MISSING = ("", "nan", "NaN", "NAN", "NA", "null")
COLUMNS_HINT = "t_us or time_s, then ch0, ch1, … or front_mm, rear_mm, and if wanted mark"
UNREADABLE = "\ufffd"  # what decoding puts where bytes are no UTF-8
LONGEST_MARK = 500
_RAW = re.compile(r"ch(\d{1,3})")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?inf(inity)?", re.IGNORECASE | re.ASCII)
Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """What the header says: all names in order, and which of them are which."""

    names: tuple[str, ...]
    time: str
    channels: tuple[str, ...]
    unused: tuple[str, ...]
    lines: int  # the header takes up so many lines of the file

    @property
    def are_counts(self) -> bool:
        """Whether the channels are raw counts; otherwise they are wheel travel in mm."""
        return self.channels[0] not in TRAVEL

    @property
    def has_marks(self) -> bool:
        """Whether there is a column of marks."""
        return MARK in self.names


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CsvTable:
    """The cells: ``times`` (rows,), ``values`` (rows, channels) with NaN for an empty cell, marks by row."""

    path: Path
    columns: Columns
    times: Array
    values: Array
    marks: tuple[tuple[int, str], ...]

    def complain(self, row: int, what: str) -> Never:
        """Raise a `FileProblem` that names the line on which a row begins."""
        for index, (line, _) in enumerate(_rows(self.path, self.columns.lines)):
            if index == row:
                raise FileProblem(f"{self.path}, line {line}: {what}")
        raise FileProblem(f"{self.path}, row {row + 1}: {what}")


def read_csv_table(path: Path) -> CsvTable:
    """Read the columns flatfoot knows; `FileProblem` with the line for anything that cannot be meant."""
    columns = _read_header(path)
    try:
        _check_quotes(path, columns)
        table = pa_csv.read_csv(
            path,
            read_options=pa_csv.ReadOptions(column_names=columns.names, skip_rows=columns.lines),
            parse_options=pa_csv.ParseOptions(newlines_in_values=columns.has_marks),
            convert_options=_conversion(columns),
        )
    except (pa.ArrowException, OSError) as error:
        _explain(path, columns, error)
    if table.num_rows == 0:
        raise _no_rows(path)
    cells = CsvTable(
        path=path,
        columns=columns,
        times=_numbers(table, columns.time),
        values=np.column_stack([_numbers(table, name) for name in columns.channels]),
        marks=_marks(table) if columns.has_marks else (),
    )
    for row, text in cells.marks:
        if len(text) > LONGEST_MARK:
            cells.complain(row, f"a mark of {len(text)} characters: is its closing quote missing?")
    return cells


def _read_header(path: Path) -> Columns:
    try:
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            reader = csv.reader(file)
            cells = next((row for row in reader if row), None)
            lines = reader.line_num
    except FileNotFoundError as error:
        raise FileProblem(f"there is no CSV file {path}: check the name") from error
    except (OSError, csv.Error) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FileProblem(f"cannot read the CSV file {path}: {reason}") from error
    if cells is None:
        raise FileProblem(f"{path} is empty: it needs a header line with {COLUMNS_HINT}")
    if any(UNREADABLE in cell for cell in cells):
        raise FileProblem(f"{path} is not UTF-8 text: save it as CSV in UTF-8")
    names = [_plain_name(cell) for cell in cells]
    return _sort_columns(path, names, lines)


def _plain_name(cell: str) -> str:
    name = cell.strip().lower()
    raw = _RAW.fullmatch(name)
    return f"ch{int(raw[1])}" if raw else name


def _sort_columns(path: Path, names: Sequence[str], lines: int) -> Columns:
    def complain(what: str) -> Never:
        raise FileProblem(f"{path}, line {lines}: {what}")

    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        complain(f"there are two columns {twice!r}: each needs a name of its own")
    times = [name for name in names if name in TIMES]
    raw = [name for name in names if _RAW.fullmatch(name)]
    travel = [name for name in names if name in TRAVEL]
    unused = [name for name in names if name not in (*times, *raw, *travel, MARK)]
    if len(names) == 1 and any(mark in names[0] for mark in ";\t"):
        complain(f"the cells have to be parted by commas, this header is {names[0][:60]!r}")
    for name in unused:
        near = difflib.get_close_matches(name, (*TIMES, *TRAVEL, MARK, "ch0", "ch1"), n=1, cutoff=0.75)
        if near:
            complain(f"column {name[:60]!r} is not known; did you mean {near[0]}?")
    if len(times) != 1:
        found = "both t_us and time_s: keep one" if times else f"no time column; a header is {COLUMNS_HINT}"
        complain(f"there is {found}")
    if raw and travel:
        complain(f"{raw[0]} is raw counts and {travel[0]} is wheel travel: a file holds one or the other")
    if not raw and not travel:
        complain(f"there is no column with readings; a header is {COLUMNS_HINT}")
    return Columns(
        names=tuple(names),
        time=times[0],
        channels=(*raw, *travel),
        unused=tuple(unused),
        lines=lines,
    )


def _no_rows(path: Path) -> FileProblem:
    return FileProblem(f"{path} has a header and no rows: nothing was recorded, or it was cut off")


def _check_quotes(path: Path, columns: Columns) -> None:
    """Complain about a quote that is never closed: all rows below it would be taken for text."""
    with path.open("rb") as file:
        quotes = sum(block.count(b'"') for block in iter(lambda: file.read(1 << 20), b""))
    if quotes % 2:
        line = max(
            (line for line, row in _rows(path, columns.lines) if any("\n" in c for c in row)), default=None
        )
        where = f"{path}, line {line}" if line else str(path)
        raise FileProblem(
            f"{where}: a quote is opened and not closed, or a quote within a text is not doubled"
        )


def _conversion(columns: Columns) -> object:
    types = {name: pa.float64() for name in (columns.time, *columns.channels)}
    if columns.has_marks:
        types[MARK] = pa.string()
    return pa_csv.ConvertOptions(
        column_types=types,
        include_columns=list(types),
        null_values=MISSING,
        strings_can_be_null=False,
    )


def _numbers(table: pa.Table, name: str) -> Array:
    return np.asarray(table.column(name).to_numpy(), np.float64)


def _marks(table: pa.Table) -> tuple[tuple[int, str], ...]:
    texts = table.column(MARK).to_numpy()
    return tuple(
        (int(row), str(texts[row]).strip()) for row in np.flatnonzero(texts != "") if texts[row].strip()
    )


def _rows(path: Path, skip_lines: int) -> Iterator[tuple[int, list[str]]]:
    """Go through the rows below the header, each with the number of the line on which it begins."""
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        for _ in range(skip_lines):
            file.readline()
        reader = csv.reader(file)
        begins = skip_lines + 1
        for row in reader:
            if row:
                yield begins, row
            begins = skip_lines + reader.line_num + 1


def _explain(path: Path, columns: Columns, error: Exception) -> Never:
    """Find what pyarrow could not read, and say it with its line."""
    numbers = [(columns.names.index(name), name) for name in (columns.time, *columns.channels)]
    if next(_rows(path, columns.lines), None) is None:
        raise _no_rows(path) from error
    try:
        for line, row in _rows(path, columns.lines):
            if len(row) != len(columns.names):
                raise FileProblem(
                    f"{path}, line {line}: {len(row)} cells where the header has {len(columns.names)}; "
                    + (
                        'a text that holds a comma has to be quoted: "rider, from above"'
                        if len(row) > len(columns.names)
                        else "if the file was cut off there, delete that line"
                    )
                )
            for index, name in numbers:
                cell = row[index].strip()
                if cell not in MISSING and not _NUMBER.fullmatch(cell):
                    raise FileProblem(f"{path}, line {line}: {cell[:60]!r} in column {name} is not a number")
            if any(UNREADABLE in cell for cell in row):
                raise FileProblem(f"{path}, line {line}: this is not UTF-8 text; save the file as UTF-8")
    except csv.Error as problem:
        raise FileProblem(f"{path} is not a CSV file: {problem}") from problem
    raise FileProblem(f"{path} cannot be read as CSV: {str(error).splitlines()[0][:200]}") from error
