"""What was measured on the virtual bike beside its truth, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.against_truth import Compared
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table
from ingest.records import End


def truth_table(compared: Sequence[Compared], units: Units = Units.MM) -> Table:
    """Write what was measured on the virtual bike beside what is true of it, front and rear."""
    by_place = {(one.end, one.name): one for one in compared}
    units_of = {one.name: str(units) if one.unit == "mm" else one.unit for one in compared}
    return Table(
        head=("", "front", "true", "error", "rear", "true", "error"),
        rows=tuple(
            (
                f"{name} ({unit})",
                *_truth(by_place.get((End.FRONT, name)), units),
                *_truth(by_place.get((End.REAR, name)), units),
            )
            for name, unit in units_of.items()
        ),
    )


def _truth(one: Compared | None, units: Units) -> tuple[str, str, str]:
    if one is None:
        return (NOTHING, NOTHING, NOTHING)
    if one.unit != "mm":
        return (show.number(one.measured, 0), show.number(one.true, 0), show.number(one.error, 0, sign=True))
    return (
        show.length_number(one.measured, units),
        show.length_number(one.true, units),
        show.length_number(one.error, units, sign=True),
    )
