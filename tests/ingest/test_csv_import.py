"""CSV files of other loggers: what is in them arrives, and what cannot be meant is named with its line."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ingest.bike_file import bike_text
from ingest.csv_import import read_csv_log
from ingest.empty_cells import empty_cell_lines
from ingest.errors import FileProblem
from ingest.log import Gap, Kind, Log, Mark, Unit
from ingest.log_file import read_log, write_log
from ingest.records import Bike, End

Import = Callable[..., Log]


@pytest.fixture
def imported(tmp_path: Path, bike: Bike) -> Import:
    def of(content: str | bytes, *, under: Bike = bike, name: str = "Ride 1.csv") -> Log:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return read_csv_log(path, under, Kind.RIDE, bike_text(under))

    return of


@pytest.fixture
def complaint(imported: Import) -> Callable[..., str]:
    def of(content: str | bytes, **more: object) -> str:
        with pytest.raises(FileProblem) as caught:
            imported(content, **more)
        message = str(caught.value)
        assert "\n" not in message
        assert "Ride 1.csv" in message
        return message.partition("Ride 1.csv")[2].removeprefix(",").strip()

    return of


def rows(times: Sequence[object], header: str = "t_us,ch0,ch1", ending: str = "\n") -> str:
    """Rows with these times; the readings count up from 100 and 200."""
    lines = [f"{t},{100 + i},{200 + i}" for i, t in enumerate(times)]
    return ending.join([header, *lines, ""])


def ch0(log: Log) -> list[list[int]]:
    return [segment.values[:, 0].tolist() for segment in log.segments]


# ------------------------------------------------------------------------------------ what arrives


def test_raw_counts(imported: Import, bike: Bike) -> None:
    log = imported(rows(range(5000, 15000, 1000)))
    assert (log.id, log.kind, log.bike, log.texts) == ("ride-1", Kind.RIDE, bike, {"bike": bike_text(bike)})
    assert [(channel.name, channel.unit) for channel in log.channels] == [
        ("ch0", Unit.COUNT),
        ("ch1", Unit.COUNT),
    ]
    (segment,) = log.segments
    assert (segment.start_s, segment.dt_s) == pytest.approx((0, 0.001), abs=1e-12)
    assert segment.values.dtype == np.uint16
    assert segment.values.tolist() == [[100 + i, 200 + i] for i in range(10)]
    assert (log.link.dialect, log.link.frames, log.link.repeated, log.gaps) == ("csv", 10, 0, ())
    assert log.link.lost_exact
    assert log.duration_s == pytest.approx(0.01)
    assert "Ride 1.csv" in (log.notes or "")


def test_wheel_travel_in_mm(imported: Import) -> None:
    log = imported("time_s,front_mm,rear_mm\n0.00,1.5,2\n0.01,-0.25,1e1\n0.02,3,4\n")
    assert [(c.name, c.unit) for c in log.channels] == [
        ("front_mm", Unit.WHEEL_MM),
        ("rear_mm", Unit.WHEEL_MM),
    ]
    assert log.segments[0].values.tolist() == [[1.5, 2.0], [-0.25, 10.0], [3.0, 4.0]]
    assert log.segments[0].dt_s == pytest.approx(0.01)


@pytest.mark.parametrize(
    "content",
    [
        rows([0, 1000, 2000], ending="\r\n"),
        b"\xef\xbb\xbf" + rows([0, 1000, 2000]).encode(),
        rows([0, 1000, 2000]).rstrip("\n"),
        rows([0, 1000, 2000], header='"t_us","ch0","ch1"'),
        rows([0, 1000, 2000], header=" T_us, CH0 ,ch01"),
        rows(['"0"', "1000.0", " 2e3 "]),
        "\n" + rows([0, 1000, 2000]).replace("\n", "\n\n"),
        rows(
            ["1700000000000000", "1700000000001000", "1700000000002000"]
        ),  # a clock that is not 32 bits wide
        rows(["1700000000.000", "1700000000.001", "1700000000.002"], header="time_s,ch0,ch1"),
    ],
)
def test_the_same_log_in_other_clothes(imported: Import, content: str | bytes) -> None:
    log = imported(content)
    assert ch0(log) == [[100, 101, 102]]
    assert log.segments[0].dt_s == pytest.approx(0.001, rel=1e-3)


def test_columns_in_any_order_and_one_of_them(imported: Import) -> None:
    log = imported("ch1,t_us\n7,0\n8,1000\n9,2000\n")
    assert [channel.name for channel in log.channels] == ["ch1"]
    assert ch0(log) == [[7, 8, 9]]


def test_counts_beyond_16_bits(imported: Import) -> None:
    log = imported("t_us,ch0\n0,70000\n1000,16777215\n")
    assert ch0(log) == [[70000, 16777215]]


def test_the_clock_wraps(imported: Import) -> None:
    times = [t % 2**32 for t in range(2**32 - 5000, 2**32 + 5000, 1000)]
    assert times[5] == 0
    log = imported(rows(times))
    assert ch0(log) == [list(range(100, 110))]
    assert log.segments[0].dt_s == pytest.approx(0.001)
    assert log.gaps == ()


def test_a_gap_across_the_wrap(imported: Import) -> None:
    log = imported(rows([2**32 - 2000, 2**32 - 1000, 9000, 10000]))
    assert ch0(log) == [[100, 101], [102, 103]]
    assert log.segments[1].start_s == pytest.approx(0.011)
    assert (log.gaps[0].lost_samples, log.gaps[0].duration_s) == (9, pytest.approx(0.009))


def test_three_turns_of_the_clock(imported: Import) -> None:
    """At one row in 20 minutes the clock turns every 3.6 rows; none of it is lost."""
    times = [i * 1_200_000_000 % 2**32 for i in range(12)]
    log = imported(rows(times))
    assert log.segments[0].dt_s == pytest.approx(1200)
    assert log.duration_s == pytest.approx(12 * 1200)


def test_repeated_rows_are_dropped_and_counted(imported: Import) -> None:
    content = "t_us,ch0\n0,1\n1000,2\n1000,2\n2000,3\n0,1\n1000,2\n2000,3\n3000,4\n"
    log = imported(content)
    assert ch0(log) == [[1, 2, 3, 4]]
    assert (log.link.repeated, log.link.frames, log.gaps) == (4, 8, ())


def test_a_repeat_of_the_last_row_after_the_wrap(imported: Import) -> None:
    log = imported(f"t_us,ch0\n{2**32 - 1000},1\n0,2\n0,2\n{2**32 - 1000},1\n1000,3\n")
    assert ch0(log) == [[1, 2, 3]]
    assert log.link.repeated == 2


def test_missing_rows_are_a_gap(imported: Import) -> None:
    log = imported(rows([0, 10, 20, 60, 70, 85, 95], header="time_s,ch0,ch1"))
    assert ch0(log) == [[100, 101, 102], [103, 104, 105, 106]]  # 15 is 1.5 times the median: no gap yet
    (gap,) = log.gaps
    assert gap == Gap(
        t_s=gap.t_s, duration_s=gap.duration_s, lost_samples=3, exact=False, reason="rows missing"
    )
    assert (gap.t_s, gap.duration_s) == (pytest.approx(31, abs=2), pytest.approx(29, abs=2))
    assert (log.link.lost_samples, log.link.lost_exact) == (3, False)


def test_an_empty_count_leaves_its_row_out_and_is_said(imported: Import) -> None:
    log = imported("t_us,ch0,ch1\n0,1,1\n1000,2,2\n2000,,3\n3000,4,NaN\n4000,5,5\n5000,6,6\n6000,7,7\n")
    assert ch0(log) == [[1, 2], [5, 6, 7]]
    assert log.gaps == (
        Gap(
            t_s=pytest.approx(0.002),
            duration_s=pytest.approx(0.002),
            lost_samples=2,
            exact=False,
            reason="empty cells",
        ),
    )
    (said,) = empty_cell_lines(log)
    assert said.startswith("about 2 of 7 rows were left out, front and rear")


def test_empty_wheel_travel_leaves_the_other_end_alone(imported: Import, tmp_path: Path) -> None:
    log = imported(
        "t_us,front_mm,rear_mm\n0,1,1\n1000,2,2\n2000,,3\n2000,,3\n3000,,\n4000,5,NaN\n5000,6,6\n6000,7,7\n"
    )
    path = tmp_path / "holed.parquet"
    write_log(log, path)
    for one in (log, read_log(path)):
        nan = float("nan")
        first, second = (part.values for part in one.segments)
        np.testing.assert_array_equal(first, [[1, 1], [2, 2], [nan, 3]])
        np.testing.assert_array_equal(second, [[5, nan], [6, 6], [7, 7]])
        assert (one.gaps[0].reason, one.gaps[0].lost_samples) == ("empty cells", 1)
        assert [line.partition(":")[0] for line in empty_cell_lines(one)] == [
            "about 1 of 7 rows were left out, front and rear, because a cell in them was empty",
            "front_mm",
            "rear_mm",
        ]
    assert log.link.repeated == 1


def test_marks(imported: Import) -> None:
    log = imported(
        "t_us,ch0,mark\n0,1,\n1000,2,topped out\n2000,3,\n"
        + '3000,4,"rider, ""from above""\nsecond line"\n' * 2
        + "4000,5,  \n"
    )
    assert log.marks == (
        Mark(t_s=pytest.approx(0.001), text="topped out"),
        Mark(t_s=pytest.approx(0.003), text='rider, "from above"\nsecond line'),
    )
    assert log.link.repeated == 1


def test_a_mark_on_a_row_without_readings(imported: Import) -> None:
    log = imported("t_us,ch0,mark\n0,1,\n1000,2,\n1500,,unladen\n2000,3,\n3000,4,\n")
    assert ch0(log) == [[1, 2, 3, 4]]
    assert log.marks == (Mark(t_s=pytest.approx(0.0015), text="unladen"),)


def test_a_column_of_marks_without_a_mark(imported: Import) -> None:
    assert imported("t_us,ch0,mark\n0,1,\n1000,2,\n").marks == ()


def test_other_columns_are_named_and_left_out(imported: Import) -> None:
    log = imported('t_us,gps speed,ch0,ch2,"a,b"\n0,fast,1,2,\n1000,,3,4,"x,\ny"\n')
    assert [channel.name for channel in log.channels] == ["ch0", "ch2"]
    assert "columns not used: gps speed, a,b" in (log.notes or "")
    assert "no sensor in the bike file for: ch2" in (log.notes or "")


def test_the_log_file_keeps_all_of_it(imported: Import, tmp_path: Path) -> None:
    log = imported("t_us,ch0,mark\n0,1,\n1000,2,x\n9000,3,\n10000,4,\n11000,9,\n")
    write_log(log, tmp_path / "log.parquet")
    back = read_log(tmp_path / "log.parquet")
    assert (ch0(back), back.marks, back.gaps, back.link) == (ch0(log), log.marks, log.gaps, log.link)


# ------------------------------------------------------------------------------------ uneven times


def positions_s(log: Log) -> np.ndarray:
    """Where the log says each row was taken."""
    return np.concatenate([s.start_s + s.dt_s * np.arange(s.rows) for s in log.segments])


def test_jitter_up_to_half_a_period_is_one_segment(imported: Import) -> None:
    rng = np.random.default_rng(1)
    times = np.arange(2000) * 1000 + rng.integers(-240, 241, 2000) + 500
    log = imported(rows(times.tolist()))
    assert len(log.segments) == 1
    assert log.segments[0].dt_s == pytest.approx(0.001, rel=1e-3)
    assert np.abs(positions_s(log) - (times - times[0]) * 1e-6).max() <= 0.0005 + 0.00025


def test_a_drifting_clock_is_followed(imported: Import) -> None:
    index = np.arange(60_000)
    times = np.rint(index * 1000 + 2e-6 * index**2).astype(int)  # 0 to 240 ppm in a minute, 7 periods in all
    log = imported(rows(times.tolist()))
    assert 2 <= len(log.segments) <= 12
    assert log.rows == 60_000
    assert log.gaps == ()
    assert np.abs(positions_s(log) - times * 1e-6).max() <= 0.001
    assert all(a.end_s <= b.start_s + a.dt_s for a, b in zip(log.segments, log.segments[1:], strict=False))


def test_a_rate_that_changes_starts_a_segment(imported: Import) -> None:
    times = [*range(0, 100_000, 1000), *range(100_000, 225_000, 1250)]
    log = imported(rows(times))
    assert [(s.rows, round(s.dt_s * 1e6)) for s in log.segments] == [(100, 1000), (100, 1250)]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(steps=st.lists(st.integers(1, 3000), min_size=1, max_size=60))
def test_no_row_is_lost_or_moved_far(imported: Import, steps: list[int]) -> None:
    times = np.cumsum([0, *steps])
    try:
        log = imported(rows(times.tolist()))
    except FileProblem as problem:
        assert "too uneven" in str(problem)  # noqa: PT017
        return
    assert log.rows == len(times)
    assert [count for part in ch0(log) for count in part] == list(range(100, 100 + len(times)))
    where = positions_s(log)
    assert (np.diff(where) > 0).all()
    longest_s = max(segment.dt_s for segment in log.segments)
    # Half a period of jitter, half of what the first row was off, and half to keep neighbours in order, which
    # from one short run to the next adds up a little.
    assert np.abs(where - times * 1e-6).max() <= 2 * longest_s + 1e-9


# ------------------------------------------------------------------------------------ what is refused

GOOD = "t_us,ch0,ch1\n0,1,2\n1000,3,4\n2000,5,6\n"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "is empty: it needs a header line with t_us or time_s"),
        ("\n\n", "is empty"),
        ("t_us,ch0\n", "has a header and no rows"),
        ("t_us,ch0", "has a header and no rows"),
        ("t_us,ch0\n0,٣\n1000,4\n", "line 2: '٣' in column ch0 is not a number"),
        ("t_us,ch0\n0,1\n", "has one row with readings: a rate needs two rows or more"),
        ("0,1,2\n1000,3,4\n", "line 1: there is no time column; a header is t_us or time_s, then ch0"),
        ("t_us,time_s,ch0\n0,0,1\n", "line 1: there is both t_us and time_s: keep one"),
        ("t_us\n0\n", "line 1: there is no column with readings"),
        ("t_us,mark\n0,\n", "line 1: there is no column with readings"),
        ("t_us;ch0;ch1\n0;1;2\n", "line 1: the cells have to be parted by commas, this header is"),
        ("t_us,ch0,front_mm\n0,1,2\n", "line 1: ch0 is raw counts and front_mm is wheel travel"),
        ("t_us,ch0,ch00\n0,1,2\n", "line 1: there are two columns 'ch0'"),
        ("t_us,font_mm\n0,1\n", "line 1: column 'font_mm' is not known; did you mean front_mm?"),
        ("t_ms,ch0\n0,1\n", "line 1: column 't_ms' is not known; did you mean t_us?"),
        (GOOD.replace("3,4", "three,4"), "line 3: 'three' in column ch0 is not a number"),
        (GOOD.replace("3,4", '"3,5",4'), "line 3: '3,5' in column ch0 is not a number"),
        (GOOD.replace("1000", "00:01"), "line 3: '00:01' in column t_us is not a number"),
        (GOOD.replace("3,4", "1_0,4"), "line 3: '1_0' in column ch0 is not a number"),
        (GOOD.replace("5,6", "5"), "line 4: 2 cells where the header has 3"),
        (GOOD.replace("5,6", "5,6,7"), "line 4: 4 cells where the header has 3"),
        (GOOD.replace("3,4", "3.5,4"), "line 3: a raw count has to be a whole number"),
        (GOOD.replace("3,4", "-3,4"), "line 3: a raw count has to be 0 to 2147483647"),
        (GOOD.replace("3,4", "1e300,4"), "line 3: a raw count has to be 0 to 2147483647"),
        (GOOD.replace("3,4", "inf,4"), "line 3: a reading is not a finite number"),
        (GOOD.replace("1000", ""), "line 3: t_us is empty or not a finite number"),
        (GOOD.replace("1000", "inf"), "line 3: t_us is empty or not a finite number"),
        (GOOD.replace("1000", "-1"), "line 3: t_us is negative"),
        (GOOD.replace("2000", "500"), "line 4: t_us goes back: was the logger restarted?"),
        (GOOD.replace("2000", "1000"), "line 4: t_us is that of an earlier row with other readings"),
        (
            'time_s,ch0,mark\n0,1,\n1,2,"two\nlines"\n\n0.5,3,\n',
            "line 6: time_s goes back: was the logger restarted?",
        ),
        ("t_us,ch0,ch1\n0,1,\n1000,2,\n", "column ch1 is empty from top to bottom: take it out"),
        ("t_us,ch0,ch1\n0,1,\n1000,,2\n", "no row has a reading in every column"),
        ("t_us,ch5\n0,1\n1000,2\n", "has ch5, but the bike file has sensors on ch0, ch1"),
        (rows([0, 1, 1000, 1001, 2000, 2001, 3000]), "the times are too uneven or too coarse"),
        (rows(["0", "1e-300", "2e-300"], "time_s,ch0,ch1"), "1e+300 rows a second; up to 2000000 can be"),
        (rows([0, 10**17, 2 * 10**17]), "t_us runs over 2e+11 s; up to 1e+07 s can be read: is t_us in"),
        (rows(["-1e308", "0", "1e308"], "time_s,ch0,ch1"), "line 2: time_s has to be from -1e18 to 1e18"),
        (b"t_us,ch0,mark\n0,1,\n1000,2,gedr\xfcckt\n", "line 3: this is not UTF-8 text"),
        (b"\xff\xfet\0_\0u\0s\0", "is not UTF-8 text"),
        (b"PAR1\x00\x15\x04\x15", "there is no time column"),
        ('t_us,ch0,mark\n0,1,\n1000,2,"open\n2000,3,\n', "line 3: a quote is opened and not closed"),
        ('t_us,ch0,mark\n0,1,"a\n' + "1000,2,\n" * 100 + '1000,2,b"\n', "line 2: a mark of 810 characters"),
    ],
)
def test_what_cannot_be_meant(complaint: Callable[..., str], content: str | bytes, said: str) -> None:
    assert said in complaint(content)


def test_files_that_cannot_be_read(tmp_path: Path, bike: Bike) -> None:
    with pytest.raises(FileProblem, match="there is no CSV file"):
        read_csv_log(tmp_path / "none.csv", bike, Kind.SAG, "")
    with pytest.raises(FileProblem, match="cannot read the CSV file"):
        read_csv_log(tmp_path, bike, Kind.SAG, "")


def test_a_bike_that_cannot_carry_the_columns(complaint: Callable[..., str], bike: Bike) -> None:
    assert "the bike file has no [sensors]" in complaint(GOOD, under=replace(bike, sensors={}))
    no_rear = replace(bike, rear=None, sensors={End.FRONT: bike.sensors[End.FRONT]})
    said = complaint("t_us,front_mm,rear_mm\n0,1,2\n", under=no_rear)
    assert "has a column rear_mm, but the bike file has no [rear]" in said


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(at=st.integers(0, len(GOOD) - 1), byte=st.binary(min_size=0, max_size=2))
def test_any_damage_is_a_log_or_a_complaint(imported: Import, at: int, byte: bytes) -> None:
    content = GOOD.encode()
    try:
        log = imported(content[:at] + byte + content[at + 1 :])
    except FileProblem as problem:
        said = str(problem)
    else:
        said = log.id
    assert "\n" not in said


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    texts=st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["Cc"])), min_size=2, max_size=20)
)
def test_any_mark_arrives(imported: Import, tmp_path: Path, texts: list[str]) -> None:
    path = tmp_path / "made.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["time_s", "ch0", "mark"])
        writer.writerows([i, i, text] for i, text in enumerate(texts))
    log = imported(path.read_bytes())
    assert [(mark.t_s, mark.text) for mark in log.marks] == [
        (pytest.approx(i), text.strip()) for i, text in enumerate(texts) if text.strip()
    ]
