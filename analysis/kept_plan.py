"""A way of a plan that was agreed on: what it promised is written down, and stays promised."""

from __future__ import annotations

from dataclasses import replace

from analysis.plan_results import EndPlan, Option, Plan
from analysis.results import Quantity
from ingest.errors import UsageError
from ingest.records import KeptPlan, ValueAndDoubt

COVERAGE = 1.96


def keep(plan: Plan, name: str, *, setup: str | None, kept: str) -> KeptPlan:
    """Take down a way of a plan with the numbers it promises.

    Parameters
    ----------
    plan : Plan
    name : str
        Of the option, or its number in the plan; see `option_of`.
    setup : str or None
        Name of the setup that was planned from.
    kept : str
        When, as it is to be written.

    Raises
    ------
    UsageError
        The plan has no such option, or it is refused.
    """
    option = option_of(plan, name)
    if not option.allowed:
        raise UsageError(f"{option.name!r} is refused and cannot be kept: {'; '.join(option.because)}")
    return KeptPlan(
        option=option.name,
        kept=kept,
        hardware_mm=_rounded(plan.from_parts_mm),
        setup=setup,
        seat_drop_mm=_pair(option.seat_drop_mm),
        front_rider_sag_mm=_pair(option.front.rider_sag_mm),
        rear_rider_sag_mm=_pair(option.rear.rider_sag_mm),
        front_travel_mm=_rounded(option.front.travel_mm),
        rear_travel_mm=_rounded(option.rear.travel_mm),
    )


def option_of(plan: Plan, name: str) -> Option:
    """Find an option by its name, in whatever case of letters, or by its number in the plan's list.

    Raises
    ------
    UsageError
        The plan has no such option.
    """
    asked = name.strip().lower()
    for number, option in enumerate(plan.options, 1):
        if asked in (option.name.lower(), str(number)):
            return option
    names = ", ".join(f"{number} {one.name!r}" for number, one in enumerate(plan.options, 1))
    raise UsageError(f"the plan has no option {name!r}: it has {names}")


def as_promised(plan: Plan, kept: KeptPlan) -> Plan:
    """Give a plan whose kept option promises what it did when it was agreed on, whatever is known since."""
    options = tuple(_promised(one, kept) if one.name == kept.option else one for one in plan.options)
    return replace(plan, options=options)


def _promised(option: Option, kept: KeptPlan) -> Option:
    return replace(
        option,
        seat_drop_mm=_quantity(kept.seat_drop_mm),
        front=_end(option.front, kept.front_rider_sag_mm, kept.front_travel_mm),
        rear=_end(option.rear, kept.rear_rider_sag_mm, kept.rear_travel_mm),
    )


def _end(end: EndPlan, sag: ValueAndDoubt | None, travel_mm: float | None) -> EndPlan:
    return replace(end, rider_sag_mm=_quantity(sag), travel_mm=travel_mm)


def _pair(quantity: Quantity | None) -> ValueAndDoubt | None:
    return None if quantity is None else (round(quantity.value, 2), round(quantity.expanded_uncertainty, 2))


def _quantity(pair: ValueAndDoubt | None) -> Quantity | None:
    if pair is None:
        return None
    return Quantity(value=pair[0], expanded_uncertainty=pair[1], coverage_factor=COVERAGE)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
