"""What a sag check answers: frozen results, units in the field names, doubt beside the number.

The field names of `SagCheck` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured value with its expanded uncertainty (value ± expanded_uncertainty, about 95 in 100)."""

    value: float
    expanded_uncertainty: float
    coverage_factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarlo:
    """The doubt of a value by random draws: mean, standard uncertainty, and the shortest 95 % interval.

    ``standard_uncertainty_mm`` is ``None`` where the draws have none (two degrees of freedom or fewer).
    """

    mean_mm: float
    standard_uncertainty_mm: float | None
    interval_mm: tuple[float, float]
    half_width_mm: float
    draws: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One cause of doubt: how much of the variance it makes, where that is from, and what would shrink it."""

    cause: str
    standard_uncertainty_mm: float
    dof: float
    share_percent: float
    basis: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """All causes of doubt of one sag, the largest first, put together after the GUM and by random draws."""

    lines: tuple[BudgetLine, ...]
    standard_uncertainty_mm: float
    dof: float
    coverage_factor: float
    expanded_uncertainty_mm: float
    monte_carlo: MonteCarlo


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
class MeasuredRate:
    """Wheel rate actually present: change of load over change of sag, a secant between the two sags.

    Along the wheel's travel (telescopic fork: along its axis). ``load_change_kg`` is vertical, at this end.
    ``expected_n_mm`` is the same secant from the spring in the bike file. ``word`` is one of ``as expected``,
    ``softer than expected``, ``stiffer than expected``, ``measured`` (nothing to expect), ``cannot tell``;
    ``dominates`` is the largest cause of doubt, ``would_tell`` what would settle it.
    """

    secant_n_mm: Quantity | None
    from_mm: float
    to_mm: float
    sag_change_mm: Quantity
    load_change_kg: Quantity
    load_basis: str
    expected_n_mm: float | None
    word: str
    dominates: str
    would_tell: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PreloadChange:
    """Change of preload that puts rider sag in the middle of its target, and what the spring then is.

    Positive is more preload, at each spring. ``one_leg_mm`` is the change if only one of two springs is
    turned. ``sag_mm_per_mm`` is how far a millimetre at the collar moves the wheel. ``spring_word`` is
    ``fits``, ``too soft``, ``too stiff`` or ``cannot tell``; refused changes have ``allowed`` false and say
    why, with the rider sag that the nearest allowed preload gives.
    """

    change_mm: Quantity
    turns: float | None
    one_leg_mm: float | None
    sag_mm_per_mm: float
    preload_now_mm: float | None
    preload_after_mm: float | None
    unladen_after_mm: Quantity | None
    target_unladen_mm: tuple[float, float] | None
    spring_word: str
    allowed: bool
    refused_because: tuple[str, ...] = ()
    rider_at_limit_mm: float | None = None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EndSag:
    """Sag of one end. ``friction_band_mm`` is half the difference of settled from above and from below.

    ``zero_reading`` is the topped-out reading in the unit of the sensor's channel; ``word`` is one of
    ``right``, ``too little``, ``too much``, ``cannot tell``. ``rolling_sag_mm`` (the mean of a slow straight
    run) and ``feet_down_sag_mm`` (rider aboard, feet on the ground) stand beside rider sag where marked.
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
    unladen_budget: Budget | None = None
    rider_budget: Budget | None = None
    wheel_rate: MeasuredRate | None = None
    preload: PreloadChange | None = None
    rolling_sag_mm: Quantity | None = None
    feet_down_sag_mm: Quantity | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SagCheck:
    """Sag front and rear, and what a good shop would say to it.

    ``seat_drop_mm`` is how much lower the seat is with both ends at the middle of their targets, before any
    hardware; negative where the bike sits too low now.
    """

    log_id: str
    front: EndSag | None
    rear: EndSag | None
    advice: tuple[str, ...]
    amendments: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    software: str = ""
    seat_drop_mm: Quantity | None = None
