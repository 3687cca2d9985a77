"""How fast the virtual bike runs, what its step costs in accuracy, and whether its rides are hard enough."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from analysis.virtual_bike import (
    LIGHT_RIDER_KG,
    Scene,
    Truth,
    demo_bike,
    lowered,
    ride_scene,
    sag_scene,
    simulate,
    varied_scenes,
)
from ingest.records import End

pytestmark = pytest.mark.evidence

# Processor time of this one thread: what else runs on the machine does not count.
DEMO_LIMIT_S = 15.0


def test_speed_of_one_ten_and_two_hundred_scenes() -> None:
    print("\nscenes   scene-seconds per second of processor time")
    rates = []
    for scenes, seconds in ((1, 5.0), (10, 5.0), (200, 2.0)):
        batch = varied_scenes(scenes, seed=2, duration_s=seconds)
        begun = time.process_time()
        simulate(batch)
        rates.append(scenes * seconds / (time.process_time() - begun))
        print(f"{scenes:6d}   {rates[-1]:8.1f}")
    assert rates[0] < rates[1] < rates[2]
    assert rates[2] > 20.0


def test_the_demo_is_simulated_in_time() -> None:
    stock, short = demo_bike(), lowered(demo_bike())
    scenes = [
        scene for bike in (stock, short) for scene in (sag_scene(bike, LIGHT_RIDER_KG), ride_scene(bike))
    ]
    begun = time.process_time()
    simulate(scenes)
    took_s = time.process_time() - begun
    print(f"\nsag and 60 s of ride, stock and lowered: {took_s:.1f} s of processor time")
    assert took_s < DEMO_LIMIT_S


def test_what_halving_the_step_changes() -> None:
    scenes: list[Scene] = [replace(scene, duration_s=8.0) for scene in varied_scenes(4, seed=1)]
    fine = simulate(scenes, step_hz=16000)
    print(
        "\nsteps/s   travel RMS mm   deepest mm   entry speed mm/s   (largest difference from 16000 steps/s)"
    )
    for step_hz in (2000, 4000, 8000):
        rms, deepest, entry = differences(simulate(scenes, step_hz=step_hz), fine)
        print(f"{step_hz:7d}   {rms:13.3f}   {deepest:10.3f}   {entry:16.1f}")
        if step_hz == 4000:
            assert rms < 0.25
            assert deepest < 0.1
            assert entry < 100.0


def differences(coarse: tuple[Truth, ...], fine: tuple[Truth, ...]) -> tuple[float, float, float]:
    rms, deepest, entry = [], [], [0.0]
    for one, other in zip(coarse, fine, strict=True):
        for end in End:
            rms.append(float(np.sqrt(np.mean((one.travel_mm(end) - other.travel_mm(end)) ** 2))))
            deepest.append(abs(one.ends[end].max_mm - other.ends[end].max_mm))
            events = one.ends[end].above_95_percent, other.ends[end].above_95_percent
            assert len(events[0]) == len(events[1])
            entry += [abs(a.entry_speed_mm_s - b.entry_speed_mm_s) for a, b in zip(*events, strict=True)]
    return max(rms), max(deepest), max(entry)


def test_ten_varied_rides_bottom_often_enough() -> None:
    scenes = varied_scenes(10, seed=1)
    print("\nride  m/s   end    deepest %   bottomings   toppings   hard stop s   fastest in, out mm/s")
    total = {End.FRONT: 0, End.REAR: 0}
    for number, (scene, truth) in enumerate(zip(scenes, simulate(scenes), strict=True)):
        for end, own in truth.ends.items():
            travel_mm = (scene.bike.front if end is End.FRONT else scene.bike.rear).travel_mm
            count = sum(event.peak_mm >= 0.98 * travel_mm for event in own.above_95_percent)
            total[end] += count
            print(
                f"{number:4d} {scene.speed_m_s:5.1f}  {end:6}{100 * own.max_mm / travel_mm:10.1f}{count:12d}"
                f"{len(own.toppings):11d}{own.hard_stop_s:14.3f}"
                f"{own.max_compression_speed_mm_s:13.0f}{own.max_rebound_speed_mm_s:8.0f}"
            )
    print(f"bottomings: {total[End.FRONT]} front, {total[End.REAR]} rear")
    assert sum(total.values()) >= 60
    assert min(total.values()) >= 10
