"""A CSV file of another logger becomes a log.

A header, then one row a sample: ``t_us`` (the board's clock in µs; 32 bits may wrap, rows may repeat) or
``time_s``, then raw counts ``ch0``, ``ch1``, … or wheel travel ``front_mm``, ``rear_mm``, and if wanted
``mark``, empty except where somebody marked. Columns of other names are left out, and named in the log's
notes. An empty cell, or NaN, is a reading that is missing. In a column of wheel travel it is NaN in the log,
and the other column is kept; a whole count cannot be missing, so there, as where all cells are empty, the
row is left out and the log has a gap. `ingest.empty_cells` says how many.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

from ingest.csv_table import Array, CsvTable, read_csv_table
from ingest.empty_cells import EMPTY_CELLS
from ingest.errors import FileProblem
from ingest.log import Channel, Ending, Gap, Kind, LinkStatistics, Log, Mark, Segment, Unit
from ingest.records import Bike, End
from ingest.slugs import slug
from ingest.uniform import Hole, Run, even_runs

CLOCK_WRAPS_US = 2.0**32
LARGEST_COUNT = 2**31 - 1
LARGEST_TIME = 1e18  # a date in nanoseconds is about as large
SHORTEST_PERIOD_S = 5e-7
LONGEST_FILE_S = 1e7
Bools = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]


def read_csv_log(path: Path, bike: Bike, kind: Kind, bike_text: str) -> Log:
    """Read a CSV file as a log of ``bike``; its id is made from the file's name.

    Raises `FileProblem`, with the line where there is one, for anything that cannot be meant.
    """
    table = read_csv_table(path)
    _check_bike(table, bike)
    times_s = _seconds(table)
    rows = _rows_with_readings(table)
    repeated = _repeated(table, times_s, rows)
    rows = rows[~repeated]
    if len(rows) < 2:
        raise FileProblem(f"{path} has one row with readings: a rate needs two rows or more")
    even = even_runs(times_s[rows])
    if even is None:
        raise FileProblem(
            f"{path}: the times are too uneven or too coarse for the rate; more than a third of the steps "
            f"are longer than 1.5 times the median step{_left_out(table, rows)}"
        )
    runs, holes = even
    _check_times(table, runs[0].period, float(times_s[rows[-1]] - times_s[rows[0]]))
    values = _values(table)[rows]
    began_s = runs[0].start
    empty_rows = np.cumsum(_rows_left_out(table), dtype=np.intp)[rows]
    gaps = _gaps(holes, times_s[rows] - began_s, empty_rows, runs[0].period)
    return Log(
        id=slug(path.stem, "import"),
        kind=kind,
        started=_file_date(path),
        bike=bike,
        channels=_channels(table),
        segments=tuple(_segment(run, values, began_s) for run in runs),
        marks=_marks(table, times_s - began_s),
        gaps=gaps,
        link=LinkStatistics(
            dialect="csv",
            frames=len(table.times),
            repeated=int(repeated.sum()),
            lost_samples=sum(gap.lost_samples for gap in gaps),
            lost_exact=not gaps,
            bytes=path.stat().st_size,
        ),
        ending=Ending(status="complete", reason="imported"),
        notes=_notes(table, bike),
        texts={"bike": bike_text},
    )


def _check_bike(table: CsvTable, bike: Bike) -> None:
    """Complain where the bike file cannot give the columns a meaning."""
    names = table.columns.channels
    if not table.columns.are_counts:
        for name in names:
            end = End(name.removesuffix("_mm"))
            if bike.suspension(end) is None:
                raise FileProblem(f"{table.path} has a column {name}, but the bike file has no [{end}]")
        return
    channels = {f"ch{sensor.channel}" for sensor in bike.sensors.values()}
    if not channels & set(names):
        has = f"sensors on {', '.join(sorted(channels))}" if channels else "no [sensors]"
        raise FileProblem(
            f"{table.path} has {', '.join(names)}, but the bike file has {has}: "
            "without a sensor and its calibration counts mean nothing"
        )


def _seconds(table: CsvTable) -> Array:
    """Seconds since the first row, the wraps of the board's clock undone."""
    times, name = table.times, table.columns.time
    _refuse(table, ~np.isfinite(times), f"{name} is empty or not a finite number: each row needs its time")
    _refuse(table, np.abs(times) > LARGEST_TIME, f"{name} has to be from -1e18 to 1e18")
    if name == "time_s":
        return np.asarray(times - times[0])
    _refuse(table, times < 0, "t_us is negative: the board's clock counts from 0")
    steps = np.diff(times, prepend=times[0])
    if times.max() < CLOCK_WRAPS_US:
        # As the board would count it: half a turn or less is forward, more is backward.
        steps = (steps + CLOCK_WRAPS_US / 2) % CLOCK_WRAPS_US - CLOCK_WRAPS_US / 2
    return np.asarray(np.cumsum(steps) * 1e-6)


def _check_times(table: CsvTable, period_s: float, length_s: float) -> None:
    """Complain about times in another unit than the column's name says, or none at all."""
    name = table.columns.time
    if period_s < SHORTEST_PERIOD_S:
        raise FileProblem(
            f"{table.path}: {name} steps by {period_s:.3g} s, which is {1 / period_s:.3g} rows a second; "
            f"up to {1 / SHORTEST_PERIOD_S:.0f} can be read: is {name} in another unit?"
        )
    if length_s > LONGEST_FILE_S:
        raise FileProblem(
            f"{table.path}: {name} runs over {length_s:.3g} s; up to {LONGEST_FILE_S:.0e} s can be read: "
            f"is {name} in another unit?"
        )


def _rows_with_readings(table: CsvTable) -> Indices:
    _refuse(table, _in_any_column(np.isinf(table.values)), "a reading is not a finite number")
    missing = np.isnan(table.values)
    for index, name in enumerate(table.columns.channels):
        if missing[:, index].all():
            raise FileProblem(f"{table.path}: column {name} is empty from top to bottom: take it out")
    rows = np.flatnonzero(~_rows_left_out(table))
    if len(rows) == 0:
        raise FileProblem(f"{table.path}: no row has a reading in every column")
    return rows


def _rows_left_out(table: CsvTable) -> Bools:
    """Find the rows without a reading; of counts, those without one in every column."""
    missing = np.isnan(table.values)
    return _in_any_column(missing) if table.columns.are_counts else np.asarray(missing.all(axis=1))


def _left_out(table: CsvTable, rows: Indices) -> str:
    count = len(table.times) - len(rows)
    return (
        f"; {count} rows with an empty cell are not counted: fill them or take that column out"
        if count
        else ""
    )


def _repeated(table: CsvTable, times_s: Array, rows: Indices) -> Bools:
    """Find the rows that came before, time and readings alike; complain where time itself goes back."""
    times = times_s[rows]
    late = np.zeros(len(rows), bool)
    late[1:] = times[1:] <= np.maximum.accumulate(times)[:-1]
    if not late.any():
        return late
    in_time = np.flatnonzero(~late)
    twins = in_time[np.searchsorted(times[in_time], times[late])]
    same_time = times[twins] == times[late]
    now, before = table.values[rows[late]], table.values[rows[twins]]
    same_readings = ((now == before) | (np.isnan(now) & np.isnan(before))).all(axis=1)
    wrong = np.flatnonzero(~(same_time & same_readings))
    if len(wrong):
        name = table.columns.time
        table.complain(
            int(rows[late][wrong[0]]),
            f"{name} is that of an earlier row with other readings: are the times too coarse?"
            if same_time[wrong[0]]
            else f"{name} goes back: was the logger restarted? import each run as a file of its own",
        )
    return late


def _values(table: CsvTable) -> npt.NDArray[np.generic]:
    """The readings in the type a log keeps them in: whole numbers for counts, mm as they are."""
    if not table.columns.are_counts:
        return table.values
    counts = np.nan_to_num(table.values)  # rows with a reading missing are left out later
    _refuse(table, _in_any_column(counts != np.rint(counts)), "a raw count has to be a whole number")
    wrong = (counts < 0) | (counts > LARGEST_COUNT)
    _refuse(table, _in_any_column(wrong), f"a raw count has to be 0 to {LARGEST_COUNT}")
    return counts.astype(np.uint16 if counts.max() < 2**16 else np.int32)


def _in_any_column(cells: Bools) -> Bools:
    return np.asarray(cells.any(axis=1))


def _refuse(table: CsvTable, wrong: Bools, what: str) -> None:
    if wrong.any():
        table.complain(int(np.argmax(wrong)), what)


def _channels(table: CsvTable) -> tuple[Channel, ...]:
    unit = Unit.COUNT if table.columns.are_counts else Unit.WHEEL_MM
    return tuple(Channel(name=name, unit=unit) for name in table.columns.channels)


def _segment(run: Run, values: npt.NDArray[np.generic], began_s: float) -> Segment:
    rows = values[run.first : run.last]
    rows.setflags(write=False)
    return Segment(start_s=run.start - began_s, dt_s=run.period, values=rows)


def _gaps(holes: tuple[Hole, ...], times_s: Array, empty_rows: Indices, period_s: float) -> tuple[Gap, ...]:
    return tuple(
        Gap(
            t_s=float(times_s[hole.after]) + period_s,
            duration_s=float(times_s[hole.after + 1] - times_s[hole.after]) - period_s,
            lost_samples=hole.missing,
            exact=False,
            reason=EMPTY_CELLS if empty_rows[hole.after + 1] > empty_rows[hole.after] else "rows missing",
        )
        for hole in holes
    )


def _marks(table: CsvTable, times_s: Array) -> tuple[Mark, ...]:
    """The marks in order of time; one on a repeated row counts once."""
    marks = {(max(0.0, float(times_s[row])), text) for row, text in table.marks}
    return tuple(Mark(t_s=t_s, text=text) for t_s, text in sorted(marks))


def _file_date(path: Path) -> str:
    return datetime.fromtimestamp(int(path.stat().st_mtime), UTC).isoformat()


def _notes(table: CsvTable, bike: Bike) -> str:
    """Say where the log is from, and what of the file it does not use."""
    said = [f"imported from {table.path.name}, whose date it bears"]
    if table.columns.unused:
        said.append(f"columns not used: {', '.join(table.columns.unused)}")
    if table.columns.are_counts:
        sensors = {f"ch{sensor.channel}" for sensor in bike.sensors.values()}
        idle = [name for name in table.columns.channels if name not in sensors]
        if idle:
            said.append(f"no sensor in the bike file for: {', '.join(idle)}")
    return "; ".join(said)
