"""Target bands: by use, overridden by the bike, and the word that follows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.targets import RIDER_SAG_PERCENT, target_sag, word_for
from ingest.records import Bike, End


def test_use_picks_the_band(bike: Bike) -> None:
    target = target_sag(bike, End.FRONT)
    assert target is not None
    assert target.percent == (28.0, 33.0)
    assert target.in_mm(230.0) == pytest.approx((64.4, 75.9))
    assert "common practice, no source" in target.origin


def test_bike_file_outranks_the_use(bike: Bike) -> None:
    assert bike.front is not None
    own = replace(bike, front=replace(bike.front, target_sag_percent=(25.0, 30.0)))
    target = target_sag(own, End.FRONT)
    assert target is not None
    assert target.percent == (25.0, 30.0)
    assert target.origin == "set for this bike"


def test_unknown_use_gives_no_band(bike: Bike) -> None:
    assert target_sag(replace(bike, use=None), End.REAR) is None
    assert target_sag(replace(bike, use="trials"), End.REAR) is None


@pytest.mark.parametrize("use", list(RIDER_SAG_PERCENT))
def test_every_band_is_a_band(use: str) -> None:
    for low, high in RIDER_SAG_PERCENT[use].values():
        assert 15 <= low < high <= 40


@pytest.mark.parametrize(
    ("value", "doubt", "word"),
    [
        (70.0, 2.0, "right"),
        (66.0, 2.0, "cannot tell"),
        (60.0, 2.0, "too little"),
        (80.0, 2.0, "too much"),
        (70.0, 20.0, "cannot tell"),
    ],
)
def test_word(value: float, doubt: float, word: str) -> None:
    assert word_for(value, doubt, (64.4, 75.9)) == word
