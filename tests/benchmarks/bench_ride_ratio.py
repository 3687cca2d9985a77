"""How long the whole ride summary of one hour takes, as multiples of things every machine can do.

One hour, two channels, 1 kHz, 10-bit. Printed beside it: reading the log's Parquet file, one pass of minimum
and maximum over both channels, and the same figures worked out the plain way in pandas. Ratios, because
times belong to one machine; nothing here fails for being slow. Run with `make bench`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import pandas as pd
import pytest

from analysis.ride import summarise_ride
from analysis.ride_results import EndRide
from analysis.speed import differentiator
from ingest.log import Channel, Kind, Log, Segment
from ingest.log_file import read_log, write_log
from ingest.records import Bike, End

ROWS = 3_600_000
RATE_HZ = 1000


def hour(bike: Bike) -> Log:
    """An hour of rough ground: noise of a few Hz about a third of the travel, and half a count of hiss."""
    random = np.random.default_rng(0)
    columns = []
    for low, high in ((102, 921), (88, 902)):
        ground = np.convolve(random.normal(size=ROWS + 199), np.hanning(200), "valid")
        counts = low + (high - low) * (0.38 + 0.14 * ground / ground.std()) + random.normal(0, 0.5, ROWS)
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


def median_s(work: Callable[[], object], times: int = 3) -> float:
    work()
    taken = []
    for _ in range(times):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return float(np.median(taken))


def test_one_hour_as_multiples(bike: Bike, tmp_path: Path) -> None:
    log, path = hour(bike), tmp_path / "hour.parquet"
    write_log(log, path)
    values = log.segments[0].values
    travel = [values[:, k].astype(float) for k in (0, 1)]
    tool = differentiator(1 / RATE_HZ)

    summary_s = median_s(lambda: summarise_ride(log))
    read_s = median_s(lambda: read_log(path))
    pass_s = median_s(lambda: [(column.min(), column.max()) for column in travel])
    filter_s = median_s(lambda: [tool.speed(column) for column in travel])
    pandas_s = median_s(lambda: plain_pandas(log), times=1)

    print(f"\nRide summary of one hour, 2 channels, 1 kHz: {1000 * summary_s:.0f} ms here")
    for name, seconds in (
        ("reading the log's Parquet file", read_s),
        ("one minimum and maximum pass (float64)", pass_s),
        ("the differentiating filter alone", filter_s),
        ("the plain pandas way", pandas_s),
    ):
        print(f"  {name:<40} {1000 * seconds:>7.1f} ms   summary = {summary_s / seconds:>6.2f} ×")

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
