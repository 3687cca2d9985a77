"""Setups in order: by the rule, by what chance does not explain, and labelled where sag was not equal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.compare_results import Ranking
from analysis.equal_sag import equal_sag, sag_cautions, sag_share
from analysis.ranking import rank_setups
from analysis.results import Quantity
from ingest.errors import CannotAnswer, UsageError
from ingest.log import Kind, Log
from ingest.records import End, EndSetup, Setup

RATE_HZ = 200.0
TRAVELS = {End.FRONT: 230.0, End.REAR: 220.0}
SECONDS = 30
# How deep the deepest bumps of each spring go, in shares of the travel.
HARD, MIDDLE, SOFT = 0.70, 0.93, 1.02


@pytest.fixture
def rides(make_log: Callable[..., Log]) -> Callable[..., list[Log]]:
    """Rides with a bump every 0.75 s; each eighth goes as deep as the deepest, so all runs bottom alike."""

    def build(name: str, depth: float, runs: int = 3, seconds: int = SECONDS) -> list[Log]:
        made = []
        for run in range(runs):
            random = np.random.default_rng([run, *name.encode()])
            shape = np.sin(np.linspace(0.0, np.pi, 41)) ** 2
            travel = np.full((int(seconds / 0.75), 150), 0.0)
            peaks = depth * np.clip(random.beta(2.0, 1.2, len(travel)), 0.33, 0.93)
            peaks[3::8] = depth
            start = 0.20 * depth / MIDDLE
            travel[:, 40:81] = np.minimum((peaks[:, None] - start) * shape, 0.998 - start)
            wander = np.cumsum(random.normal(0.0, 0.0002, travel.size))
            share = np.clip(travel.ravel() + start + wander - wander.mean(), 0.02, 0.999)
            log = make_log(230 * share, 220 * share, rate_hz=RATE_HZ)
            made.append(replace(log, id=f"{name} {run}", setup=Setup(name=name)))
        return made

    return build


def places(ranking: Ranking) -> dict[str, int]:
    return {one.setup: one.place for one in ranking.ranked}


def sags(**percent: float) -> dict[str, dict[End, Quantity]]:
    return {
        name: {
            end: Quantity(value=travel * share / 100, expanded_uncertainty=1.0, coverage_factor=2.0)
            for end, travel in TRAVELS.items()
        }
        for name, share in percent.items()
    }


def test_three_springs(rides) -> None:
    told: list[str] = []
    groups = {"hard": rides("hard", HARD), "soft": rides("soft", SOFT), "middle": rides("middle", MIDDLE)}
    ranking = rank_setups(
        groups, sags(hard=30, soft=30.4, middle=29.8), on_ride=lambda log: told.append(log.id)
    )
    assert places(ranking) == {"middle": 1, "hard": 2, "soft": 3}
    assert [one.setup for one in ranking.ranked] == ["middle", "hard", "soft"]
    assert len(told) == len(set(told)) == 9  # each ride is measured once, however many pairs there are
    by_name = {one.setup: one for one in ranking.ranked}
    assert "bottoms most often (front)" in by_name["soft"].worst_at
    assert "takes most of its travel on the big bumps (rear)" in by_name["soft"].best_at
    assert "leaves most travel unused on the big bumps (front)" in by_name["hard"].worst_at
    assert "keeps most travel in hand where it rides (front)" in by_name["hard"].best_at
    assert by_name["middle"].runs == 3
    assert by_name["middle"].minutes == pytest.approx(1.5)
    assert by_name["middle"].rider_sag_percent == pytest.approx((29.8, 29.8))
    assert all(one.equal_sag for one in ranking.ranked)
    assert ranking.uncertain == ()
    # The springs move what the road measures as by a third, which rides of 30 s cannot tell from the road.
    assert all("cannot tell whether the road was rougher" in said for said in ranking.cautions)
    assert dict(by_name["hard"].metrics)["front_travel_used_percent"] < 75
    assert "85 % or more" in ranking.rule


def test_what_chance_explains_shares_a_place(rides) -> None:
    groups = {
        "one": rides("one", MIDDLE, 1),
        "other": rides("other", MIDDLE, 1),
        "hard": rides("hard", HARD, 1),
    }
    ranking = rank_setups(groups, sags(one=30, other=30, hard=30))
    # One ride of 30 s each: the deepest moment tells hard from the others, and by itself it makes no place.
    assert places(ranking) == {"one": 1, "other": 1, "hard": 1}
    assert any(said.startswith("one and other: chance alone may explain") for said in ranking.uncertain)
    assert not any("bottoms" in said for one in ranking.ranked for said in one.best_at)
    assert any("fewer than 3 runs with one, other, hard" in caution for caution in ranking.cautions)


@pytest.mark.parametrize(
    ("known", "equal", "caution"),
    [
        (
            {"a": 30.0, "b": 24.0},
            [False, False],
            "not at equal rider sag (a front 30 %, rear 30 %; b front 24 %",
        ),
        ({"a": 30.0}, [None, None], "equal rider sag not known (a, b)"),
        ({}, [None, None], "equal rider sag not known (a, b)"),
        ({"a": 30.0, "b": 30.9}, [True, True], None),
        ({"a": 30.0, "b": 31.4}, [False, False], "not at equal rider sag"),
    ],
)
def test_sag_is_held_against_each_other(
    known: dict[str, float], equal: list[bool | None], caution: str | None
) -> None:
    found = sags(**known)
    shares = {
        name: {end: sag_share(found.get(name, {}).get(end), mm) for end, mm in TRAVELS.items()}
        for name in "ab"
    }
    words = {name: equal_sag(name, shares) for name in shares}
    assert list(words.values()) == equal
    said = list(sag_cautions(shares, words))
    assert said == [] if caution is None else said[0].startswith(caution)


def test_an_end_nobody_measured_does_not_count() -> None:
    shares = {
        name: {End.FRONT: sag_share(sags(x=30)["x"][End.FRONT], 230), End.REAR: None} for name in ("a", "b")
    }
    assert equal_sag("a", shares) is True


def test_a_shorter_travel_is_judged_by_its_share(rides) -> None:
    """The same millimetres are more of a shorter travel: the mm say nothing, and nothing is said."""
    short = Setup(name="short", front=EndSetup(travel_mm=190), rear=EndSetup(travel_mm=180))
    lowered = [replace(log, id=f"short {log.id}", setup=short) for log in rides("low", 0.80, 1)]
    ranking = rank_setups({"tall": rides("tall", 0.90, 1), "short": lowered})
    said: Sequence[str] = [text for one in ranking.ranked for text in (*one.best_at, *one.worst_at)]
    assert not any("big bumps" in text for text in said)


def test_what_cannot_be_ranked(rides) -> None:
    with pytest.raises(UsageError, match="1 setup among these rides"):
        rank_setups({"a": rides("a", MIDDLE, 1)})
    with pytest.raises(UsageError, match="was given twice"):
        rank_setups({"a": rides("a", MIDDLE, 1), "b": rides("a", MIDDLE, 1)})
    sag = [replace(log, kind=Kind.SAG) for log in rides("b", MIDDLE, 1)]
    with pytest.raises(CannotAnswer, match="is a sag check"):
        rank_setups({"a": rides("a", MIDDLE, 1), "b": sag})
