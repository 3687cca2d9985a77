"""Where the doubt of a sag comes from, as a table that fits a plain terminal, for every face."""

from __future__ import annotations

from analysis.results import Budget, SagCheck
from dashboard import units as show
from dashboard.units import Units
from dashboard.wording import Table
from ingest.records import End

HEAD = ("cause", "share", "±1 sd", "what shrinks it")


def budgets(check: SagCheck) -> tuple[tuple[str, Budget], ...]:
    """Give every budget of a check with its name, in the order front, rear, unladen, rider."""
    return tuple(
        (f"{end}, {load} sag", budget)
        for end, found in ((End.FRONT, check.front), (End.REAR, check.rear))
        if found is not None
        for load, budget in (("unladen", found.unladen_budget), ("rider", found.rider_budget))
        if budget is not None
    )


def budget_table(budget: Budget, units: Units = Units.MM) -> Table:
    """Write one budget, the largest cause first."""
    return Table(
        head=HEAD,
        rows=tuple(
            (
                line.cause,
                show.percent(line.share_percent),
                show.length(line.standard_uncertainty_mm, units, 2),
                line.remedy,
            )
            for line in budget.lines
        ),
    )


def budget_line(budget: Budget, units: Units = Units.MM) -> str:
    """Say what the causes come to, by the formula and by random draws, and which of them dominates."""
    low, high = budget.monte_carlo.interval_mm
    total = show.length(budget.expanded_uncertainty_mm, units, 2)
    largest = budget.lines[0]
    return (
        f"together ±{total} (k = {show.number(budget.coverage_factor, 2)}); by {budget.monte_carlo.draws} "
        f"random draws {show.length_number(low, units)} to {show.length(high, units)}. "
        f"Most of it: {largest.cause}, {largest.basis}."
    )
