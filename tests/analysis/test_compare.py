"""Comparing rides: what counts as changed, what does not, and what is refused."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from analysis.change import Counted, among_runs, between_runs, clumping, holm, of_rates, within_rides
from analysis.compare import compare_rides
from analysis.compare_results import Comparison, Metric
from analysis.metrics import KINDS
from analysis.results import Quantity
from analysis.ride import summarise_ride
from analysis.ride_to_ride import unlike_rides
from analysis.travel_use import TravelRule
from analysis.within_ride import Spread
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Channel, Kind, Log, Unit
from ingest.records import Bike, Rider

RATE_HZ = 200.0


SMOOTH = np.polymul([1.0, -0.83], [1.0, -0.83])
"""Two low-passes of 6 Hz: no wheel jumps from one sample to the next."""


def motion(seed: int, seconds: float, mean_mm: float, sd_mm: float) -> np.ndarray:
    """Ride-like travel: a swing of some 1.3 Hz on a slower wandering of about a second, symmetrical."""
    random = np.random.default_rng(seed)
    swing = unit_noise(random, [1.0, -1.0], np.polymul([1.0, -1.96, 0.962], SMOOTH), seconds)
    wander = unit_noise(random, [1.0], np.polymul([1.0, -np.exp(-1 / RATE_HZ)], SMOOTH), seconds)
    return mean_mm + sd_mm * (0.85 * swing + 0.5 * wander)


def unit_noise(
    random: np.random.Generator, top: list[float], bottom: list[float] | np.ndarray, seconds: float
) -> np.ndarray:
    """White noise through a filter, scaled to a standard deviation of 1 by the filter's own response."""
    response = lfilter(top, bottom, np.eye(1, 4000)[0])
    noise = random.standard_normal(int(seconds * RATE_HZ) + 4000)
    return lfilter(top, bottom, noise)[4000:] / np.sqrt((response**2).sum())


@pytest.fixture
def ride(make_log: Callable[..., Log]) -> Callable[..., Log]:
    def build(
        seed: int, seconds: float = 60.0, front: float = 60.0, rear: float = 55.0, sd: float = 15.0
    ) -> Log:
        log = make_log(
            motion(2 * seed, seconds, front, sd), motion(2 * seed + 1, seconds, rear, sd), rate_hz=RATE_HZ
        )
        return replace(log, id=f"ride {seed}")

    return build


def metric(comparison: Comparison, name: str) -> Metric:
    return next(one for one in comparison.metrics if one.name == name)


def test_names_and_order_are_the_contract(ride: Callable[..., Log]) -> None:
    comparison = compare_rides([ride(1)], [ride(2)])
    names = [
        "mean_mm", "p50_mm", "p95_mm", "p99_mm", "travel_used_mm", "travel_used_percent",
        "bottoming_per_10_min", "topping_per_10_min", "compression_p95_mm_s", "rebound_p95_mm_s",
    ]  # fmt: skip
    assert [kind.name for kind in KINDS] == names
    assert [one.name for one in comparison.metrics] == [
        f"{end}_{n}" for end in ("front", "rear") for n in names
    ]


def test_values_are_those_of_the_summaries(ride: Callable[..., Log]) -> None:
    before, after = ride(1), ride(2, front=75.0)
    comparison = compare_rides([before], [after])
    one, other = summarise_ride(before).front, summarise_ride(after).front
    assert one is not None
    assert other is not None
    found = metric(comparison, "front_mean_mm")
    assert (found.before, found.after) == (one.mean_mm, other.mean_mm)
    assert found.change == pytest.approx(other.mean_mm - one.mean_mm)
    assert metric(comparison, "front_travel_used_mm").after == other.travel_used_mm


def test_a_clear_shift_is_a_change(ride: Callable[..., Log]) -> None:
    comparison = compare_rides([ride(1)], [ride(2, front=80.0)])
    found = metric(comparison, "front_mean_mm")
    assert found.changed
    assert found.ci95 is not None
    assert found.ci95[0] > 10.0
    assert not metric(comparison, "rear_mean_mm").changed
    assert comparison.answer.verdict == "changed"
    assert "front mean ride position" in comparison.answer.because[0]


def test_chance_alone_is_no_change(ride: Callable[..., Log]) -> None:
    comparison = compare_rides([ride(1)], [ride(2)])
    assert comparison.answer.verdict == "no clear change"
    assert not any(one.changed for one in comparison.metrics)
    assert "run-to-run spread unknown" in comparison.cautions[0]


def test_intervals_respect_that_samples_resemble_each_other(ride: Callable[..., Log]) -> None:
    found = metric(compare_rides([ride(1)], [ride(2)]), "front_mean_mm")
    assert found.ci95 is not None
    half = (found.ci95[1] - found.ci95[0]) / 2
    # 12 000 samples taken for independent would claim 1.96 * 15 * sqrt(2 / 12000) = 0.38 mm.
    assert half > 3 * 0.38


def test_standard_error_of_the_mean_is_what_repeated_rides_show(ride: Callable[..., Log]) -> None:
    pairs = [metric(compare_rides([ride(2 * k)], [ride(2 * k + 1)]), "front_mean_mm") for k in range(9)]
    scatter = np.std([pair.change for pair in pairs], ddof=1)
    half = np.mean([(pair.ci95[1] - pair.ci95[0]) / 2 for pair in pairs if pair.ci95 is not None])
    # Nine pairs know the scatter to about 25 %.
    assert 0.6 < half / 2.0 / scatter < 2.0


def test_deepest_travel_has_no_interval_and_is_never_a_change(
    make_log: Callable[..., Log], ride: Callable[..., Log]
) -> None:
    log = ride(1)
    values = log.segments[0].values.copy()
    values[6000:6020] += 100.0 * np.hanning(20)[:, None]
    knocked = replace(log, id="knocked", segments=(replace(log.segments[0], values=values),))
    comparison = compare_rides([log], [knocked])
    for name in ("front_travel_used_mm", "rear_travel_used_percent"):
        found = metric(comparison, name)
        assert found.change > 5
        assert found.ci95 is None
        assert not found.changed
    assert comparison.answer.verdict == "no clear change"


def test_verdict_is_changed_exactly_when_a_metric_is(ride: Callable[..., Log]) -> None:
    for shift in (0.0, 3.0, 8.0):
        comparison = compare_rides([ride(3)], [ride(4, rear=55.0 + shift)])
        assert (comparison.answer.verdict == "changed") == any(one.changed for one in comparison.metrics)


def test_three_runs_a_side_are_judged_by_their_scatter(ride: Callable[..., Log]) -> None:
    before = [ride(k, front=60.0 + shift) for k, shift in enumerate((-6.0, 0.0, 6.0))]
    after = [ride(10 + k, front=64.0 + shift) for k, shift in enumerate((-6.0, 0.0, 6.0))]
    runs = metric(compare_rides(before, after), "front_mean_mm")
    single = metric(compare_rides(before[1:2], after[1:2]), "front_mean_mm")
    assert runs.ci95 is not None
    assert single.ci95 is not None
    # The runs scatter by 6 mm: t(4 dof) * sqrt(2 * 36 / 3) = 13.6 mm, more than any one ride knows of.
    assert (runs.ci95[1] - runs.ci95[0]) / 2 == pytest.approx(13.6, rel=0.35)
    assert not runs.changed
    assert runs.before == pytest.approx(np.mean([summarise_ride(log).front.mean_mm for log in before]))
    assert "scatter between runs (3 before, 3 after; Welch)" in compare_rides(before, after).cautions[0]


def test_two_runs_a_side_still_know_no_spread_between_runs(ride: Callable[..., Log]) -> None:
    comparison = compare_rides([ride(1), ride(2)], [ride(3), ride(4)])
    assert "these rides only (2 before, 2 after)" in comparison.cautions[0]


def test_different_bikes_are_refused(ride: Callable[..., Log], bike: Bike) -> None:
    other = replace(ride(2), bike=replace(bike, id="frame 0002"))
    with pytest.raises(CannotAnswer, match="'frame 0001', log ride 2 of 'frame 0002'"):
        compare_rides([ride(1)], [other])


def test_lowered_bike_is_the_same_bike(ride: Callable[..., Log], bike: Bike) -> None:
    assert bike.front is not None
    shorter = replace(bike, front=replace(bike.front, travel_mm=205.0))
    comparison = compare_rides([ride(1)], [replace(ride(2), bike=shorter)])
    used = metric(comparison, "front_travel_used_percent")
    deepest = metric(comparison, "front_travel_used_mm")
    assert used.before == pytest.approx(100 * deepest.before / 230)
    assert used.after == pytest.approx(100 * deepest.after / 205)


@pytest.mark.parametrize("seconds", [0.1, 0.5, 19.0])
def test_too_short_a_ride_is_refused(ride: Callable[..., Log], seconds: float) -> None:
    with pytest.raises(CannotAnswer, match=r"too short to compare: 60\.0 s of valid riding before and"):
        compare_rides([ride(1)], [ride(2, seconds)])


def test_sag_check_is_no_ride(ride: Callable[..., Log]) -> None:
    with pytest.raises(CannotAnswer, match="ride 2 is a sag check, not a ride"):
        compare_rides([ride(1)], [replace(ride(2), kind=Kind.SAG)])


def test_no_common_end_is_refused(ride: Callable[..., Log]) -> None:
    front = ride(1)
    front = replace(
        front,
        channels=(Channel(name="front_mm", unit=Unit.WHEEL_MM), Channel(name="spare", unit=Unit.WHEEL_MM)),
    )
    rear = ride(2)
    rear = replace(
        rear,
        channels=(Channel(name="spare", unit=Unit.WHEEL_MM), Channel(name="rear_mm", unit=Unit.WHEEL_MM)),
    )
    with pytest.raises(CannotAnswer, match="no end of the bike was measured on both sides"):
        compare_rides([front], [rear])
    only_front = compare_rides([front], [ride(3)])
    assert {one.name.split("_")[0] for one in only_front.metrics} == {"front"}


def test_nothing_or_the_same_ride_to_compare_is_wrong_use(ride: Callable[..., Log]) -> None:
    log = ride(1)
    with pytest.raises(UsageError, match="one ride before and one after"):
        compare_rides([], [log])
    with pytest.raises(UsageError, match="log ride 1 was given twice"):
        compare_rides([log], [log])


def test_a_copy_of_a_ride_is_no_second_run(ride: Callable[..., Log]) -> None:
    with pytest.raises(UsageError, match="log ride 1 was given twice"):
        compare_rides([ride(1)], [ride(1)])  # the same file, read twice
    with pytest.raises(UsageError, match="log ride 1 was given twice"):
        compare_rides([ride(1), ride(2), ride(1)], [ride(3), ride(4), ride(5)])


@pytest.mark.parametrize("measured", [1, 2])
def test_an_end_measured_in_some_runs_only_is_judged_by_those(
    ride: Callable[..., Log], measured: int
) -> None:
    channels = (Channel(name="spare", unit=Unit.WHEEL_MM), Channel(name="rear_mm", unit=Unit.WHEEL_MM))
    before = [ride(k) for k in range(3)]
    before[measured:] = [replace(log, channels=channels) for log in before[measured:]]
    after = [ride(10 + k, front=80.0) for k in range(3)]
    comparison = compare_rides(before, after)
    assert f"front: these rides only ({measured} before, 3 after)" in comparison.cautions[0]
    assert "rear: intervals from the scatter between runs (3 before, 3 after" in comparison.cautions[1]
    alone = compare_rides(before[:measured], after)
    assert metric(comparison, "front_mean_mm").ci95 == metric(alone, "front_mean_mm").ci95
    assert metric(comparison, "front_mean_mm").changed


def test_another_rider_is_said(ride: Callable[..., Log]) -> None:
    before = replace(ride(1), rider=Rider(name="Mara", mass_kg=58.0))
    after = replace(ride(2), rider=Rider(name="Jo", mass_kg=95.0))
    said = compare_rides([before], [after]).cautions
    assert any("the rider differs: Mara before, Jo after" in caution for caution in said)


def test_short_and_wild_rides_cannot_tell(ride: Callable[..., Log]) -> None:
    slow = 60 + 40 * np.sign(np.sin(np.arange(25 * RATE_HZ) / RATE_HZ * 0.7))
    log = ride(1, 25.0)
    values = np.column_stack([slow, slow]) + 0.05 * log.segments[0].values
    wild = replace(log, id="wild", segments=(replace(log.segments[0], values=values),))
    other = replace(log, id="wild 2", segments=(replace(log.segments[0], values=values[::-1]),))
    answer = compare_rides([wild], [other]).answer
    assert answer.verdict == "cannot tell"
    assert "would not show" in answer.because[0]


def test_two_rides_of_five_minutes_take_seconds(ride: Callable[..., Log]) -> None:
    before, after = ride(1, 300.0), ride(2, 300.0)
    compare_rides([ride(3)], [ride(4)])  # imports
    began = time.process_time()
    compare_rides([before], [after])
    assert time.process_time() - began < 3.0


def test_basis_rule_and_shares_of_travel_are_said(ride: Callable[..., Log], bike: Bike) -> None:
    assert bike.front is not None
    shorter = replace(bike, front=replace(bike.front, travel_mm=205.0))
    comparison = compare_rides([ride(1)], [replace(ride(2), bike=shorter)], TravelRule(deepest_percent=70.0))
    assert comparison.basis == "these rides only"
    assert "70 % or more" in comparison.rule
    assert {one.what for one in comparison.likeness} >= {"length", "roughness", "pace"}
    assert [one.end for one in comparison.forecasts_after] == ["front", "rear"]
    mean = metric(comparison, "front_mean_mm")
    assert mean.change_percent_of_travel == pytest.approx(100 * (mean.after / 205 - mean.before / 230))
    assert metric(comparison, "front_rebound_p95_mm_s").change_percent_of_travel is None
    runs = compare_rides([ride(k) for k in range(3)], [ride(k) for k in range(3, 6)])
    assert runs.basis == "runs"


def test_each_ride_is_named_before_it_is_worked_on(ride: Callable[..., Log]) -> None:
    said: list[str] = []
    compare_rides([ride(1), ride(2)], [ride(3)], on_ride=lambda log: said.append(log.id))
    assert said == ["ride 1", "ride 2", "ride 3"]


def at(log: Log, hour: int) -> Log:
    return replace(log, started=f"2026-01-01T{hour:02d}:00:00+00:00")


def test_before_again_shows_what_the_day_did(ride: Callable[..., Log]) -> None:
    after = [at(ride(2), 10)]
    same = compare_rides([at(ride(1), 9), at(ride(3), 11)], after).answer
    assert "Before and before again agree within chance" in same.because[1]
    moved = compare_rides([at(ride(1), 9), at(ride(3, front=80.0), 11)], after).answer
    assert "the day itself changed something" in moved.because[1]
    assert "front mean ride position" in moved.because[1]
    once = compare_rides([at(ride(1), 8), at(ride(3), 9)], after).answer
    assert not any("before again" in reason for reason in once.because)


# ------------------------------------------------------------------------------------------------ rules


def roughness(value: float, percent: float = 4.0) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=value * percent / 50, coverage_factor=2.0)


def test_what_sets_two_rides_apart_is_measured_or_what_is_usual() -> None:
    # 15 % either way, all as likely: 8.7 % a ride, and 3 % for the rest; by the square root of 2 for two.
    usual = unlike_rides([None], [roughness(100.0)])
    assert usual == pytest.approx(np.sqrt(2) * np.hypot(0.15 / np.sqrt(3), 0.03))
    alike, apart = (unlike_rides([roughness(100.0)], [roughness(value)]) for value in (100.0, 160.0))
    assert alike < usual
    assert apart > np.log(1.6) * 0.95
    assert unlike_rides([roughness(100.0, 50.0)], [roughness(100.0, 50.0)]) <= usual
    many = [roughness(100.0)] * 3
    assert unlike_rides(many, many) < alike


def test_a_rougher_road_is_not_sold_as_the_works_doing() -> None:
    spread = [Spread(standard_error=3.0, dof=50.0)]
    plain, allowed = within_rides(20.0, spread, spread), within_rides(20.0, spread, spread, unlike=10.0)
    assert plain is not None
    assert allowed is not None
    assert plain.p < 0.001 < 0.05 < allowed.p
    assert allowed.ci95[0] < 0 < plain.ci95[0]


def test_runs_that_agree_by_luck_are_steadied_and_runs_that_scatter_are_not() -> None:
    one, other = [10.0, 10.001, 9.999], [11.0, 11.001, 10.999]
    steadied = among_runs(one, other, usual=0.5)
    assert steadied is not None
    # Pooled: (4 * 0.25 + 4 * 1e-6) / 8, 8 degrees of freedom, t = 2.306.
    half = 2.306 * np.sqrt(0.125) * np.sqrt(2 / 3)
    assert steadied.ci95 == pytest.approx((1 - half, 1 + half), abs=2e-3)
    wild = [8.0, 10.0, 12.0], [9.0, 11.0, 14.0]
    assert among_runs(*wild, usual=0.5) == between_runs(*wild)


def test_holm_steps_down() -> None:
    # Limits 0.05/4, 0.05/3, 0.05/2, 0.05: the third fails, so the fourth does not stand either.
    assert holm([0.01, 0.016, 0.026, 0.04]) == [True, True, False, False]
    assert holm([]) == []


def test_no_event_on_either_side_still_has_an_interval() -> None:
    none = Counted(events=0, seconds=300.0, clumping=1.0)
    found = of_rates(none, none, 600.0)
    # 3.689 events at the most in 300 s.
    assert found.ci95 == pytest.approx((-7.378, 7.378), abs=0.001)
    assert found.p == 1.0


def test_rates_that_clearly_differ() -> None:
    found = of_rates(
        Counted(events=40, seconds=300.0, clumping=1.0), Counted(events=5, seconds=300.0, clumping=1.0), 600.0
    )
    assert found.value == pytest.approx(-70.0)
    assert found.ci95[1] < -40
    # Two-sided exact: 5 or fewer of 45 at a half each.
    assert found.p == pytest.approx(2 * sum(math.comb(45, k) for k in range(6)) / 2**45, rel=1e-9)


def test_clumped_events_widen_the_interval() -> None:
    clumps = [start + 0.2 * i for start in (20.0, 110.0, 250.0) for i in range(8)]
    clumped = clumping(clumps, 300.0)
    assert clumped > 4
    assert clumping(list(np.arange(5.0, 300.0, 12.0)), 300.0) == 1.0
    wide = of_rates(
        Counted(events=24, seconds=300, clumping=clumped),
        Counted(events=8, seconds=300, clumping=clumped),
        600,
    )
    plain = of_rates(
        Counted(events=24, seconds=300, clumping=1.0), Counted(events=8, seconds=300, clumping=1.0), 600
    )
    assert wide.p > 0.05 > plain.p
    assert wide.ci95[1] - wide.ci95[0] > 1.5 * (plain.ci95[1] - plain.ci95[0])


def test_spread_of_two_rides_adds_in_squares() -> None:
    found = within_rides(10.0, [Spread(standard_error=3.0, dof=1e9)], [Spread(standard_error=4.0, dof=1e9)])
    assert found is not None
    assert found.ci95 == pytest.approx((10 - 9.8, 10 + 9.8), abs=0.01)
    assert within_rides(0.0, [], []) is None


def test_a_side_without_a_spread_has_no_interval() -> None:
    one = Spread(standard_error=1.0, dof=20.0)
    assert within_rides(3.0, [one], []) is None
    assert within_rides(3.0, [], [one]) is None


def test_the_computers_rounding_is_no_spread() -> None:
    """Two rides that stood still, 2 mm apart, once came out as changed ± 4e-14 mm."""
    rounding = [Spread(standard_error=1e-14, dof=9.0)]
    assert within_rides(2.0, rounding, rounding) is None
