"""What a sag check says about springs, preload and seat: through the whole check, and by the sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from analysis.load_change import known_load, load_change
from analysis.results import EndSag, Quantity, SagCheck
from analysis.sag import check_sag
from analysis.seat_drop import seat_drop
from analysis.spring_advice import seat_sentence
from analysis.wheel_rate import measured_rate
from ingest.log import Kind, Log
from ingest.records import Bike, End, Rider

RATE_HZ = 200.0
NAMES = ("topped out", "unladen, from above", "unladen, from below", "rider, from above", "rider, from below")


def q(value: float, doubt: float = 1.6) -> Quantity:
    return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=2.0)


@pytest.fixture
def check(make_log: Callable[..., Log], bike: Bike) -> Callable[..., SagCheck]:
    """Check sag at given places, unladen and rider of front and rear; friction ± 2 mm."""

    def taken(
        front_mm: tuple[float, float],
        rear_mm: tuple[float, float],
        rider: Rider | None = None,
        **changes: dict[str, object],
    ) -> SagCheck:
        places = [[0.0] + [mm + side for mm in end for side in (-2.0, 2.0)] for end in (front_mm, rear_mm)]
        at_s = np.arange(round(25 * RATE_HZ)) / RATE_HZ
        knots = [t for k in range(5) for t in (5.0 * k, 5.0 * k + 4.0)]
        tracks = [np.interp(at_s, knots, np.repeat(place, 2)) for place in places]
        marks = [(5.0 * k + 2.0, name) for k, name in enumerate(NAMES)]
        log = make_log(*tracks, rate_hz=RATE_HZ, kind=Kind.SAG, marks=marks)
        ends = {str(end): replace(bike.suspension(end), **changes.get(str(end), {})) for end in End}
        return check_sag(replace(log, bike=replace(bike, **ends), rider=rider))

    return taken


def sentences(check: SagCheck, start: str) -> list[str]:
    return [sentence for sentence in check.advice if sentence.startswith(start)]


def test_preload_in_millimetres_and_turns(check: Callable[..., SagCheck]) -> None:
    said = check(
        (45.0, 50.2),
        (20.0, 67.1),
        front={"preload_mm": 25.0, "thread_pitch_mm": 1.5, "springs": 2, "spring_rate_n_mm": 7.0},
    )
    turn = next(sentence for sentence in said.advice if "of preload" in sentence)
    assert turn.startswith("Front: take off 20.0 ± ")
    assert "mm of preload, 13.3 turns, both legs alike (one leg alone counts half)" in turn
    assert turn.endswith("a millimetre moves the wheel 1.0 mm.")
    assert "Front: unladen sag would then be 65 ± " in " ".join(said.advice)
    assert any(sentence.endswith("the spring is too stiff.") for sentence in said.advice)
    assert any("store energy" in sentence for sentence in said.advice)


def test_a_loose_spring_is_refused_and_the_seat_drop_named(check: Callable[..., SagCheck]) -> None:
    said = check((33.0, 44.0), (20.0, 42.0), front={"preload_mm": 10.0}, rear={"preload_mm": 4.0})
    refused = [sentence for sentence in said.advice if "preload alone cannot do it" in sentence]
    assert len(refused) == 2
    assert "a preload of −16.1 mm leaves the spring loose with the wheel hanging" in refused[0]
    assert "As far as it may go, rider sag comes to 54 mm. The spring is too stiff." in refused[0]
    # 26 mm of fork at 26° and 25 mm of axle: between 23.5 and 25.1 mm whoever sits where.
    assert said.seat_drop_mm is not None
    assert said.seat_drop_mm.value == pytest.approx(24.5, abs=0.3)
    seat = next(sentence for sentence in said.advice if "the seat would be" in sentence)
    assert seat.startswith("At correct sag, front and rear, the seat would be 24 ± ") or "25 ± " in seat
    assert seat.endswith("mm lower, before any hardware.")


def test_right_sag_on_a_wrong_spring(check: Callable[..., SagCheck]) -> None:
    said = check((48.0, 70.0), (3.0, 67.0))
    assert len(said.advice) == 4  # both readings, the spring, safety
    assert said.advice[2].startswith("Rear: unladen sag 3.0 ± ")
    assert said.advice[2].endswith("target 11–31 mm: the spring is too soft, and preload cannot change that.")


def test_unknown_preload_is_asked_for(check: Callable[..., SagCheck]) -> None:
    said = check((45.0, 50.2), (20.0, 67.1))
    assert any("preload now is not in the bike file; measure it" in sentence for sentence in said.advice)


def test_wheel_rate_as_the_spring_has_it(check: Callable[..., SagCheck]) -> None:
    """15 N/mm along the fork: 20 kg × g × cos 26° over 11.75 mm."""
    rider = Rider(name="weighed", front_axle_load_kg=120.0)
    spring = {"axle_load_kg": 100.0, "spring_rate_n_mm": 15.0, "preload_mm": 20.0}
    said = check((33.0, 44.75), (20.0, 42.0), rider, front=spring)
    assert said.front is not None
    rate = said.front.wheel_rate
    assert rate is not None
    assert rate.secant_n_mm is not None
    assert rate.secant_n_mm.value == pytest.approx(15.0, abs=0.1)
    assert rate.expected_n_mm == pytest.approx(15.0)
    assert rate.word in ("as expected", "cannot tell")
    assert said.rear is not None
    assert said.rear.wheel_rate is None  # this wheel was not weighed and the rider's mass is not known


def test_another_spring_than_the_file_says(check: Callable[..., SagCheck]) -> None:
    rider = Rider(name="weighed", rear_axle_load_kg=185.0)
    spring = {"axle_load_kg": 120.0, "spring_rate_n_mm": 60.0, "preload_mm": 20.0}
    said = check((48.0, 70.0), (20.0, 50.0), rider, rear=spring)
    assert said.rear is not None
    assert said.rear.wheel_rate is not None
    assert said.rear.wheel_rate.word == "stiffer than expected"
    assert any("a secant, is 21.2 ± " in sentence for sentence in said.advice)


def test_a_shared_mass_often_cannot_tell(check: Callable[..., SagCheck]) -> None:
    said = check((33.0, 42.0), (20.0, 42.0), Rider(name="light", mass_kg=58.0))
    assert said.front is not None
    assert said.front.wheel_rate is not None
    assert said.front.wheel_rate.word == "cannot tell"
    assert any("front: the wheel rate cannot be told" in caution for caution in said.front.cautions)


def test_what_would_tell() -> None:
    found = EndSag(
        travel_mm=230.0,
        unladen_sag_mm=q(33.0, 1.6),
        rider_sag_mm=q(44.0, 1.6),
        unladen_sag_percent=14.0,
        rider_sag_percent=19.0,
        friction_band_mm=4.0,
        target_sag_mm=(64.4, 75.9),
        word="too little",
        zero_reading=None,
        readings=(),
    )
    bike = Bike(name="any")
    shared = load_change(bike, End.FRONT, Rider(name="light", mass_kg=58.0))
    assert shared is not None
    rate = measured_rate(found, shared, 1.0)
    assert rate is not None
    assert (rate.word, rate.dominates) == ("cannot tell", "change of load")
    assert rate.would_tell == "weigh both axles, the bike alone and with the rider aboard"
    rate = measured_rate(found, known_load(20.0, 0.5), 1.0)
    assert rate is not None
    assert rate.would_tell == "put a known load of about 30 kg straight over this axle instead of the rider"
    heavy = measured_rate(replace(found, rider_sag_mm=q(60.0, 1.6)), known_load(50.0, 0.5), 1.0)
    assert heavy is not None
    assert (heavy.word, heavy.would_tell) == ("measured", None)
    nothing = measured_rate(replace(found, rider_sag_mm=q(34.0, 1.6)), known_load(2.0, 0.5), 1.0)
    assert nothing is not None
    assert (nothing.secant_n_mm, nothing.word) == (None, "cannot tell")
    assert measured_rate(replace(found, unladen_sag_mm=None), shared, 1.0) is None


def test_load_is_known_best_from_scales(bike: Bike) -> None:
    assert bike.front is not None
    weighed = replace(bike, front=replace(bike.front, axle_load_kg=101.0))
    rider = Rider(name="r", mass_kg=60.0, front_axle_load_kg=122.0, front_share_percent=34.0)
    scales = load_change(weighed, End.FRONT, rider)
    share = load_change(bike, End.FRONT, rider)
    usual = load_change(bike, End.REAR, replace(rider, front_share_percent=None))
    assert scales is not None
    assert share is not None
    assert usual is not None
    assert (scales.kg, scales.weighed) == (21.0, True)
    assert (share.kg, share.weighed) == (pytest.approx(20.4), False)
    assert usual.kg == pytest.approx(39.0)
    assert scales.u_kg < share.u_kg < usual.u_kg
    assert load_change(bike, End.REAR, None) is None
    assert load_change(bike, End.REAR, Rider(name="unweighed")) is None


def test_seat_drop_is_shared_by_where_the_seat_lies(bike: Bike) -> None:
    def end(rider_mm: float) -> EndSag:
        return EndSag(
            travel_mm=220.0,
            unladen_sag_mm=None,
            rider_sag_mm=q(rider_mm),
            unladen_sag_percent=None,
            rider_sag_percent=None,
            friction_band_mm=None,
            target_sag_mm=(60.0, 70.0),
            word="too little",
            zero_reading=None,
            readings=(),
        )

    ends = {End.FRONT: end(45.0), End.REAR: end(25.0)}
    over_the_axle = seat_drop(replace(bike, seat_ahead_of_rear_axle_mm=0.0), ends)
    assert over_the_axle is not None
    assert over_the_axle.value == pytest.approx(40.0)
    half_way = seat_drop(replace(bike, seat_ahead_of_rear_axle_mm=780.0), ends)
    assert half_way is not None
    assert half_way.value == pytest.approx((20.0 * np.cos(np.radians(26.0)) + 40.0) / 2)
    unknown = seat_drop(bike, ends)
    assert unknown is not None
    assert unknown.expanded_uncertainty > half_way.expanded_uncertainty
    assert seat_drop(bike, {End.REAR: ends[End.REAR]}) is None
    assert seat_drop(replace(bike, rake_deg=None), ends) is None
    assert seat_sentence(q(-12.0)) == (
        "At correct sag, front and rear, the seat would be 12 ± 2 mm higher, before any hardware."
    )
    assert seat_sentence(q(1.0)) is None
