from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.ride import summarise_ride
from analysis.ride_results import EndRide
from ingest.errors import CannotAnswer
from ingest.log import Amendment, Channel, Ending, Gap, Kind, LinkStatistics, Log, Segment
from ingest.records import Bike, End
from ingest.version import SOFTWARE

RATE = 1000
T = np.arange(120 * RATE) / RATE


def sine(mean: float, size: float, hz: float) -> np.ndarray:
    return mean + size * np.sin(2 * np.pi * hz * T)


@pytest.fixture
def ride(make_log: Callable[..., Log]) -> Log:
    return make_log(sine(90, 60, 1.5), sine(80, 30, 2.5))


def front(log: Log) -> EndRide:
    end = summarise_ride(log).front
    assert end is not None
    return end


def test_sine_has_its_closed_form_figures(ride: Log) -> None:
    """x = 90 + 60 sin: quantiles 90 + 60 sin(π(q − ½)), top speed 60·2π·1.5 both ways."""
    end = front(ride)
    assert (end.duration_s, end.samples) == (pytest.approx(120), 120_000)
    assert end.travel_used_mm == pytest.approx(150, abs=1e-3)
    assert end.travel_used_percent == pytest.approx(150 / 2.3, abs=1e-3)
    assert end.mean_mm == pytest.approx(90, abs=1e-6)
    for got, q in ((end.p50_mm, 0.5), (end.p95_mm, 0.95), (end.p99_mm, 0.99)):
        assert got == pytest.approx(90 + 60 * np.sin(np.pi * (q - 0.5)), abs=0.01)
    top = 60 * 2 * np.pi * 1.5
    for speeds in (end.compression_speed_mm_s, end.rebound_speed_mm_s):
        assert speeds is not None
        assert speeds.max == pytest.approx(top, abs=0.1)
        # |cos| of a uniform phase: quantile q is sin(π q / 2).
        assert speeds.p50 == pytest.approx(top * np.sin(np.pi * 0.25), abs=0.5)
        assert speeds.p95 == pytest.approx(top * np.sin(np.pi * 0.475), abs=0.5)
    assert end.bandwidth_hz == pytest.approx(74.3, abs=0.1)
    assert (end.bottoming.count, end.topping.count) == (0, 0)


def counts_log(bike: Bike, *blocks: np.ndarray, **more: object) -> Log:
    segments, start = [], 0.0
    for block in blocks:
        segments.append(Segment(start_s=start, dt_s=1 / RATE, values=block))
        start = segments[-1].end_s + 0.1
    return Log(
        id="counts",
        kind=Kind.RIDE,
        started="",
        bike=bike,
        channels=(Channel(name="ch0"), Channel(name="ch1")),
        segments=tuple(segments),
        **more,
    )


def rough_counts(rows: int = 30_000) -> np.ndarray:
    random = np.random.default_rng(4)
    rough = np.cumsum(random.normal(0, 1, (rows, 2)), axis=0)
    rough = 450 + 300 * (rough - rough.mean(axis=0)) / np.abs(rough - rough.mean(axis=0)).max(axis=0)
    return np.rint(rough + random.normal(0, 0.5, rough.shape)).astype(np.uint16)


def test_percentiles_are_those_of_numpy_on_converted_counts(bike: Bike) -> None:
    counts = rough_counts()
    end = front(counts_log(bike, counts[:12_000], counts[12_000:]))
    travel = (counts[:, 0] - 102.0) * 230 / 819
    expected = np.percentile(travel, [50, 95, 99])
    assert (end.p50_mm, end.p95_mm, end.p99_mm) == pytest.approx(tuple(expected), rel=1e-12)
    assert end.mean_mm == pytest.approx(travel.mean(), rel=1e-12)
    assert end.travel_used_mm == pytest.approx(travel.max(), rel=1e-12)
    np.testing.assert_allclose(end.grains_mm, np.percentile(travel, np.arange(100) + 0.5), rtol=1e-12)
    assert end.duration_s == pytest.approx(30.0)


def test_exceedance_is_the_share_of_time_and_ends_at_twenty_samples(ride: Log) -> None:
    curve = front(ride).compression_exceedance
    top = 60 * 2 * np.pi * 1.5
    speed, share = np.array(curve.speed_mm_s), np.array(curve.share)
    assert speed[:3].tolist() == [0, 25, 50]
    # Faster than v in compression: a phase share of arccos(v / top) / π.
    np.testing.assert_allclose(share, np.arccos(speed / top) / np.pi, atol=1e-3)
    assert (share * 120_000 >= 19.9).all()


def test_lone_spike_sets_neither_travel_nor_speed(make_log: Callable[..., Log]) -> None:
    travel = sine(90, 60, 1.5)
    travel[[5_000, 60_000]] = 229.0, 2.0
    end = front(make_log(travel, travel))
    assert end.masked_samples == 2
    assert end.travel_used_mm == pytest.approx(150, abs=1e-3)
    assert end.compression_speed_mm_s is not None
    assert end.compression_speed_mm_s.max == pytest.approx(60 * 2 * np.pi * 1.5, abs=0.1)
    assert end.duration_s == pytest.approx(119.998)
    assert (end.bottoming.count, end.topping.count) == (0, 0)


def test_events_go_by_valid_time(make_log: Callable[..., Log]) -> None:
    travel = sine(117.5, 115, 0.1)  # 2.5 to 232.5 of 230 mm, twelve times in two minutes
    travel[T >= 60] = np.nan
    end = front(make_log(travel, travel))
    assert end.duration_s == pytest.approx(60)
    assert end.bottoming.count == 6
    assert end.bottoming.per_10_min == pytest.approx(60)
    assert end.travel_used_percent > 100


def test_stop_found_before_the_nominal_travel_is_said_and_used(make_log: Callable[..., Log]) -> None:
    """From rest at 62 mm into a stop at 212 mm with 1.5 m/s, sixty times; pressed in by 2 mm in 9 ms."""
    t, back = T % 2.0 - 1.0, T % 2.0 - 1.009
    ways = [t < -0.2, t < 0, back < 0, back < 0.5]
    steps = [62.0 + 0 * t, 212 + 1500 * t + 3750 * t**2, 212 + 2 * np.sin(np.pi * t / 0.009)]
    travel = np.select(ways, [*steps, 212 - 600 * back + 600 * back**2], 62.0)
    end = front(make_log(travel, sine(80, 30, 2.5)))
    assert end.travel_mm == 230
    assert end.found_travel_mm == pytest.approx(212.0, abs=1.0)
    assert end.bottoming.count == 60
    assert all(event.contact and event.grade == "hard stop" for event in end.bottoming.events)
    said = next(caution for caution in end.cautions if "before the nominal 230 mm" in caution)
    assert said.startswith(f"front: the stop comes at {end.found_travel_mm:.0f} mm")
    assert "as 60 contacts with it show" in said


def test_lost_samples_come_from_the_link_or_the_gaps_and_are_said(bike: Bike) -> None:
    gap = Gap(t_s=12.0, duration_s=0.1, lost_samples=100, exact=False, reason="lost")
    log = counts_log(bike, rough_counts(), gaps=(gap,), link=LinkStatistics(lost_samples=40))
    summary = summarise_ride(log)
    assert front(log).lost_samples == 100
    assert any("at least 100 of 30100 samples were lost" in caution for caution in summary.cautions)
    exact = replace(gap, exact=True, lost_samples=7)
    counted = summarise_ride(replace(log, gaps=(exact,)))
    assert any(caution.startswith("40 of 30040 samples were lost") for caution in counted.cautions)


def test_short_cut_off_and_wrong_kind_are_said(bike: Bike) -> None:
    log = counts_log(bike, rough_counts(), ending=Ending(status="cut off", reason="cable pulled"))
    words = " | ".join(summarise_ride(replace(log, kind=Kind.SAG)).cautions)
    assert "short ride of 30 s" in words
    assert "cut off: cable pulled" in words
    assert "recorded as a sag check" in words


def test_end_that_was_not_measured_is_none_with_a_reason(bike: Bike) -> None:
    rear_only = replace(bike, sensors={End.REAR: bike.sensors[End.REAR]})
    summary = summarise_ride(counts_log(rear_only, rough_counts()))
    assert summary.front is None
    assert summary.rear is not None
    assert any(caution.startswith("front: not measured") for caution in summary.cautions)


def test_end_with_a_broken_sensor_is_none_with_a_reason(bike: Bike) -> None:
    counts = rough_counts()
    counts[:, 1] = 1023
    summary = summarise_ride(counts_log(bike, counts))
    assert summary.rear is None
    assert any("rear: not one of 30000 samples can be used" in caution for caution in summary.cautions)


def test_nothing_valid_at_all_cannot_be_answered(bike: Bike) -> None:
    with pytest.raises(CannotAnswer, match="tells nothing of either end"):
        summarise_ride(counts_log(bike, np.full((1500, 2), 1023, dtype=np.uint16)))
    with pytest.raises(CannotAnswer, match="tells nothing of either end"):
        summarise_ride(counts_log(replace(bike, sensors={}), rough_counts()))
    with pytest.raises(CannotAnswer, match="tells nothing of either end"):
        summarise_ride(counts_log(bike))


def test_ride_too_short_for_speeds_still_has_travel(make_log: Callable[..., Log]) -> None:
    end = front(make_log(np.linspace(10, 20, 12), np.linspace(10, 20, 12)))
    assert end.p50_mm == pytest.approx(15)
    assert end.compression_speed_mm_s is None
    assert end.rebound_exceedance.speed_mm_s == ()
    assert any("too short" in caution for caution in end.cautions)


def test_amendments_and_software_are_named(bike: Bike) -> None:
    amended = Amendment(made="2026-02-01", by=None, what="zero of the front corrected", content={})
    summary = summarise_ride(counts_log(bike, rough_counts(), amendments=(amended,)))
    assert summary.amendments == ("zero of the front corrected",)
    assert summary.software == SOFTWARE
    assert summary.log_id == "counts"


@pytest.mark.parametrize(("shift", "where"), [(-110.0, "above topped out"), (150.0, "past full bump")])
def test_a_ride_beyond_the_stops_says_that_the_zero_is_wrong(ride: Log, shift: float, where: str) -> None:
    values = ride.segments[0].values + np.array([shift, 0.0])
    log = replace(ride, segments=(replace(ride.segments[0], values=values),))
    found = summarise_ride(log)
    assert found.front is not None
    assert found.rear is not None
    said = next(caution for caution in found.front.cautions if "no wheel can be" in caution)
    assert f"lies well {where}, where no wheel can be: check the topped-out zero" in said
    for sound in (found.rear, front(ride)):
        assert not any("no wheel can be" in caution for caution in sound.cautions)


def test_an_end_mostly_out_of_range_is_not_answered(ride: Log) -> None:
    values = ride.segments[0].values * np.array([4.0, 1.0])
    far = replace(ride, segments=(replace(ride.segments[0], values=values),))
    found = summarise_ride(far)
    assert found.front is None
    assert found.rear is not None
    assert any("of 120000 readings lie where no wheel can be" in caution for caution in found.cautions)
    both = replace(ride, segments=(replace(ride.segments[0], values=ride.segments[0].values * [4.0, 10.0]),))
    with pytest.raises(CannotAnswer, match=r"tells nothing of either end: front: .* no wheel can be"):
        summarise_ride(both)


def test_what_is_too_short_to_be_a_ride_is_refused_and_a_short_one_says_how_short(
    make_log: Callable[..., Log],
) -> None:
    travel = sine(90, 60, 1.5)
    for rows in (1, 2, 9):
        with pytest.raises(CannotAnswer, match=f"holds {rows} samples; .* was it cut off"):
            summarise_ride(make_log(travel[:rows], travel[:rows]))
    said = summarise_ride(make_log(travel[:1500], travel[:1500])).cautions
    assert any(caution.startswith("only 1.5 s long: how often") for caution in said)


def test_an_end_that_does_not_move_is_asked_about(make_log: Callable[..., Log]) -> None:
    still = 90 + np.random.default_rng(1).normal(0, 0.3, T.size)
    found = summarise_ride(make_log(still, still - 20))
    assert found.front is not None
    assert found.rear is not None
    assert any(caution.startswith("front: did not move") for caution in found.front.cautions)
    assert any(caution.startswith("rear: did not move") for caution in found.rear.cautions)
    moved = front(make_log(sine(90, 3, 2.5), sine(80, 30, 2.5)))
    assert not any("did not move" in caution for caution in moved.cautions)


def test_empty_cells_of_one_end_are_no_fault_and_are_said(make_log: Callable[..., Log]) -> None:
    travel, holed = sine(90, 60, 1.5), sine(90, 60, 1.5)
    holed[20_000:23_000] = np.nan
    found = summarise_ride(make_log(holed, travel))
    assert found.front is not None
    assert found.rear is not None
    assert (found.front.samples, found.rear.samples) == (117_000, 120_000)
    assert found.front.faults == ()
    assert any(caution.startswith("front_mm: 3000 of 120000 cells") for caution in found.cautions)
    assert not any("no wheel can reach" in caution for caution in found.front.cautions)
