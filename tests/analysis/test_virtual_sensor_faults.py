from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from analysis.virtual_bike import Truth, demo_bike, record_of, to_counts
from analysis.virtual_counts import clean_counts
from analysis.virtual_sensor_faults import ALL, DRIFT, SLACK, VirtualFault, random_faults, with_faults
from ingest.errors import UsageError
from ingest.records import End

RECORD = record_of(demo_bike())
PER_MM = 819 / 230  # counts a mm at the front


@pytest.fixture(scope="module")
def truth() -> Truth:
    """Eight seconds of swinging at up to 1.4 m/s."""
    t = np.arange(4000) / 500
    front = 100 + 60 * np.sin(2 * np.pi * 1.5 * t) + 20 * np.sin(2 * np.pi * 7 * t)
    rear = 80 + 50 * np.sin(2 * np.pi * 1.7 * t) + 15 * np.sin(2 * np.pi * 8 * t)
    return Truth(
        dt_s=0.002,
        front_mm=front,
        rear_mm=rear,
        front_speed_mm_s=np.gradient(front, 0.002),
        rear_speed_mm_s=np.gradient(rear, 0.002),
        unladen_sag_mm={},
        rider_sag_mm={},
        phases=(),
        ends={},
    )


def fault(kind: str, size: float = 0.0, start_s: float = 2.0, duration_s: float = 1.0) -> VirtualFault:
    return VirtualFault(kind=kind, end=End.FRONT, start_s=start_s, duration_s=duration_s, size=size)


def test_without_faults_the_counts_are_those_of_a_sound_sensor(truth: Truth) -> None:
    counts, true = with_faults(truth, RECORD, faults=(), seed=3)
    np.testing.assert_array_equal(counts, to_counts(truth, RECORD, seed=3))
    assert true == ()


@pytest.mark.parametrize("kind", [kind for kind in ALL if kind not in (SLACK, DRIFT)])
@pytest.mark.parametrize("size", [0.0, 1.0])
def test_only_the_span_of_the_fault_is_touched(truth: Truth, kind: str, size: float) -> None:
    sound = to_counts(truth, RECORD, seed=3)
    counts, true = with_faults(truth, RECORD, faults=[fault(kind, size or 0.2)], seed=3)
    (span,) = true
    assert (span.end, span.kind, span.start_s, span.end_s) == (End.FRONT, kind, 2.0, 3.0)
    wrong = np.flatnonzero(counts[:, 0] != sound[:, 0])
    assert wrong[0] >= 1000
    assert wrong[-1] < 1500
    assert wrong.size > 400
    np.testing.assert_array_equal(counts[:, 1], sound[:, 1])


def test_a_frozen_reading_stands_and_a_noisy_one_keeps_its_noise(truth: Truth) -> None:
    frozen = with_faults(truth, RECORD, faults=[fault("stuck", 0.0)], seed=3)[0][1000:1500, 0]
    noisy = with_faults(truth, RECORD, faults=[fault("stuck", 1.0)], seed=3)[0][1000:1500, 0]
    assert np.ptp(frozen) == 0
    assert 2 <= np.ptp(noisy) <= 4
    assert abs(float(np.mean(noisy)) - frozen[0]) <= 1.5


def test_a_slow_reel_is_never_ahead_never_faster_and_right_when_taut(truth: Truth) -> None:
    reel_mm_s = 500.0
    sound = clean_counts(truth, RECORD)[:, 0]
    counts, true = with_faults(
        truth, RECORD, faults=[fault(SLACK, reel_mm_s, 0.0, 99.0)], noise_counts=0.0, seed=3
    )
    read = counts[:, 0].astype(float)
    assert (read <= np.rint(sound)).all()
    assert np.diff(read).max() <= np.ceil(reel_mm_s * PER_MM / 500)
    t = np.arange(read.size) / 500
    slack = np.any([(t >= span.start_s) & (t < span.end_s) for span in true], axis=0)
    least = 0.005 * 819
    assert (sound[~slack] - read[~slack]).max() <= least + 1
    assert (sound[slack] - read[slack]).max() > 10 * least
    # Done another way: a loop that pulls in what it can in each step.
    by_hand = sound.copy()
    for k in range(1, sound.size):
        by_hand[k] = min(sound[k], by_hand[k - 1] + reel_mm_s * PER_MM / 500)
    np.testing.assert_array_equal(read, np.rint(by_hand))


def test_a_string_mounted_the_other_way_cannot_follow_extension(truth: Truth) -> None:
    counts, true = with_faults(truth, RECORD, faults=[fault(SLACK, -500.0, 0.0, 99.0)], seed=3)
    sound = to_counts(truth, RECORD, seed=3)
    assert true
    assert (counts[:, 0] >= sound[:, 0]).all()


def test_drift_creeps_and_stays_and_is_no_span(truth: Truth) -> None:
    counts, true = with_faults(truth, RECORD, faults=[fault(DRIFT, 3.0, 2.0, 4.0)], noise_counts=0.0, seed=3)
    moved = counts[:, 0] - to_counts(truth, RECORD, noise_counts=0.0, seed=3)[:, 0].astype(float)
    assert true == ()
    assert not moved[:1000].any()
    assert moved[2000] == pytest.approx(1.5 * PER_MM, abs=1.5)
    assert np.abs(moved[3001:] - 3.0 * PER_MM).max() <= 1.0


def test_a_kind_that_is_not_known_is_refused(truth: Truth) -> None:
    with pytest.raises(UsageError, match="no virtual sensor fault 'rust': give one of spike, stuck"):
        with_faults(truth, RECORD, faults=[fault("rust")])


def test_drawn_faults_fit_into_the_ride_and_are_repeatable() -> None:
    for seed in range(20):
        drawn = random_faults(seed, 60.0)
        assert drawn == random_faults(seed, 60.0)
        assert {one.kind for one in drawn} == set(ALL)
        passing = sorted(
            (one.start_s, one.start_s + one.duration_s) for one in drawn if one.kind not in (SLACK, DRIFT)
        )
        assert passing[0][0] >= 0
        assert passing[-1][1] <= 60.0
        assert all(a[1] < b[0] for a, b in pairwise(passing))
    assert {one.kind for one in random_faults(1, 60.0, kinds=("spike",))} == {"spike"}
