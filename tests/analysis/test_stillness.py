"""Still spans: found where the bike rests, whatever converter and rider do, and not where it moves."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.stillness import Track, approach, still_spans, thin

RATE_HZ = 1000.0


def ramp(start: float, end: float, seconds: float) -> np.ndarray:
    share = np.linspace(0.0, 1.0, int(seconds * RATE_HZ))
    return start + (end - start) * (0.5 - 0.5 * np.cos(np.pi * share))


def rest(level: float, seconds: float) -> np.ndarray:
    return np.full(int(seconds * RATE_HZ), float(level))


def track(*pieces: np.ndarray) -> Track:
    return thin([(0.0, 1 / RATE_HZ, np.concatenate(pieces))])


def test_rest_between_two_motions_is_found() -> None:
    (span,) = still_spans(track(ramp(80, 40, 1.5), rest(40, 3.0), ramp(40, 90, 1.5)))
    assert span.level_mm == pytest.approx(40.0, abs=0.01)
    assert span.start_s == pytest.approx(1.4, abs=0.25)
    assert span.end_s == pytest.approx(4.6, abs=0.25)
    assert span.side == "from below"


def test_let_down_reads_from_above() -> None:
    (span,) = still_spans(track(ramp(10, 40, 1.5), rest(40, 3.0)))
    assert span.side == "from above"


def test_nothing_before_gives_no_side() -> None:
    (span,) = still_spans(track(rest(40, 3.0)))
    assert span.side is None


def test_short_rest_and_steady_motion_are_no_reading() -> None:
    assert still_spans(track(ramp(0, 40, 1.0), rest(40, 0.8), ramp(40, 0, 1.0))) == ()
    assert still_spans(track(np.linspace(0, 100, 10_000))) == ()


def test_too_short_a_log_has_no_span() -> None:
    assert still_spans(track(rest(40, 0.4))) == ()
    assert still_spans(thin([])) == ()


@pytest.mark.parametrize("step_mm", [0.0035, 0.28, 0.7])
def test_coarse_and_noisy_converters_still_rest(step_mm: float) -> None:
    random = np.random.default_rng(4)
    truth = np.concatenate([ramp(10, 40, 1.5), rest(40, 4.0), ramp(40, 70, 1.5)])
    read = np.round((truth + random.normal(0, 0.5 * step_mm, truth.size)) / step_mm) * step_mm
    (span,) = still_spans(thin([(0.0, 1 / RATE_HZ, read)]))
    assert span.level_mm == pytest.approx(40.0, abs=0.1)


def test_rider_fidgeting_by_a_millimetre_still_rests() -> None:
    time = np.arange(4000) / RATE_HZ
    (span,) = still_spans(track(ramp(10, 40, 1.5), 40 + np.sin(2 * np.pi * 0.7 * time), ramp(40, 80, 1.0)))
    assert span.end_s - span.start_s > 3.5
    assert span.level_mm == pytest.approx(40.0, abs=0.4)


def test_no_span_reaches_across_a_gap() -> None:
    pieces = [(0.0, 1e-3, rest(40, 2.0)), (10.0, 1e-3, rest(40, 2.0))]
    first, second = still_spans(thin(pieces))
    assert first.end_s < 2.0
    assert second.start_s > 10.0


def test_missing_samples_break_a_span() -> None:
    values = rest(40, 5.0)
    values[2500] = np.nan
    assert len(still_spans(thin([(0.0, 1e-3, values)]))) == 2


def test_slow_small_step_parts_two_readings() -> None:
    # A stiff rear let down from topped out moves only some 5 mm, in a second and a half.
    first, second = still_spans(track(rest(0, 3.0), ramp(0, 5, 1.5), rest(5, 3.0)))
    assert first.level_mm == pytest.approx(0.0, abs=0.1)
    assert second.level_mm == pytest.approx(5.0, abs=0.1)
    assert second.side == "from above"


def test_creep_is_seen() -> None:
    (span,) = still_spans(track(np.linspace(40.0, 44.0, 4000)))
    # A quarter of a second is left out at each end; two thirds of what remains.
    assert span.creep_mm == pytest.approx(3.5 * 2 / 3, abs=0.1)


def test_slow_logger_keeps_its_own_steps() -> None:
    slow = thin([(0.0, 0.1, np.full(40, 33.0))])
    assert slow.t_s.size == 41  # and one missing value at the end
    assert len(still_spans(slow)) == 1


def test_last_motion_decides_the_side() -> None:
    pushed_then_let_up = np.concatenate([ramp(10, 40, 1), ramp(40, 90, 1), ramp(90, 45, 1)])
    assert approach(pushed_then_let_up, 45.0, 0.1) == "from below"
