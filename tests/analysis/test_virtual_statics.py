"""The virtual bike at rest: against the closed form of a spring with friction, and its own balance."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.virtual_bike import demo_bike, sag_scene
from analysis.virtual_hands import Hands, usual_steps
from analysis.virtual_parts import Damper, Damping, VirtualEnd
from analysis.virtual_shop import random_shop, take_check
from analysis.virtual_statics import DryFriction, handled_mm, handled_scene, resting_mm
from ingest.records import End

PLAIN = VirtualEnd(
    travel_mm=200,
    spring_rate_n_mm=20.0,
    preload_mm=10.0,
    damper=Damper(
        compression=Damping(low_n_s_m=500, high_n_s_m=300), rebound=Damping(low_n_s_m=900, high_n_s_m=600)
    ),
    unsprung_mass_kg=20,
)


def test_spring_with_friction_rests_where_arithmetic_says() -> None:
    # 1000 N on 20 N/mm with 10 mm of preload: 40 mm without friction; 60 N of friction hold 3 mm short.
    load = np.array([0.0, 400.0, 1000.0, 1500.0, 1000.0, 1000.0])
    rest = resting_mm(PLAIN, load, DryFriction(force_n=60.0))
    assert rest[2] == pytest.approx(37.0, abs=0.01)
    assert rest[3] == pytest.approx(62.0, abs=0.01)
    assert rest[4:] == pytest.approx([43.0, 43.0], abs=0.01)


def test_uneven_and_load_dependent_friction() -> None:
    load = np.array([0.0, 1000.0, 1500.0, 1000.0])
    uneven = resting_mm(PLAIN, load, DryFriction(force_n=60.0, uneven=0.2))
    assert uneven[1] == pytest.approx(40.0 - 72.0 / 20, abs=0.01)
    assert uneven[3] == pytest.approx(40.0 + 48.0 / 20, abs=0.01)
    # Spring force F and friction 0.05 F carry 1000 N: F = 1000 / 1.05.
    by_load = resting_mm(PLAIN, load, DryFriction(force_n=0.0, load_share=0.05))
    assert by_load[1] == pytest.approx(1000 / 1.05 / 20 - 10, abs=0.01)


def test_mass_carries_a_quick_hand_further_than_a_slow_one() -> None:
    share = 0.5 - 0.5 * np.cos(np.pi * np.linspace(0, 1, 60))
    load = np.concatenate([200 + 800 * share, np.full(100, 1000.0)])
    friction = DryFriction(force_n=60.0)
    slow, quick = (handled_mm(PLAIN, load, friction, dt_s)[-1] for dt_s in (0.05, 0.015))
    assert 37.0 <= slow < quick < 40.0
    assert slow == pytest.approx(37.0, abs=0.1)


def test_scene_without_friction_comes_to_its_own_balance() -> None:
    bike = demo_bike()
    scene = sag_scene(bike, 80.0)
    for travel, end in zip(handled_scene(scene, [DryFriction(force_n=0.0)] * 2), End, strict=True):
        for start, stop, text in scene.phases:
            true = {"topped": 0.0, "unladen": bike.sag_mm(0.0)[end], "rider": bike.sag_mm(80.0)[end]}
            read = np.median(travel[round(start * 50) : round(stop * 50)])
            assert read == pytest.approx(true[text.split()[0].strip(",")], abs=0.16), text


def test_checks_repeat_with_their_seed_and_have_a_mark_a_step() -> None:
    steps = usual_steps(2, together=False, in_rounds=True)
    one, same = (
        take_check(random_shop(random), steps, random)
        for random in (np.random.default_rng(3), np.random.default_rng(3))
    )
    assert np.array_equal(one.log.segments[0].values, same.log.segments[0].values)
    assert [mark.text for mark in one.log.marks] == [step.text for step in steps]
    assert all(
        start < mark.t_s < stop for mark, (start, stop, _) in zip(one.log.marks, one.spans, strict=True)
    )


def test_hands_hold_the_weight_that_is_there() -> None:
    bike = demo_bike()
    hands = Hands(bike, 80.0, 0.0, np.random.default_rng(0))
    for step in usual_steps(1, together=True, in_rounds=True):
        hands.take(step)
    done = hands.handling()
    held = {step.text: done.load_n[round((stop - 0.1) / 0.02)].sum() for _, stop, step in done.spans}
    assert held["unladen, from above"] == pytest.approx(sum(bike.body_weights_n(0.0)))
    assert held["rider, from below"] == pytest.approx(sum(bike.body_weights_n(80.0)))
    assert held["topped out"] < 0
