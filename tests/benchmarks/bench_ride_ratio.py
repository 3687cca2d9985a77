"""How long the whole ride analysis takes, as multiples of things every machine can do, and what it needs.

One hour, two channels, 1 kHz, 10-bit. Printed beside it: reading the log's Parquet file, one pass of minimum
and maximum over both channels, the differentiating filter alone (the floor: every speed comes from it), and
a few of the same figures worked out the plain way in pandas. Then seconds for each hour of log from a minute
to ten hours, and the most memory held at one time (tracemalloc, which numpy reports to). Ratios, because
times belong to one machine; nothing here fails for being slow. Run with `make bench`.

What stands in the way of 4 × the reading, in shares of it, by processor time on a quiet machine: faults 1.5
(a tired reel is looked for at 200 speeds each way), converting and counting 0.7, sorting speeds at the wheel
0.8 and at the shaft 0.4, ride speed 0.7, the filter 0.6, strokes 0.5, dives and pitch 0.5, toppings and drops
0.8, positions and the rest 0.8. Reading is little work: a column of counts is decoded at once, and each of
these is a pass or two of its own over as many samples. Several passes in one would take a compiled loop;
fewer samples (speeds looked at 500 times a second) would be other percentiles than those of all samples.
"""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pandas as pd
import pytest

from analysis.motion import end_motion
from analysis.ride import summarise_ride
from analysis.ride_results import EndRide
from analysis.speed import differentiator
from ingest.log import Channel, Kind, Log, Segment
from ingest.log_file import read_log, write_log
from ingest.records import Bike, End

ROWS = 3_600_000
RATE_HZ = 1000


def hour(bike: Bike, rows: int = ROWS) -> Log:
    """An hour of rough ground: noise of a few Hz about a third of the travel, and half a count of hiss."""
    random = np.random.default_rng(0)
    columns = []
    for low, high in ((102, 921), (88, 902)):
        ground = np.convolve(random.normal(size=rows + 199), np.hanning(200), "valid")
        counts = low + (high - low) * (0.38 + 0.14 * ground / ground.std()) + random.normal(0, 0.5, rows)
        columns.append(np.clip(np.rint(counts), low, high).astype(np.uint16))
    return Log(
        id="hour",
        kind=Kind.RIDE,
        started="2026-01-01T09:00:00+00:00",
        bike=bike,
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(Segment(start_s=0.0, dt_s=1 / RATE_HZ, values=np.column_stack(columns)),),
    )


def plain_pandas(log: Log) -> dict[End, dict[str, float]]:
    """The same figures as anybody would work them out: convert, differentiate, quantile, group."""
    answers = {}
    values = log.segments[0].values
    for column, end in enumerate(End):
        sensor, suspension = log.bike.sensors[end], log.bike.suspension(end)
        assert suspension is not None
        frame = pd.DataFrame({"count": values[:, column].astype(float)})
        (c0, mm0), (c1, mm1) = sensor.calibration
        frame["mm"] = mm0 + (frame["count"] - c0) * (mm1 - mm0) / (c1 - c0)
        if suspension.leverage is not None:
            wheel, stroke = np.array(suspension.leverage.table).T
            frame["mm"] = np.interp(frame["mm"], stroke, wheel)
        frame["speed"] = frame["mm"].rolling(9, center=True).mean().diff() * RATE_HZ
        into, out = frame["speed"][frame["speed"] > 0], -frame["speed"][frame["speed"] < 0]
        deep = frame["mm"] > 0.95 * suspension.travel_mm
        run = (deep != deep.shift()).cumsum()
        peaks = frame["mm"][deep].groupby(run[deep]).max()
        curve = pd.cut(into, np.arange(0, 5000, 25)).value_counts(sort=False)
        answers[end] = {
            "p50": frame["mm"].quantile(0.5),
            "p95": frame["mm"].quantile(0.95),
            "p99": frame["mm"].quantile(0.99),
            "max": frame["mm"].max(),
            "mean": frame["mm"].mean(),
            "peaks": float((peaks >= 0.98 * suspension.travel_mm).sum()),
            **{f"in {q}": into.quantile(q) for q in (0.5, 0.95, 0.99)},
            **{f"out {q}": out.quantile(q) for q in (0.5, 0.95, 0.99)},
            "samples": float(curve.sum()),
            "grains": float(frame["mm"].quantile((np.arange(1, 101) - 0.5) / 100).sum()),
        }
    return answers


def least_s(*works: Callable[[], object], times: int = 5) -> list[float]:
    """The shortest time of each, taken in turn, so that a busy machine is as busy for all of them."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(times):
        for work, list_of in zip(works, taken, strict=True):
            start = perf_counter()
            work()
            list_of.append(perf_counter() - start)
    return [min(each) for each in taken]


def peak_bytes(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_one_hour_as_multiples(bike: Bike, tmp_path: Path) -> None:
    log, path = hour(bike), tmp_path / "hour.parquet"
    write_log(log, path)
    values = log.segments[0].values
    travel = [values[:, k].astype(float) for k in (0, 1)]
    halved = [column.astype(np.float32) for column in travel]
    tool = differentiator(1 / RATE_HZ)

    summary_s, read_s, pass_s, filter_s, motion_s = least_s(
        lambda: summarise_ride(log),
        lambda: read_log(path),
        lambda: [(column.min(), column.max()) for column in travel],
        lambda: [tool.speed(column) for column in halved],
        lambda: [end_motion(log, end) for end in End],
    )
    (pandas_s,) = least_s(lambda: plain_pandas(log), times=2)

    print(f"\nWhole ride analysis of one hour, 2 channels, 1 kHz: {1000 * summary_s:.0f} ms here")
    for name, seconds in (
        ("(a) reading the log's Parquet file", read_s),
        ("(b) one minimum and maximum pass (float64)", pass_s),
        ("(c) the plain pandas way, a few of the figures", pandas_s),
        ("the floor: the differentiating filter alone", filter_s),
        ("counts to motion, faults and speed, both ends", motion_s),
    ):
        print(f"  {name:<48} {1000 * seconds:>7.1f} ms   analysis = {summary_s / seconds:>6.2f} ×")

    summary = summarise_ride(read_log(path))
    plain = plain_pandas(log)
    for end, found in ((End.FRONT, summary.front), (End.REAR, summary.rear)):
        assert found is not None
        agree(found, plain[end], exact=end is End.FRONT)


def agree(found: EndRide, plain: dict[str, float], *, exact: bool) -> None:
    """The front is a straight line, so both must agree; the rear's table has straight pieces in pandas."""
    tolerance = 1e-9 if exact else 0.6
    assert found.samples == ROWS
    for name, value in (("p50", found.p50_mm), ("p95", found.p95_mm), ("p99", found.p99_mm)):
        assert value == pytest.approx(plain[name], abs=tolerance)
    assert found.travel_used_mm == pytest.approx(plain["max"], abs=tolerance)
    assert found.mean_mm == pytest.approx(plain["mean"], abs=tolerance)
    assert sum(found.grains_mm) == pytest.approx(plain["grains"], abs=100 * tolerance)
    assert found.compression_speed_mm_s is not None
    assert found.compression_speed_mm_s.p95 == pytest.approx(plain["in 0.95"], rel=0.05)


def test_time_grows_with_the_ride_and_no_faster(bike: Bike) -> None:
    print("\nWhole ride analysis by length of ride")
    for name, seconds in (("1 min", 60), ("10 min", 600), ("1 h", 3600), ("10 h", 36_000)):
        log = hour(bike, seconds * RATE_HZ)
        (taken_s,) = least_s(lambda log=log: summarise_ride(log), times=2)
        print(f"  {name:>7}: {taken_s:>7.3f} s, {taken_s * 3600 / seconds:>6.3f} s an hour of ride")


def test_memory_as_multiples_of_the_log(bike: Bike) -> None:
    """Beside the readings as the log holds them (2 bytes each) and as pandas makes them (8 bytes each)."""
    log = hour(bike)
    held = log.segments[0].values.nbytes
    summary, pandas = peak_bytes(lambda: summarise_ride(log)), peak_bytes(lambda: plain_pandas(log))
    print(f"\nMost memory held at one time, one hour, beside the log's own {held / 1e6:.1f} MB (tracemalloc)")
    for name, most in (("whole ride analysis", summary), ("the plain pandas way", pandas)):
        print(f"  {name:<22} {most / 1e6:>7.1f} MB = {most / held:>5.1f} × its counts")
    print("  travel and speed of one end at a time, 4 bytes each, are 2.0 × the counts of both ends")
