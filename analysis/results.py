"""What the analysis answers: frozen results, units in the field names, doubt beside the number.

The field names of `SagCheck`, `RideSummary` and `Comparison` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass

from ingest.records import End


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured value with its expanded uncertainty (value ± expanded_uncertainty, about 95 in 100)."""

    value: float
    expanded_uncertainty: float
    coverage_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SagReading:
    """One still span of one end: what it was taken as, and what it read."""

    phase: str
    side: str | None
    start_s: float
    end_s: float
    travel_mm: float
    spread_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EndSag:
    """Sag of one end. ``friction_band_mm`` is half the difference of settled from above and from below.

    ``zero_reading`` is the topped-out reading in the unit of the sensor's channel; ``word`` is one of
    ``right``, ``too little``, ``too much``, ``cannot tell``.
    """

    travel_mm: float
    unladen_sag_mm: Quantity | None
    rider_sag_mm: Quantity | None
    unladen_sag_percent: float | None
    rider_sag_percent: float | None
    friction_band_mm: float | None
    target_sag_mm: tuple[float, float] | None
    word: str
    zero_reading: float | None
    readings: tuple[SagReading, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SagCheck:
    """Sag front and rear, and what a good shop would say to it."""

    log_id: str
    front: EndSag | None
    rear: EndSag | None
    advice: tuple[str, ...]
    amendments: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    software: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelEvent:
    """One bottoming (``rubber``, ``near full`` or ``hard stop``) or one topping (``topped out``).

    ``entry_speed_mm_s`` is ``None`` where the passing itself was not recorded.
    """

    t_s: float
    peak_mm: float
    entry_speed_mm_s: float | None
    grade: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """Events of one kind. ``count`` leaves the grade ``rubber`` out; ``events`` lists all."""

    count: int
    per_10_min: float
    events: tuple[TravelEvent, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Percentiles over all samples moving in one direction, as positive numbers, at the wheel."""

    p50: float
    p95: float
    p99: float
    max: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Exceedance:
    """Share of the ride spent faster than each speed, in one direction."""

    speed_mm_s: tuple[float, ...]
    share: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndRide:
    """What one end did on one ride. Travel from topped out, compression positive, speeds at the wheel.

    Speeds are ``None`` where nothing moved that way or no stretch was long enough to differentiate.
    """

    duration_s: float
    samples: int
    lost_samples: int
    travel_mm: float
    travel_used_mm: float
    travel_used_percent: float
    mean_mm: float
    p50_mm: float
    p95_mm: float
    p99_mm: float
    bottoming: Events
    topping: Events
    compression_speed_mm_s: Speeds | None
    rebound_speed_mm_s: Speeds | None
    bandwidth_hz: float
    grains_mm: tuple[float, ...]
    compression_exceedance: Exceedance
    rebound_exceedance: Exceedance
    masked_samples: int = 0
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSummary:
    """One ride, both ends."""

    log_id: str
    front: EndRide | None
    rear: EndRide | None
    amendments: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    software: str = ""

    def end(self, end: End) -> EndRide | None:
        """Give what one end did, ``None`` where it was not measured."""
        return self.front if end is End.FRONT else self.rear


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
