"""Results in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from analysis.compare_results import Answer, Comparison, Metric
from analysis.results import EndSag, Quantity, SagCheck
from analysis.ride_results import EndRide, Events, Exceedance, RideSummary, Speeds, TravelEvent
from dashboard import compare_words, log_words, ride_words, safety, sag_words, wording
from dashboard.units import Units
from ingest.log import Ending, LinkStatistics, Log
from ingest.records import End

NEVER = Events(count=0, per_10_min=0.0, events=())


def sag(**changes: object) -> EndSag:
    end = EndSag(
        travel_mm=230,
        unladen_sag_mm=Quantity(value=32.7, expanded_uncertainty=1.24, coverage_factor=2.0),
        rider_sag_mm=Quantity(value=43.6, expanded_uncertainty=1.3, coverage_factor=2.0),
        unladen_sag_percent=14.2,
        rider_sag_percent=19.0,
        friction_band_mm=3.04,
        target_sag_mm=(64.4, 75.9),
        word="too little",
        zero_reading=102.0,
        readings=(),
    )
    return replace(end, **changes)


def ride(**changes: object) -> EndRide:
    end = EndRide(
        duration_s=90.0,
        samples=90_000,
        lost_samples=0,
        travel_mm=230,
        travel_used_mm=225.6,
        travel_used_percent=98.1,
        mean_mm=50.1,
        p50_mm=46.0,
        p95_mm=115.0,
        p99_mm=161.0,
        bottoming=Events(
            count=1,
            per_10_min=6.7,
            events=(TravelEvent(t_s=12.5, peak_mm=225.6, entry_speed_mm_s=812.0, grade="near full"),),
        ),
        topping=NEVER,
        compression_speed_mm_s=Speeds(p50=60, p95=640, p99=1200, max=2210),
        rebound_speed_mm_s=None,
        bandwidth_hz=56.0,
        grains_mm=(),
        compression_exceedance=Exceedance(speed_mm_s=(), share=()),
        rebound_exceedance=Exceedance(speed_mm_s=(), share=()),
    )
    return replace(end, **changes)


def rows(table: wording.Table) -> dict[str, tuple[str, ...]]:
    return {row[0]: row[1:] for row in table.rows}


def test_sag_side_by_side() -> None:
    check = SagCheck(log_id="a", front=sag(), rear=None, advice=())
    said = rows(sag_words.sag_table(check))
    assert said["unladen sag"] == ("32.7 ± 1.2 mm (14 %)", "–")
    assert said["target for rider sag"] == ("64 to 76 mm", "–")
    assert said["friction"] == ("±3.0 mm", "–")
    assert said["in a word"] == ("too little", "not measured")
    assert rows(sag_words.sag_table(check, Units.IN))["rider sag"][0] == "1.72 ± 0.05 in (19 %)"


def test_a_phase_that_was_not_measured_is_a_dash() -> None:
    check = SagCheck(log_id="a", front=None, rear=sag(rider_sag_mm=None, rider_sag_percent=None), advice=())
    assert rows(sag_words.sag_table(check))["rider sag"] == ("–", "–")


def test_rolling_and_feet_down_have_a_row_only_where_marked() -> None:
    rolled = Quantity(value=44.0, expanded_uncertainty=1.1, coverage_factor=2.0)
    check = SagCheck(log_id="a", front=sag(rolling_sag_mm=rolled), rear=sag(), advice=())
    said = rows(sag_words.sag_table(check))
    assert said["rolling sag"] == ("44.0 ± 1.1 mm", "–")
    assert "feet-down sag" not in said


def test_ride_side_by_side() -> None:
    summary = RideSummary(log_id="a", front=ride(), rear=None)
    said = rows(ride_words.ride_table(summary))
    assert tuple(said) == ride_words.RIDE_ROWS
    assert said["deepest"] == ("225.6 mm (98 %)", "–")
    assert said["bottoming"][0] == "once (6.7 in 10 min)"
    assert said["topping"][0] == "never"
    assert said["rebound speed, 95 %"][0] == "–"
    (event,) = ride_words.event_table(summary).rows
    assert event == ("front", "bottoming", "12.50 s", "225.6 mm", "812 mm/s", "–", "0.00 s", "near full")


def test_a_touch_of_the_rubber_is_not_called_a_bottoming() -> None:
    one = ride()
    touched = replace(one.bottoming, count=0, events=(replace(one.bottoming.events[0], grade="rubber"),))
    summary = RideSummary(log_id="a", front=replace(one, bottoming=touched), rear=None)
    (event,) = ride_words.event_table(summary).rows
    assert (event[1], event[-1]) == ("touch", "rubber")


def test_cautions_name_their_end_once() -> None:
    check = SagCheck(
        log_id="a",
        front=sag(cautions=("no zero was measured", "front travel is short")),
        rear=sag(cautions=("no zero was measured",)),
        advice=(),
        cautions=("overall",),
    )
    assert sag_words.sag_cautions(check) == (
        "overall",
        "front: no zero was measured",
        "front travel is short",
        "rear: no zero was measured",
    )


@pytest.mark.parametrize(
    ("name", "change", "ci95", "changed", "word"),
    [
        ("front_mean_mm", -9.0, (-12.0, -6.0), True, "shallower"),
        ("rear_p95_mm", 9.0, (6.0, 12.0), True, "deeper"),
        ("rear_bottoming_per_10_min", 2.0, (1.0, 3.0), True, "more often"),
        ("front_topping_per_10_min", -2.0, (-3.0, -1.0), True, "less often"),
        ("front_rebound_p95_mm_s", -20.0, (-30.0, -10.0), True, "slower"),
        ("front_mean_mm", 1.0, (-1.0, 3.0), False, "no clear change"),
        ("front_mean_mm", 1.0, None, False, "cannot tell"),
    ],
)
def test_a_word_for_each_metric(
    name: str, change: float, ci95: tuple[float, float] | None, changed: bool, word: str
) -> None:
    metric = Metric(
        name=name, unit="mm", before=10.0, after=10.0 + change, change=change, ci95=ci95, changed=changed
    )
    assert compare_words.metric_word(metric) == word


def test_comparison_rows_and_units() -> None:
    metric = Metric(
        name="front_mean_mm",
        unit="mm",
        before=50.8,
        after=76.2,
        change=25.4,
        ci95=(12.7, 38.1),
        changed=True,
    )
    speed = replace(metric, name="front_rebound_p95_mm_s", unit="mm/s")
    answer = Answer(verdict="changed", uses_its_travel="yes", because=())
    comparison = Comparison(before=(), after=(), metrics=(metric, speed), answer=answer)
    row, fast = compare_words.comparison_table(comparison, Units.IN).rows
    assert row == ("front: mean ride position", "2.00", "3.00", "+1.00", "+0.50 to +1.50", "in", "deeper")
    assert fast[5] == "in/s"
    (row,) = compare_words.end_table(comparison, End.FRONT, Units.IN, brief=True).rows
    assert row == ("mean ride position, in", "2.00", "3.00", "+1.00", "+0.50 to +1.50", "deeper")
    assert len(compare_words.end_table(comparison, End.FRONT).rows) == 2
    assert compare_words.end_table(comparison, End.REAR).rows == ()
    assert compare_words.verdict(answer).startswith("The suspension works differently")


def test_the_link_says_at_least_where_it_cannot_know(make_log: Callable[..., Log]) -> None:
    log = make_log([1.0, 2.0], [1.0, 2.0])
    assert log_words.link_line(log) == "no sample lost"
    log = replace(log, link=LinkStatistics(lost_samples=1, lost_exact=False, damaged=2, reconnects=1))
    assert log_words.link_line(log) == "at least 1 sample lost, 2 damaged frames dropped, 1 reconnect"


def test_a_cut_off_recording_says_so(make_log: Callable[..., Log]) -> None:
    log = make_log([1.0], [1.0])
    assert log_words.log_cautions(log) == ()
    cut = replace(log, ending=Ending(status="cut off", reason="the recording was killed"))
    assert "cut off (the recording was killed)" in log_words.log_cautions(cut)[0]


def test_safety_words_cover_what_can_hurt() -> None:
    text = " ".join(safety.SAFETY)
    for word in (
        "cannot fall",
        "qualified technician",
        "brake hoses",
        "Headlight",
        "side stand",
        "break away",
        "licensed",
        "local law",
    ):
        assert word in text
