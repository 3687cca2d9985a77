"""How far to trust wheel travel on a real bike, in words: what mounting adds, cause by cause."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.mounting_doubt import MountingDoubt
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table

TRUST = (
    "flatfoot's own working out is checked against a virtual bike that knows its true travel: it is off by "
    "half a millimetre as a rule, by a millimetre and a half at worst. A real bike adds what brackets, rod "
    "ends, rubber and the sensor itself do."
)
BASIS = (
    "The figures are common practice without a source: what is usually met, not what was measured on this "
    "bike. They go for one place in the travel; a change between two rides with the same sensors left on "
    "carries less, because most of it is the same both times."
)


def trust_lines(doubts: Sequence[MountingDoubt], units: Units = Units.MM) -> tuple[str, ...]:
    """Say for each end how far its positions can be trusted with sensors on a real bike."""
    return tuple(
        f"{str(doubt.end).capitalize()}: mounting adds about ±{show.length(doubt.expanded_mm, units)}."
        for doubt in doubts
    )


def trust_table(doubts: Sequence[MountingDoubt], units: Units = Units.MM) -> Table:
    """Write every cause with what it is where it arises and what that makes at either wheel."""
    causes: dict[str, str] = {}
    for doubt in doubts:
        causes |= {one.cause: one.at_sensor for one in doubt.causes}
    rows = [
        (cause, text, *(_at_wheel(doubt, cause, units) for doubt in doubts)) for cause, text in causes.items()
    ]
    together = (
        "together, 95 times in 100",
        "",
        *(f"±{show.length_number(doubt.expanded_mm, units)}" for doubt in doubts),
    )
    head = ("what mounting adds", "up to", *(f"{doubt.end}, {units}" for doubt in doubts))
    return Table(head=head, rows=(*rows, together))


def _at_wheel(doubt: MountingDoubt, cause: str, units: Units) -> str:
    found = next((one.half_width_mm for one in doubt.causes if one.cause == cause), None)
    return NOTHING if found is None else f"±{show.length_number(found, units)}"
