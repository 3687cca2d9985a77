"""How often it would bottom: against counting, against a known tail, and where nothing can be said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.motion import EndMotion, end_motion
from analysis.pareto_tail import Excesses, fit_tail, rate_beyond
from analysis.tail import forecast
from ingest.log import Log
from ingest.records import End

FULL_MM = 230.0
RATE_HZ = 100.0


@pytest.fixture
def motion(make_log: Callable[..., Log]) -> Callable[..., EndMotion]:
    """A ride of single bumps of the given depths, one every two seconds, on 60 mm of ride position."""

    def build(peaks_mm: np.ndarray) -> EndMotion:
        shape = np.sin(np.linspace(0.0, np.pi, 31)) ** 2
        travel = np.full((len(peaks_mm), 200), 60.0)
        travel[:, 80:111] += (np.asarray(peaks_mm)[:, None] - 60.0) * shape
        log = make_log(travel.ravel(), travel.ravel(), rate_hz=RATE_HZ)
        found = end_motion(log, End.FRONT)
        assert found is not None
        return found

    return build


def pareto(n: int, scale: float, shape: float, seed: int = 0) -> np.ndarray:
    return scale * np.expm1(-shape * np.log(np.random.default_rng(seed).random(n))) / shape


def test_a_fit_finds_the_tail_it_was_drawn_from() -> None:
    drawn = pareto(20_000, 30.0, -0.25)
    fitted = fit_tail(Excesses(below=drawn[drawn < 60], beyond=int((drawn >= 60).sum()), limit=60.0))
    assert fitted.scale == pytest.approx(30.0, rel=0.03)
    assert fitted.shape == pytest.approx(-0.25, abs=0.03)
    assert fitted.excess_of(0.01) == pytest.approx(30.0 * (1 - 0.01**0.25) / 0.25, rel=0.03)
    assert fitted.excess_of(1e-9) < 140.0


def test_with_many_events_the_rate_is_their_count() -> None:
    """With all peaks beyond the limit there is no tail; the interval is the Poisson one, a little wider."""
    rate, (low, high) = rate_beyond(Excesses(below=np.empty(0), beyond=400, limit=30.0), 30.0, 2.0)
    assert rate == pytest.approx(200.0, rel=1e-3)
    assert low == pytest.approx(200 - 1.96 * np.sqrt(400) / 2 * 1.06, rel=0.04)
    assert high == pytest.approx(200 + 1.96 * np.sqrt(400) / 2 * 1.06, rel=0.04)


def test_clumped_peaks_widen_the_interval() -> None:
    excesses = Excesses(below=pareto(60, 10, -0.2), beyond=4, limit=35.0)
    plain, clumped = (rate_beyond(excesses, 35.0, 0.1, dispersion)[1] for dispersion in (1.0, 2.0))
    assert clumped[0] < plain[0] < plain[1] < clumped[1]


def test_ride_with_events(motion) -> None:
    peaks = 150 + pareto(300, 25.0, -0.25)
    found = forecast([motion(np.minimum(peaks, 228.0))], FULL_MM, End.FRONT)
    events = int((peaks >= 0.98 * FULL_MM).sum())
    true = 1800 * (1 - 0.25 * (0.98 * FULL_MM - 150) / 25) ** 4
    assert found.basis == "fitted tail"
    assert found.events == events > 0
    assert found.peaks == 60
    assert found.hours == pytest.approx(600 / 3600)
    assert found.interval is not None
    assert found.per_hour is not None
    assert found.interval[0] <= true <= found.interval[1]
    assert found.interval[0] < found.per_hour < found.interval[1]
    assert found.shape is not None
    assert "this route at this pace" in found.cautions[0]


def test_two_rides_know_more_than_one(motion) -> None:
    rides = [motion(np.minimum(150 + pareto(300, 25.0, -0.25, seed), 229.0)) for seed in (1, 2, 3, 4)]
    one, four = forecast(rides[:1], FULL_MM, End.FRONT), forecast(rides, FULL_MM, End.FRONT)
    assert four.hours == pytest.approx(4 * one.hours)
    assert one.interval is not None
    assert four.interval is not None
    assert four.interval[1] - four.interval[0] < one.interval[1] - one.interval[0]


def test_no_event_gives_an_upper_bound(motion) -> None:
    found = forecast([motion(100 + pareto(300, 20.0, -0.2))], FULL_MM, End.FRONT)
    assert found.basis == "no event: upper bound"
    assert found.per_hour is None
    assert found.interval is not None
    assert found.interval[0] == 0.0
    assert 0 < found.interval[1] < 3.7 * 6  # no more than counting alone would say
    assert any("never bottomed" in caution for caution in found.cautions)


def test_few_bumps_give_no_answer_but_what_counting_knows(motion) -> None:
    found = forecast([motion(150 + pareto(50, 20.0, -0.2))], FULL_MM, End.FRONT)
    assert found.basis == "not enough data"
    assert (found.per_hour, found.interval, found.threshold_mm) == (None, None, None)
    assert "25 deep bumps in 1.7 min are too few" in found.cautions[0]
    assert "0 to 133 an hour" in found.cautions[0]


def test_nothing_measured() -> None:
    found = forecast([], FULL_MM, End.REAR)
    assert found.basis == "not enough data"
    assert found.hours == 0.0


def test_where_everything_bottoms_counting_says_it_all(motion) -> None:
    found = forecast([motion(np.full(200, 228.0))], FULL_MM, End.FRONT)
    assert found.per_hour == pytest.approx(1800, rel=1e-2)
    assert (found.events, found.shape) == (200, None)
    assert found.interval == pytest.approx((1800 - 1.05 * 1.96 * 127, 1800 + 1.05 * 1.96 * 127), rel=0.02)


def test_masked_samples_are_no_bumps(motion, make_log) -> None:
    travel = np.full(60_000, 60.0)
    travel[::100] = 150.0
    travel[10_000:40_000] = np.nan
    ride = end_motion(make_log(travel, travel, rate_hz=RATE_HZ), End.FRONT)
    assert ride is not None
    found = forecast([ride], FULL_MM, End.FRONT)
    assert found.hours < 0.5 * 600 / 3600 + 1e-9
