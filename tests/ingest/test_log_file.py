"""The log file: everything comes back, other programs can read it, and damage never passes for data."""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from ingest import parquet_log
from ingest.bike_file import bike_text
from ingest.errors import FileProblem, StorageError, UsageError
from ingest.log import Amendment, Channel, Ending, Gap, Kind, LinkStatistics, Log, Mark, Segment
from ingest.log_file import read_header, read_log, write_log
from ingest.log_header import LOG_KEY, SCHEMA
from ingest.records import Bike, End, EndSetup, Rider, Setup
from ingest.setup_file import setup_text


@pytest.fixture
def full_log(bike: Bike) -> Log:
    """A log of counts that uses every field: two segments with a gap, marks, statistics, texts."""
    rng = np.random.default_rng(1)
    setup = Setup(name="lowered", rear=EndSetup(travel_mm=190, sensor_zero_count=90))
    rows = rng.integers(0, 1024, (300, 2), dtype=np.uint16)
    return Log(
        id="2026-05-04-ride-1",
        kind=Kind.RIDE,
        started="2026-05-04T09:00:00+02:00",
        bike=bike,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", skew_s=1.12e-4, bits=10)),
        segments=(
            Segment(start_s=0.0, dt_s=0.001000337, values=rows[:200]),
            Segment(start_s=0.75, dt_s=0.001, values=rows[200:]),
        ),
        marks=(Mark(t_s=0.1, text='topped out, "front" – süß'),),
        gaps=(Gap(t_s=0.2, duration_s=0.55, lost_samples=549, exact=True, reason="lost"),),
        link=LinkStatistics(dialect="framed", frames=15, damaged=1, lost_samples=549, bytes=1470),
        ending=Ending(status="cut off", reason="killed"),
        setup=setup,
        rider=Rider(name="Ada", mass_kg=61),
        job="job-1",
        load_case="rider, half a tank",
        notes="cold\nwet",
        zeros={End.FRONT: 101.5, End.REAR: 88.0},
        texts={
            "bike": "# as the owner wrote it\r\n" + bike_text(bike),
            "setup": setup_text(setup),
            "job": "x",
        },
    )


def assert_same(one: Log, other: Log) -> None:
    fields = [f for f in Log.__dataclass_fields__ if f not in ("segments", "texts", "header_duration_s")]
    for name in fields:
        assert getattr(one, name) == getattr(other, name), name
    assert dict(one.texts) == dict(other.texts)
    assert len(one.segments) == len(other.segments)
    for mine, theirs in zip(one.segments, other.segments, strict=True):
        assert (mine.start_s, mine.dt_s) == (theirs.start_s, theirs.dt_s)
        assert mine.values.dtype == theirs.values.dtype
        np.testing.assert_array_equal(mine.values, theirs.values)


def test_everything_comes_back(full_log: Log, tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    write_log(full_log, path)
    back = read_log(path)
    assert_same(full_log, back)
    assert [p.name for p in tmp_path.iterdir()] == ["log.parquet"]
    assert not back.segments[0].values.flags.writeable


def test_imported_travel_comes_back_bit_for_bit(make_log: Callable[..., Log], tmp_path: Path) -> None:
    front = np.array([0.1, np.nan, 1 / 3, 229.999999])
    log = make_log(front, front * 0.7)
    write_log(log, tmp_path / "log.parquet")
    back = read_log(tmp_path / "log.parquet")
    assert back.segments[0].values.tobytes() == log.segments[0].values.tobytes()
    assert back.bike == log.bike  # made without a text: the bike is written out as its file
    assert back.texts["bike"] == bike_text(log.bike)


def test_a_header_has_all_but_the_rows(full_log: Log, tmp_path: Path) -> None:
    write_log(full_log, tmp_path / "log.parquet")
    header = read_header(tmp_path / "log.parquet")
    assert header.segments == ()
    assert header.duration_s == pytest.approx(full_log.duration_s)
    assert_same(replace(full_log, segments=()), header)


def test_a_log_without_rows_can_be_kept(full_log: Log, tmp_path: Path) -> None:
    write_log(replace(full_log, segments=()), tmp_path / "log.parquet")
    assert read_log(tmp_path / "log.parquet").rows == 0


def test_another_program_reads_times_and_counts(full_log: Log, tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    write_log(full_log, path)
    table = pq.read_table(path)
    assert table.column_names == ["t_us", "segment", "ch0", "ch1"]
    t_us = table["t_us"].to_numpy()
    assert t_us[[0, 1, 199, 200, 201]].tolist() == [0, 1000, 199067, 750000, 751000]
    assert table["segment"].to_numpy()[[0, 199, 200]].tolist() == [0, 0, 1]
    assert table["ch1"].to_numpy()[200] == full_log.segments[1].values[0, 1]
    about = json.loads(table.schema.metadata[LOG_KEY.encode()])
    assert about["ending"] == {"status": "cut off", "reason": "killed"}
    assert table.schema.metadata[b"flatfoot.bike"].decode() == full_log.texts["bike"]


def test_pandas_reads_it(full_log: Log, tmp_path: Path) -> None:
    import pandas as pd

    write_log(full_log, tmp_path / "log.parquet")
    assert pd.read_parquet(tmp_path / "log.parquet")["ch0"].iloc[0] == full_log.segments[0].values[0, 0]


def test_amended_logs_are_not_written_over(full_log: Log, tmp_path: Path) -> None:
    amended = replace(full_log, amendments=(Amendment(made="", by=None, what="note", content={}),))
    with pytest.raises(UsageError, match="has amendments"):
        write_log(amended, tmp_path / "log.parquet")


# Files that are not right.


def problem(path: Path) -> str:
    """What reading the file says; one line, and the header says the same."""
    with pytest.raises(FileProblem) as rows:
        read_log(path)
    message = str(rows.value)
    assert "\n" not in message
    assert path.name in message
    return message


def test_missing_and_foreign_files(full_log: Log, tmp_path: Path) -> None:
    assert "there is no log" in problem(tmp_path / "nothing.parquet")
    assert "cannot read" in problem(tmp_path)
    other = tmp_path / "other.parquet"
    other.write_text("t_us,a0\n1,2\n")
    assert "is not a log" in problem(other)
    other.write_bytes(b"")
    assert "cut off after 0 bytes" in problem(other)
    pq.write_table(pq.read_table(write(full_log, tmp_path)).replace_schema_metadata({}), other)
    assert "but not a log of flatfoot" in problem(other)


def write(log: Log, folder: Path) -> Path:
    path = folder / "log.parquet"
    write_log(log, path)
    return path


def test_cut_off_at_every_byte(full_log: Log, tmp_path: Path) -> None:
    path = write(full_log, tmp_path)
    data = path.read_bytes()
    assert len(data) > 3000
    cut = tmp_path / "cut.parquet"
    for length in range(len(data)):
        cut.write_bytes(data[:length])
        with pytest.raises(FileProblem, match=r"is cut off after|is not a log"):
            read_log(cut)


FLIP = """
import sys
from pathlib import Path
from ingest.errors import FileProblem
from ingest.log_file import read_log

path, step = Path(sys.argv[1]), 1
data, good = bytearray(path.read_bytes()), read_log(path)
flipped, refused = path.with_name("flipped.parquet"), 0
for index in range(len(data)):
    for bit in (0, 6):
        data[index] ^= 1 << bit
        flipped.write_bytes(data)
        data[index] ^= 1 << bit
        try:
            log = read_log(flipped)
        except FileProblem as error:
            assert str(error) and chr(10) not in str(error), error
            refused += 1
            continue
        for a, b in zip(good.segments, log.segments, strict=True):
            assert (a.start_s, a.dt_s) == (b.start_s, b.dt_s), index
            assert a.values.dtype == b.values.dtype, index
            assert a.values.tobytes() == b.values.tobytes(), index
        assert (log.marks, log.zeros, log.bike, log.texts) == (good.marks, good.zeros, good.bike, good.texts)
print(refused, 2 * len(data))
"""


def test_a_flipped_bit_is_refused_or_harmless(full_log: Log, tmp_path: Path) -> None:
    # In a process of its own: a damaged file must not even be able to kill the reader unseen.
    path = write(full_log, tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", FLIP, str(path)], capture_output=True, text=True, check=False, timeout=250
    )
    assert done.returncode == 0, done.stderr[-2000:]
    refused, tried = map(int, done.stdout.split())
    # The others sit in what a log does not need: the times for other programs, the second copy of the schema.
    assert refused > 0.5 * tried


def test_a_newer_schema_is_named(full_log: Log, tmp_path: Path) -> None:
    table = pq.read_table(write(full_log, tmp_path))
    metadata = dict(table.schema.metadata)
    about = json.loads(metadata[LOG_KEY.encode()])
    metadata[LOG_KEY.encode()] = json.dumps({**about, "schema": SCHEMA + 1}).encode()
    newer = tmp_path / "newer.parquet"
    pq.write_table(table.replace_schema_metadata(metadata), newer)
    assert f"newer flatfoot (schema {SCHEMA + 1}, this one reads up to {SCHEMA})" in problem(newer)


@pytest.mark.parametrize("column", [2, 3])
def test_changed_readings_are_noticed(full_log: Log, tmp_path: Path, column: int) -> None:
    table = pq.read_table(write(full_log, tmp_path))
    counts = table.column(column).to_numpy().copy()
    counts[17] ^= 1
    changed = table.set_column(column, table.column_names[column], [counts])
    other = tmp_path / "changed.parquet"
    pq.write_table(changed, other)
    assert f"readings of ch{column - 2} changed" in problem(other)


# A disk that fails.


def test_the_old_file_stays_when_the_disk_is_full(
    full_log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(full_log, tmp_path)
    before = path.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(parquet_log.pq, "write_table", full)
    with pytest.raises(StorageError, match="No space left on device"):
        write_log(replace(full_log, notes="new"), path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["log.parquet"]


def test_a_disk_that_gives_back_other_bytes_is_not_trusted(
    full_log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    really_write = pq.write_table

    def forgetful(table: object, file: object, **options: object) -> None:
        really_write(table.slice(0, table.num_rows - 1), file, **options)

    monkeypatch.setattr(parquet_log.pq, "write_table", forgetful)
    with pytest.raises(StorageError, match="gives back other data"):
        write_log(full_log, tmp_path / "log.parquet")
    assert list(tmp_path.iterdir()) == []


# Size and speed.


def test_an_hour_is_small_and_its_header_quick(full_log: Log, tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    slow = np.repeat(rng.normal(300, 100, 36_000), 100)
    rows = np.clip(np.column_stack([slow, slow[::-1]]) + rng.normal(0, 0.5, (3_600_000, 2)), 0, 1023)
    hour = replace(full_log, segments=(Segment(start_s=0.0, dt_s=0.001, values=rows.astype(np.uint16)),))
    path = write(hour, tmp_path)
    assert path.stat().st_size < 8e6
    read_header(path)
    times = []
    for _ in range(9):
        began = time.perf_counter()
        read_header(path)
        times.append(time.perf_counter() - began)
    print(
        f"\none hour: {path.stat().st_size / 1e6:.1f} MB, header in {statistics.median(times) * 1e3:.2f} ms"
    )
    assert statistics.median(times) < 0.02
