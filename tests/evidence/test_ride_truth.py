"""Ten varied rides of the virtual bike, 10-bit at 1 kHz, against what truly happened.

Odd rides are on the lowered bike: described by the stock bike file and a setup (less travel, other linkage
plates, sensors zeroed anew), as a shop would. Truth comes from the simulator's own finer time grid. Sixty
more, with every kind of trouble, are in `test_ride_many.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from analysis.ride import summarise_ride
from analysis.ride_results import EndRide, TravelEvent
from analysis.virtual_bike import (
    Scene,
    TrueEvent,
    Truth,
    demo_bike,
    record_of,
    simulate,
    to_counts,
    varied_scenes,
)
from ingest.log import Channel, Kind, Log, Segment
from ingest.records import Bike, End, EndSetup, Setup

pytestmark = pytest.mark.evidence

NEAR_THRESHOLD_MM = 1.0
SAME_EVENT_S = 0.1


@dataclass(frozen=True)
class Row:
    """One end of one ride: what came out beside what was true."""

    ride: int
    end: End
    found: EndRide
    true_max_mm: float
    true_percentiles_mm: tuple[float, float, float]
    true_deep: tuple[TrueEvent, ...]
    true_toppings: tuple[TrueEvent, ...]
    true_speeds_mm_s: tuple[float, float]

    @property
    def max_error_mm(self) -> float:
        return self.found.travel_used_mm - self.true_max_mm

    @property
    def percentile_errors_mm(self) -> tuple[float, ...]:
        got = (self.found.p50_mm, self.found.p95_mm, self.found.p99_mm)
        return tuple(a - b for a, b in zip(got, self.true_percentiles_mm, strict=True))

    @property
    def speed_errors_percent(self) -> tuple[float, ...]:
        speeds = (self.found.compression_speed_mm_s, self.found.rebound_speed_mm_s)
        return tuple(
            100 * (speed.max / true - 1)
            for speed, true in zip(speeds, self.true_speeds_mm_s, strict=True)
            if speed is not None
        )

    def bottoming_score(self) -> tuple[int, int, int]:
        """Found and true, found only, true only; true peaks within 1 mm of the threshold aside."""
        threshold = 0.98 * self.found.travel_mm
        events = [event for event in self.found.bottoming.events if event.grade != "rubber"]
        right = missed = 0
        for true in self.true_deep:
            if true.peak_mm > threshold + NEAR_THRESHOLD_MM:
                hit = any(same(event, true) for event in events)
                right, missed = right + hit, missed + (not hit)
        wanted = [true for true in self.true_deep if true.peak_mm > threshold - NEAR_THRESHOLD_MM]
        wrong = sum(not any(same(event, true) for true in wanted) for event in events)
        return right, wrong, missed


def same(event: TravelEvent, true: TrueEvent) -> bool:
    return abs(event.t_s - true.t_s) <= SAME_EVENT_S


def lowered_setup(record: Bike) -> Setup:
    """Say in a setup what differs from the stock bike's file."""
    ends = {}
    for end in End:
        suspension = record.suspension(end)
        assert suspension is not None
        ends[end] = EndSetup(
            travel_mm=suspension.travel_mm,
            leverage=suspension.leverage,
            sensor_zero_count=record.sensors[end].zero_count,
        )
    return Setup(name="lowered", front=ends[End.FRONT], rear=ends[End.REAR])


def log_of(k: int, scene: Scene, truth: Truth) -> Log:
    own, stock = record_of(scene.bike), record_of(demo_bike())
    values = to_counts(truth, own, bits=10, noise_counts=0.5, seed=k)
    return Log(
        id=f"ride {k}",
        kind=Kind.RIDE,
        started="",
        bike=stock,
        setup=None if own.front == stock.front else lowered_setup(own),
        channels=(Channel(name="ch0", bits=10), Channel(name="ch1", bits=10)),
        segments=(Segment(start_s=0.0, dt_s=truth.dt_s, values=values),),
    )


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    scenes = varied_scenes(10)
    rows = []
    for k, (scene, truth) in enumerate(zip(scenes, simulate(scenes), strict=True)):
        summary = summarise_ride(log_of(k, scene, truth))
        for end, found in ((End.FRONT, summary.front), (End.REAR, summary.rear)):
            assert found is not None
            true = truth.ends[end]
            p50, p95, p99 = np.percentile(truth.travel_mm(end), [50, 95, 99]).tolist()
            rows.append(
                Row(
                    ride=k,
                    end=end,
                    found=found,
                    true_max_mm=true.max_mm,
                    true_percentiles_mm=(p50, p95, p99),
                    true_deep=true.above_95_percent,
                    true_toppings=true.toppings,
                    true_speeds_mm_s=(true.max_compression_speed_mm_s, true.max_rebound_speed_mm_s),
                )
            )
    return rows


def print_table(rows: list[Row]) -> None:
    print(
        "\nRide analysis against the truth of the virtual bike: ten rides, 10-bit, 1 kHz (odd rides: lowered)"
    )
    print(
        "ride end   travel | deepest mm  error | error of p50   p95   p99 mm | bottomings right wrong missed"
        " | toppings true found | top speed mm/s in  error   out  error"
    )
    for row in rows:
        right, wrong, missed = row.bottoming_score()
        p50, p95, p99 = row.percentile_errors_mm
        into, out = row.true_speeds_mm_s
        into_error, out_error = row.speed_errors_percent
        print(
            f"{row.ride:>4} {row.end:<5} {row.found.travel_mm:>6.0f} | {row.true_max_mm:>10.1f} "
            f"{row.max_error_mm:>+6.2f} | {p50:>+12.2f} {p95:>+5.2f} {p99:>+5.2f}    | "
            f"{right:>16} {wrong:>5} {missed:>6} | "
            f"{len(row.true_toppings):>13} {row.found.topping.count:>5} | "
            f"{into:>17.0f} {into_error:>+5.1f}% {out:>5.0f} {out_error:>+5.1f}%"
        )


def test_ten_varied_rides_come_out_as_they_were(rows: list[Row]) -> None:
    print_table(rows)
    right, wrong, missed = (sum(part) for part in zip(*(row.bottoming_score() for row in rows), strict=True))
    precision, recall = right / (right + wrong), right / (right + missed)
    print(
        f"worst: deepest {max(abs(row.max_error_mm) for row in rows):.2f} mm, percentiles "
        f"{max(abs(e) for row in rows for e in row.percentile_errors_mm):.2f} mm, top speed "
        f"{max(abs(e) for row in rows for e in row.speed_errors_percent):.1f} %; "
        f"bottomings: precision {precision:.3f}, recall {recall:.3f} of {right + missed}"
    )
    assert {row.found.travel_mm for row in rows} == {230, 220, 205, 195}
    for row in rows:
        assert abs(row.max_error_mm) <= max(1.0, 0.005 * row.true_max_mm)
        assert max(abs(error) for error in row.percentile_errors_mm) <= 0.5
        assert max(abs(error) for error in row.speed_errors_percent) <= 5.0
    assert right + missed >= 50
    assert precision >= 0.98
    assert recall >= 0.98


def test_toppings_and_entry_speeds_come_out_as_they_were(rows: list[Row]) -> None:
    """Not asked for as a number; topping within one in fifty, entry speeds within a tenth for nine in ten."""
    true = sum(len(row.true_toppings) for row in rows)
    found = sum(row.found.topping.count for row in rows)
    errors = np.array(
        [
            event.entry_speed_mm_s / match.entry_speed_mm_s - 1
            for row in rows
            for event in row.found.bottoming.events
            for match in row.true_deep
            if same(event, match) and event.entry_speed_mm_s is not None and match.entry_speed_mm_s > 300
        ]
    )
    print(
        f"\ntoppings: {true} true, {found} found; entry speed at 95 % above 300 mm/s, {errors.size} events: "
        f"median error {100 * np.median(errors):+.1f} %, nine in ten within "
        f"{100 * np.quantile(np.abs(errors), 0.9):.0f} %"
    )
    assert abs(found - true) <= 0.02 * true
    assert errors.size >= 50
    assert np.quantile(np.abs(errors), 0.9) < 0.10


def test_without_its_setup_the_lowered_bike_would_come_out_wrong() -> None:
    """The check of the check: the setup is what makes the conversion right."""
    scene = varied_scenes(2)[1]
    (truth,) = simulate([scene])
    log = log_of(1, scene, truth)
    without = Log(
        id=log.id, kind=log.kind, started="", bike=log.bike, channels=log.channels, segments=log.segments
    )
    for end in End:
        right, wrong = (getattr(summarise_ride(each), end.value).p50_mm for each in (log, without))
        true = float(np.median(truth.travel_mm(end)))
        assert right == pytest.approx(true, abs=0.5)
        assert abs(wrong - true) > 5.0
