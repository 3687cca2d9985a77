"""What a comparison answers: the metrics before and after, and the answer in words.

The field names of `Comparison` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.ride_results import RideSummary


@dataclass(frozen=True, slots=True, kw_only=True)
class Metric:
    """One number before and after. ``ci95`` belongs to ``change``; ``changed`` is adjusted for the family."""

    name: str
    unit: str
    before: float
    after: float
    change: float
    ci95: tuple[float, float] | None
    changed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The question a customer asks, answered in words."""

    verdict: str
    uses_its_travel: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Rides before against rides after."""

    before: tuple[RideSummary, ...]
    after: tuple[RideSummary, ...]
    metrics: tuple[Metric, ...]
    answer: Answer
    cautions: tuple[str, ...] = ()
    software: str = ""
