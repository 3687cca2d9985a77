"""A sag check in words: its table and its cautions."""

from __future__ import annotations

from analysis.results import EndSag, SagCheck
from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import CANNOT_TELL, Table, cautions_of


def sag_table(check: SagCheck, units: Units = Units.MM) -> Table:
    """Front and rear side by side, one row for each thing a mechanic asks."""
    ends = (check.front, check.rear)

    rates = [wheel_rate(e, units) for e in ends]

    def row(name: str, *cells: str) -> tuple[str, ...]:
        return (name, *cells)

    return Table(
        head=("", "front", "rear"),
        rows=(
            row("travel", *(show.length(e.travel_mm, units, 0) if e else NOTHING for e in ends)),
            row("unladen sag", *(_sag(e, rider=False, units=units) for e in ends)),
            row("rider sag", *(_sag(e, rider=True, units=units) for e in ends)),
            *_beside(ends, units),
            row("target for rider sag", *(_target(e, units) for e in ends)),
            row("friction", *(friction(e, units) for e in ends)),
            *([row("wheel rate, secant", *rates)] if any(rate != NOTHING for rate in rates) else []),
            row("in a word", *(e.word if e else "not measured" for e in ends)),
        ),
    )


def _sag(end: EndSag | None, *, rider: bool, units: Units) -> str:
    if end is None:
        return NOTHING
    sag = end.rider_sag_mm if rider else end.unladen_sag_mm
    share = end.rider_sag_percent if rider else end.unladen_sag_percent
    if sag is None:
        return NOTHING
    text = f"{show.quantity(sag, units)} {units}"
    return text if share is None else f"{text} ({show.percent(share)})"


def _beside(ends: tuple[EndSag | None, ...], units: Units) -> list[tuple[str, ...]]:
    """Rows for feet-down and rolling sag, where somebody marked them."""
    found = {
        "feet-down sag": [e.feet_down_sag_mm if e else None for e in ends],
        "rolling sag": [e.rolling_sag_mm if e else None for e in ends],
    }
    return [
        (name, *(NOTHING if sag is None else f"{show.quantity(sag, units)} {units}" for sag in sags))
        for name, sags in found.items()
        if any(sag is not None for sag in sags)
    ]


def _target(end: EndSag | None, units: Units) -> str:
    if end is None or end.target_sag_mm is None:
        return NOTHING
    low, high = (show.length_number(value, units, 0) for value in end.target_sag_mm)
    return f"{low} to {high} {units}"


def friction(end: EndSag | None, units: Units = Units.MM) -> str:
    """Write the friction band: ± half of the difference between settled from above and from below."""
    if end is None or end.friction_band_mm is None:
        return NOTHING
    return f"±{show.length(end.friction_band_mm, units)}"


def wheel_rate(end: EndSag | None, units: Units = Units.MM) -> str:
    """Write the wheel rate measured between both sags; a dash where it cannot be told."""
    measured = None if end is None else end.wheel_rate
    if measured is None or measured.secant_n_mm is None or measured.word == CANNOT_TELL:
        return NOTHING
    value, doubt = measured.secant_n_mm.value, measured.secant_n_mm.expanded_uncertainty
    unit = show.spring_rate(value, units).split(" ", 1)[1]
    return f"{show.spring_rate(value, units).removesuffix(f' {unit}')} ± {show.spring_rate(doubt, units)}"


def sag_cautions(check: SagCheck) -> tuple[str, ...]:
    """All cautions of a sag check, each naming its end, none twice."""
    return cautions_of(check.front, check.rear, check.cautions)
