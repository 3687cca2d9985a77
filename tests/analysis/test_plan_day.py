"""Planning a test day: how many minutes and runs, against theory, and where there is nothing to plan from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import nctdtr, stdtrit

from analysis.played_comparison import Chance, _split, share_found
from analysis.test_day import plan_test_day
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind, Log
from ingest.records import Setup

LEVEL = 0.05 / 16


@pytest.fixture(scope="module")
def rides() -> Callable[..., list[Log]]:
    """Rides of 60 s that wander; ``between`` moves each run as a whole."""

    def build(make_log: Callable[..., Log], n: int, between: float = 0.0) -> list[Log]:
        made = []
        for run in range(n):
            random = np.random.default_rng(run)
            noise = random.normal(0.0, 1.0, 12_000)
            slow = np.convolve(noise, np.hanning(200), "same")
            travel = 80.0 + 3.0 * slow + between * (-1) ** run
            travel[3000:3200] *= 1 - np.hanning(200)  # topped out once
            log = make_log(travel, travel, rate_hz=200.0)
            made.append(replace(log, id=f"run {run}", setup=Setup(name="stock")))
        return made

    return build


@pytest.mark.parametrize("size", [4.0, 6.0, 9.0])
def test_welch_is_as_strong_as_theory_has_it(size: float) -> None:
    """Runs that differ by far more than chance inside them: the non-central t distribution says how often."""
    chance = Chance(inside=1e-3, between=1.0)
    dof = 2 * (6 - 1)
    expected = 1 - nctdtr(dof, size / 4 / np.sqrt(2 / 6), stdtrit(dof, 1 - LEVEL / 2))
    assert share_found(chance, 6, 1.0, size / 4, LEVEL) == pytest.approx(expected, abs=0.08)


def test_nothing_is_found_where_nothing_changed() -> None:
    for chance in (Chance(inside=1.0, between=0.0), Chance(inside=1.0, between=2.0, rest=0.1)):
        assert share_found(chance, 3, 5.0, 0.0, 0.05) <= 0.08
    rate = Chance(inside=5.0, between=0.0, per_10_min=8.0, clumped=1.5)
    assert share_found(rate, 3, 5.0, 0.0, 0.05) <= 0.08


def test_more_runs_or_minutes_see_more() -> None:
    chance = Chance(inside=2.0, between=0.3, rest=0.1)
    few = share_found(chance, 3, 2.0, 3.0, LEVEL)
    assert few < share_found(chance, 3, 8.0, 3.0, LEVEL)
    assert few < share_found(chance, 5, 2.0, 3.0, LEVEL)
    rate = Chance(inside=12.0, between=0.0, per_10_min=10.0)
    assert share_found(rate, 4, 5.0, 20.0, LEVEL) < share_found(rate, 4, 20.0, 20.0, LEVEL)


def test_plan_from_four_runs(rides, make_log) -> None:
    day = plan_test_day(rides(make_log, 4), "front_mean_mm", -3.0)
    assert (day.metric, day.change, day.unit) == ("front_mean_mm", -3.0, "mm")
    assert [runs for runs, _ in day.options] == sorted(runs for runs, _ in day.options)
    minutes = [minutes for _, minutes in day.options]
    assert minutes == sorted(minutes, reverse=True)
    assert day.seen_now is not None
    assert day.within_run_sd is not None
    assert day.between_runs_sd is not None
    assert day.basis == "the scatter between 4 runs and the spread inside them"
    assert any("16 numbers looked at together" in one for one in day.cautions)
    # A change of what is seen now takes no longer than these runs did.
    again = plan_test_day(rides(make_log, 4), "front_mean_mm", 1.03 * day.seen_now)
    assert dict(again.options)[4] == 1.0


def test_runs_that_differ_by_themselves_cost_runs_not_minutes(rides, make_log) -> None:
    steady = plan_test_day(rides(make_log, 4), "front_mean_mm", 10.0)
    uneven = plan_test_day(rides(make_log, 4, between=6.0), "front_mean_mm", 10.0)
    assert uneven.between_runs_sd == pytest.approx(6.9, abs=2.0)
    assert steady.options[0][0] == 3
    assert uneven.options == ()
    assert any("not even 6 runs a side of 30 min would show 10 mm" in one for one in uneven.cautions)


def test_one_run_gives_a_range_with_a_stated_guess(rides, make_log) -> None:
    day = plan_test_day(rides(make_log, 1), "rear_p95_mm", 6.0)
    assert day.between_runs_sd is None
    assert day.seen_now is None
    assert "common practice, no source" in day.basis
    assert "run-to-run spread unknown from one run" in day.cautions[0]
    assert "3 runs a side of" in day.cautions[0]


def test_two_runs_promise_no_more_than_one(rides, make_log) -> None:
    """Two runs that came out alike once made a plan of less riding than one run alone."""
    asked = ("front_mean_mm", 10.0)
    one, two = (plan_test_day(rides(make_log, runs), *asked) for runs in (1, 2))
    assert two.between_runs_sd is one.between_runs_sd is None
    assert dict(two.options)[6] >= dict(one.options)[6] - 0.5
    assert "two runs; how far two runs differ is a guess" in two.basis
    assert "run-to-run spread unknown from two runs" in two.cautions[0]
    for values in ([80.0], [80.0, 80.1], [80.0, 95.0]):
        assert _split(values, 1.0, 2.5)[1] >= 2.5
    assert _split([80.0, 95.0], 1.0, 2.5)[1] > 10.0


@pytest.mark.parametrize(
    ("metric", "change", "error", "says"),
    [
        ("front_travel_used_mm", 5.0, UsageError, "is one moment, which chance decides"),
        ("front_height", 5.0, UsageError, "is no number of a comparison: allowed are front_mean_mm"),
        ("front_mean_mm", 0.0, UsageError, "give the size of a change worth seeing, in mm"),
        ("front_mean_mm", float("nan"), UsageError, "give the size"),
        ("front_bottoming_per_10_min", 2.0, CannotAnswer, "met no front bottoming at all"),
        ("front_topping_per_10_min", -500.0, UsageError, "there are only 10.0 in 10 min now"),
    ],
)
def test_what_cannot_be_planned(
    rides, make_log, metric: str, change: float, error: type[Exception], says: str
) -> None:
    with pytest.raises(error) as caught:
        plan_test_day(rides(make_log, 1), metric, change)
    assert says in str(caught.value)


def test_needs_rides_of_one_setup(rides, make_log) -> None:
    with pytest.raises(UsageError, match="one ride or more"):
        plan_test_day([], "front_mean_mm", 5.0)
    one, other = rides(make_log, 2)
    mixed: Sequence[Log] = [one, replace(other, setup=Setup(name="soft"))]
    with pytest.raises(UsageError, match=r"several setups \(stock, soft\)"):
        plan_test_day(mixed, "front_mean_mm", 5.0)
    with pytest.raises(CannotAnswer, match="sag check"):
        plan_test_day([replace(one, kind=Kind.SAG)], "front_mean_mm", 5.0)


def test_a_number_that_never_moved_is_nothing_to_plan_from(make_log) -> None:
    still = make_log(np.full(6000, 80.0), np.full(6000, 80.0), rate_hz=100.0)
    with pytest.raises(CannotAnswer, match="front mean ride position did not move at all"):
        plan_test_day([still], "front_mean_mm", 5.0)
