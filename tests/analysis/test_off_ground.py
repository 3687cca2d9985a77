from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analysis.distribution import of_samples
from analysis.motion import EndMotion, MotionSegment
from analysis.off_ground import off_ground
from ingest.records import End


@pytest.fixture
def motion() -> Callable[..., EndMotion]:
    """Motion built by hand from travels and how long each was held."""

    def build(*steps: tuple[float, float], rate_hz: float = 500.0) -> EndMotion:
        travel = np.concatenate([np.full(round(seconds * rate_hz), mm) for mm, seconds in steps])
        part = MotionSegment(
            start_s=0.0, dt_s=1 / rate_hz, travel_mm=travel, speed_mm_s=np.zeros(travel.size)
        )
        return EndMotion(
            end=End.FRONT,
            travel_mm=200.0,
            segments=(part,),
            bandwidth_hz=75.0,
            distribution=of_samples(travel),
            masked_samples=0,
            zero_known=True,
            cautions=(),
        )

    return build


@pytest.mark.parametrize("rate_hz", [200.0, 500.0, 2000.0])
def test_hanging_at_the_top_is_off_the_ground(motion: Callable[..., EndMotion], rate_hz: float) -> None:
    found = off_ground(motion((60, 1.0), (1.2, 0.1), (60, 1.0), (0.3, 0.5), (60, 1.0), rate_hz=rate_hz))
    spans = [(span.kind, span.start_s, span.end_s) for span in found]
    assert spans == [
        ("off the ground", pytest.approx(1.0), pytest.approx(1.1)),
        ("off the ground", pytest.approx(2.1), pytest.approx(2.6)),
    ]


def test_a_mere_topping_the_stand_and_a_near_miss_are_not(motion: Callable[..., EndMotion]) -> None:
    assert off_ground(motion((60, 1.0), (0.5, 0.06), (60, 1.0), (2.5, 0.5), (60, 1.0))) == ()
    assert off_ground(motion((60, 1.0), (0.5, 4.0), (60, 1.0))) == ()


def test_a_span_cut_by_the_end_of_a_stretch_or_a_mask_is_left_out(motion: Callable[..., EndMotion]) -> None:
    assert off_ground(motion((0.5, 0.5), (60, 1.0), (0.5, 0.5))) == ()
    assert off_ground(motion((60, 1.0), (np.nan, 0.1), (0.5, 0.5), (60, 1.0))) == ()


def test_a_flicker_of_the_reading_does_not_split_a_span(motion: Callable[..., EndMotion]) -> None:
    assert len(off_ground(motion((60, 1.0), (1.8, 0.1), (2.2, 0.01), (1.8, 0.1), (60, 1.0)))) == 1
