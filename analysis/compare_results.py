"""What a comparison answers: the metrics before and after, and the answer in words.

The field names of `Comparison` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from analysis.ride_results import RideSummary
from ingest.records import End


@dataclass(frozen=True, slots=True, kw_only=True)
class Metric:
    """One number before and after. ``ci95`` belongs to ``change``; ``changed`` is adjusted for the family.

    ``change_percent_of_travel`` is the change of a depth as a share of the travel, each side of its own: a
    shorter suspension that moves as before uses more of what it has. ``None`` for what is no depth.
    """

    name: str
    unit: str
    before: float
    after: float
    change: float
    ci95: tuple[float, float] | None
    changed: bool
    change_percent_of_travel: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The question a customer asks, answered in words."""

    verdict: str
    uses_its_travel: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """One thing that should be the same on both sides: before, after, and a word.

    ``what``: length, roughness, pace, load case, rider, route, tyre pressures, warmed up, sections. ``word``
    is ``alike``, ``differs`` or ``unknown``; ``says`` is the warning in plain words where there is one.
    """

    what: str
    before: str
    after: str
    word: str
    says: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BottomingForecast:
    """How often this setup would bottom, per hour of riding on this route at this pace.

    ``basis`` is ``fitted tail`` (peaks over a threshold, generalised Pareto), ``no event: upper bound`` or
    ``not enough data``; ``per_hour`` and ``interval`` (95 %) are ``None`` where there is no answer. ``peaks``
    are the declustered peaks over ``threshold_mm`` the answer rests on, ``events`` the bottomings that were
    met.
    """

    end: End
    per_hour: float | None
    interval: tuple[float, float] | None
    basis: str
    peaks: int
    events: int
    hours: float
    threshold_mm: float | None
    shape: float | None
    scale_mm: float | None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TestDay:
    """What it takes to see a change of a given size in one number on this bike and route.

    ``options`` are (runs a side, minutes a run) that see it four times in five at the family level;
    ``basis`` says what spread this rests on. ``seen_now`` is the smallest change the rides at hand show, and
    with the two spreads (standard deviations inside a run and between runs) in the unit of the metric.
    """

    __test__: ClassVar[bool] = False  # a day of testing, not a test: pytest goes by the name

    metric: str
    change: float
    unit: str
    options: tuple[tuple[int, float], ...]
    seen_now: float | None
    within_run_sd: float | None
    between_runs_sd: float | None
    basis: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """One setup among several: its place, and what it is best and worst at, in plain words.

    ``place`` is shared where chance cannot tell two setups apart. ``rider_sag_percent`` front and rear as
    far as known; ``equal_sag`` whether it agrees with the others within their doubt (``None``: not known).
    """

    setup: str
    place: int
    runs: int
    minutes: float
    rider_sag_percent: tuple[float | None, float | None]
    equal_sag: bool | None
    best_at: tuple[str, ...]
    worst_at: tuple[str, ...]
    metrics: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Several setups on one bike, ranked by the stated rule."""

    ranked: tuple[Ranked, ...]
    rule: str
    uncertain: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Rides before against rides after.

    ``basis`` is ``runs`` (intervals from the scatter of three runs a side or more) or ``these rides only``.
    ``rule`` states what using the travel means. ``method`` are those of the cautions that say what the
    intervals are made of.
    """

    before: tuple[RideSummary, ...]
    after: tuple[RideSummary, ...]
    metrics: tuple[Metric, ...]
    answer: Answer
    cautions: tuple[str, ...] = ()
    software: str = ""
    basis: str = "these rides only"
    rule: str = ""
    likeness: tuple[Likeness, ...] = ()
    forecasts_before: tuple[BottomingForecast, ...] = ()
    forecasts_after: tuple[BottomingForecast, ...] = ()
    method: tuple[str, ...] = ()
