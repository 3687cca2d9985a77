"""The same ride again: what varies, and the two changes that are to be found."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.virtual_bike import demo_bike, record_of, ride_scene
from analysis.virtual_repeats import Variation, another_run, less_travel, softer_springs
from ingest.records import End


def test_another_run_varies_within_its_limits_and_by_its_seed() -> None:
    scene = ride_scene(demo_bike(), seed=1, duration_s=30.0)
    random = np.random.default_rng(3)
    runs = [another_run(scene, random, Variation()) for _ in range(200)]
    pace = np.array([run.speed_m_s for run in runs]) / scene.speed_m_s
    rough = np.array([run.road.features[0].height_m for run in runs]) / scene.road.features[0].height_m
    roads = np.sqrt([run.road.gd_n0_m3 / scene.road.gd_n0_m3 for run in runs])
    was = scene.bike.rear.damper.rebound.low_n_s_m
    damping = np.array([run.bike.rear.damper.rebound.low_n_s_m for run in runs]) / was
    for found, low, high in ((pace, 0.95, 1.05), (rough, 0.85, 1.15), (damping, 0.90, 1.0)):
        assert low <= found.min() < low + 0.01
        assert high - 0.01 < found.max() <= high
    assert roads == pytest.approx(rough)
    assert runs[0] == another_run(scene, np.random.default_rng(3), Variation())
    still = Variation(pace=0.0, roughness=0.0, fade=0.0)
    assert another_run(scene, random, still) == scene


def test_softer_springs_keep_the_rider_sag() -> None:
    bike = demo_bike()
    softer = softer_springs(bike, 95.0)
    assert softer.front.spring_rate_n_mm == pytest.approx(0.9 * bike.front.spring_rate_n_mm)
    assert softer.sag_mm(95.0) == pytest.approx(bike.sag_mm(95.0), abs=1e-6)
    assert softer.sag_mm(0.0)[End.REAR] < bike.sag_mm(0.0)[End.REAR]  # more preload, so less without a rider


def test_less_travel_ends_sooner_and_keeps_the_rest() -> None:
    bike = demo_bike()
    shorter = less_travel(bike)
    record = record_of(shorter)
    assert (shorter.front.travel_mm, shorter.rear.travel_mm) == (205.0, 195.0)
    assert record.rear is not None
    assert record.rear.leverage is not None
    assert record.rear.leverage.table is not None
    assert record.rear.leverage.table[-1][0] == 195.0
    assert shorter.sag_mm(95.0) == pytest.approx(bike.sag_mm(95.0), abs=0.05)
    at = np.array([60.0])
    assert shorter.rear.motion_ratio(at) == pytest.approx(bike.rear.motion_ratio(at), rel=0.01)
