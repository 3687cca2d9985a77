"""Which of the springs at hand serves best: unladen and rider sag foretold for each, with their doubt.

The sags that were measured say what load rests on the end, through the spring that is in it now; the same
load on another spring gives the sags to come. Each spring is given the preload that puts rider sag in the
middle of its target, as far as its adjuster allows; unladen sag then says whether the spring itself fits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.preload import known_preload, preload_limits, unknown_air
from analysis.results import Quantity
from analysis.spring_forecast import Case, foretold, unladen_once_right
from analysis.spring_statics import FORK, total_rate_n_mm
from analysis.targets import spring_word_for, target_sag, unladen_target, word_for
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Suspension

SAME_RATE = 1e-6
MUCH_PRELOAD_MM = 25.0
"""More than most adjusters and spacers give. Common practice, no source."""

Band = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringChoice:
    """One spring at its best preload. ``word`` is ``fits``, ``too soft``, ``too stiff`` or ``cannot tell``.

    Both sags are what is to be expected when the spring goes in at that preload. ``unladen_once_right_mm`` is
    unladen sag after preload was corrected until rider sag is right: it depends less on what is printed on
    the springs, and the word rests on it. ``limited`` says that the preload wanted is out of reach:
    ``least`` or ``most`` preload was taken. ``off`` is how far the spring is from its target, in half bands.
    """

    rate_n_mm: float
    in_the_bike: bool
    preload_mm: float
    limited: str | None
    unladen_sag_mm: Quantity | None
    rider_sag_mm: Quantity
    unladen_once_right_mm: Quantity | None
    word: str
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringAdvice:
    """Springs of one end against each other. ``best_n_mm`` is ``None`` where none fits.

    ``nearest_n_mm`` is the one least off its targets, ``as_good_n_mm`` those that might serve as well as far
    as the doubt goes. ``rate_n_mm`` of a choice is one spring's; ``springs`` of them are in this end.
    """

    end: End
    springs: int
    travel_mm: float
    rate_now_n_mm: float
    preload_now_mm: float
    unladen_now_mm: Quantity | None
    rider_now_mm: Quantity
    target_mm: Band
    target_unladen_mm: Band | None
    choices: tuple[SpringChoice, ...]
    best_n_mm: float | None
    nearest_n_mm: float
    as_good_n_mm: tuple[float, ...]
    cautions: tuple[str, ...]


def choose_spring(
    bike: Bike, end: End, unladen: Quantity | None, rider: Quantity, rates_n_mm: Sequence[float]
) -> SpringAdvice:
    """Foretell both sags for each spring rate and name the one that serves best.

    Of those that fit, that is the one nearest the middle of the unladen target; one that wants more than
    `MUCH_PRELOAD_MM` of preload only if all do.

    Parameters
    ----------
    bike : Bike
        As it is under its setup: spring rate, preload and leverage as they were when sag was measured.
    end : End
    unladen, rider : Quantity
        Sags measured, mm at the wheel.
    rates_n_mm : sequence of float
        Rates of one spring each; that of the spring in the bike is always added.

    Raises
    ------
    CannotAnswer
        Spring rate, preload or target are not known; the message says what to measure.
    """
    suspension, rate_now = _known(bike, end)
    target = target_sag(bike, end)
    if target is None:
        raise CannotAnswer(
            f'{end}: no target for rider sag: write use = "adventure" or another use, or target_sag_percent'
        )
    target_mm = target.in_mm(suspension.travel_mm)
    loose = unladen_target(bike, end)
    bands = (target_mm, None if loose is None else loose.in_mm(suspension.travel_mm))
    case = Case(suspension=suspension, rate_n_mm=rate_now, unladen=unladen, rider=rider)
    each = suspension.springs or 1
    rates = sorted({*rates_n_mm, rate_now / each})
    choices = tuple(_choice(case, rate, each, bands) for rate in rates)
    nearest = min(choices, key=lambda choice: choice.off)
    fitting = [choice for choice in choices if choice.word == "fits"]
    best = min(fitting, key=lambda choice: (choice.preload_mm > MUCH_PRELOAD_MM, choice.off), default=None)
    named = best or nearest
    return SpringAdvice(
        end=end,
        springs=each,
        travel_mm=suspension.travel_mm,
        rate_now_n_mm=rate_now / each,
        preload_now_mm=known_preload(suspension).value,
        unladen_now_mm=unladen,
        rider_now_mm=rider,
        target_mm=bands[0],
        target_unladen_mm=bands[1],
        choices=choices,
        best_n_mm=None if best is None else best.rate_n_mm,
        nearest_n_mm=nearest.rate_n_mm,
        as_good_n_mm=tuple(
            choice.rate_n_mm
            for choice in choices
            if choice is not named and choice.word in ("fits", "cannot tell")
        ),
        cautions=_cautions(end, suspension, unladen, bands[1], named.preload_mm),
    )


def _known(bike: Bike, end: End) -> tuple[Suspension, float]:
    """Insist on what the load is told from: the spring that is in the bike now, and its preload."""
    suspension = bike.suspension(end)
    if suspension is None:
        raise CannotAnswer(f"bike {bike.name!r} has no [{end}] in its file")
    rate = total_rate_n_mm(suspension)
    if rate is None:
        raise CannotAnswer(
            f"{end}: the rate of the spring in the bike is not known: read it off the spring and write "
            "spring_rate_n_mm, or work it out from its wire with --wire-mm, --coil-mm and --active-coils"
        )
    if suspension.preload_mm is None:
        raise CannotAnswer(
            f"{end}: the preload now is not known: measure the spring with the wheel hanging, take that from "
            "its free length, and write preload_mm"
        )
    return suspension, rate


def _choice(case: Case, rate_each: float, springs: int, bands: tuple[Band, Band | None]) -> SpringChoice:
    rate = rate_each * springs
    same = math.isclose(rate, case.rate_n_mm, rel_tol=SAME_RATE)
    goal_mm = sum(bands[0]) / 2
    now = case.end
    wanted = now.with_spring(rate, 0.0).preload_for_mm(goal_mm, now.force_n(case.rider.value))
    low, high = preload_limits(case.suspension, now, same_spring=same)
    preload = min(max(wanted, low), high)
    rider = foretold(case, case.rider, rate, preload, same=same)
    unladen = None if case.unladen is None else foretold(case, case.unladen, rate, preload, same=same)
    once_right = (
        None if case.unladen is None else unladen_once_right(case, case.unladen, rate, goal_mm, same=same)
    )
    limited = None if preload == wanted else ("least" if wanted < low else "most")
    rider_word = word_for(rider.value, rider.expanded_uncertainty, bands[0])
    return SpringChoice(
        rate_n_mm=rate_each,
        in_the_bike=same,
        preload_mm=preload,
        limited=limited,
        unladen_sag_mm=unladen,
        rider_sag_mm=rider,
        unladen_once_right_mm=once_right,
        word=_word(limited, rider_word, once_right, bands[1]),
        off=_off(rider, bands[0]) if once_right is None else _off(once_right, bands[1]),
    )


def _word(limited: str | None, rider_word: str, once_right: Quantity | None, band: Band | None) -> str:
    """Say in a word what a spring is: rider sag that preload cannot bring to its target says it first."""
    if limited == "least" and rider_word == "too little":
        return "too stiff"
    if limited == "most" and rider_word == "too much":
        return "too soft"
    if once_right is None or band is None:
        return "cannot tell"
    word = spring_word_for(once_right.value, once_right.expanded_uncertainty, band)
    return "cannot tell" if word == "fits" and limited is not None and rider_word != "right" else word


def _off(sag: Quantity, band: Band | None) -> float:
    """Give how far a sag is from the middle of its band, in half bands."""
    return 0.0 if band is None else abs(sag.value - sum(band) / 2) / ((band[1] - band[0]) / 2)


def _cautions(
    end: End, suspension: Suspension, unladen: Quantity | None, band: Band | None, preload_mm: float
) -> tuple[str, ...]:
    cautions = []
    if unladen is None:
        cautions.append(f"{end}: unladen sag was not measured, and only that says whether a spring fits")
    if band is None:
        cautions.append(f"{end}: no target for unladen sag: the bike file names no use")
    if preload_mm > MUCH_PRELOAD_MM and suspension.preload_max_mm is None:
        cautions.append(
            f"{end}: {preload_mm:.0f} mm is much preload; see how far the adjuster goes, "
            "and write preload_max_mm"
        )
    if unknown_air(suspension) is not None:
        cautions.append(
            f"{end}: the air above the fork oil is left out and counts as doubt; air_area_mm2 and "
            "air_column_mm in the bike file take it into account"
        )
    if suspension.kind == FORK and suspension.springs is None:
        cautions.append(f"{end}: the bike file does not say springs = 2, so rates are of both legs together")
    cautions.append(f"{end}: check a new spring's length, and that its coils do not touch at full bump")
    return tuple(cautions)
