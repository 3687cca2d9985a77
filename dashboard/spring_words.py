"""Springs in words: what each would do, which serves best and why."""

from __future__ import annotations

from analysis.helical_spring import HelicalSpring
from analysis.sag_advice import SAFETY
from analysis.springs import MUCH_PRELOAD_MM, SpringAdvice, SpringChoice
from dashboard import units as show
from dashboard.units import Units
from dashboard.wording import Table

SPRING_NOTES = (
    "Preload moves the bike up and down on its spring; it never changes the rate.",
    "What is printed on a spring is good to some 4 %: once it is in, measure sag again and correct preload."
    " The last column is unladen sag after that, and the word rests on it.",
    SAFETY,
)


def springs_table(advice: SpringAdvice, units: Units = Units.MM) -> Table:
    """One row a spring at its best preload; lengths without their unit, which stands in the heading."""
    rate_unit = show.spring_rate(1.0, units).split(" ", 1)[1]
    return Table(
        head=(
            str(advice.end),
            f"preload {units}",
            f"unladen {units}",
            f"rider {units}",
            "unladen, set",
            "in a word",
        ),
        rows=tuple(_row(choice, rate_unit, units) for choice in advice.choices),
    )


def _row(choice: SpringChoice, rate_unit: str, units: Units) -> tuple[str, ...]:
    rate = show.spring_rate(choice.rate_n_mm, units).removesuffix(f" {rate_unit}")
    limited = "" if choice.limited is None else f" {choice.limited}"
    return (
        f"{rate} {rate_unit}{' now' if choice.in_the_bike else ''}",
        show.length_number(choice.preload_mm, units) + limited,
        show.quantity(choice.unladen_sag_mm, units),
        show.quantity(choice.rider_sag_mm, units),
        show.quantity(choice.unladen_once_right_mm, units),
        choice.word,
    )


def spring_lines(advice: SpringAdvice, units: Units = Units.MM) -> tuple[str, ...]:
    """Say what was measured and aimed at, which spring serves best, and what cannot be told apart."""
    name = str(advice.end).capitalize()
    aims = f"{name}: rider sag {_measured(advice, rider=True, units=units)}, target " + _band(
        advice.target_mm, units
    )
    if advice.target_unladen_mm is not None:
        aims += f"; unladen sag {_measured(advice, rider=False, units=units)}, target " + _band(
            advice.target_unladen_mm, units
        )
    return (f"{aims}.", *_verdict(name, advice, units))


def _verdict(name: str, advice: SpringAdvice, units: Units) -> tuple[str, ...]:
    rates = {choice.rate_n_mm: choice for choice in advice.choices}
    others = _listed([show.spring_rate(rate, units) for rate in advice.as_good_n_mm])
    if advice.best_n_mm is not None:
        best = rates[advice.best_n_mm]
        each = f" in each of the {advice.springs}" if advice.springs > 1 else ""
        passed_over = any(c.word == "fits" and c.off < best.off for c in advice.choices)
        those = (
            f"of those that do with {show.length(MUCH_PRELOAD_MM, units, 0)} of preload "
            if passed_over
            else ""
        )
        said = (
            f"{name}: {show.spring_rate(best.rate_n_mm, units)}{each} serves best, with "
            f"{show.length(best.preload_mm, units)} of preload: {those}it leaves unladen sag nearest the "
            "middle of its target, once rider sag is right."
        )
        if others:
            return said, f"{name}: {others} might serve as well, as far as this was measured."
        return (said,)
    nearest = rates[advice.nearest_n_mm]
    rate = show.spring_rate(nearest.rate_n_mm, units)
    if nearest.word == "cannot tell":
        return (
            f"{name}: this cannot tell which spring fits; {rate} comes nearest. Read both sags again, "
            "three times from above and from below.",
        )
    look = "softer" if nearest.word == "too stiff" else "stiffer"
    said = f"{name}: none of these surely fits; {rate} comes nearest and is {nearest.word}."
    if others:
        return f"{said} Of {others} it cannot be told.", f"{name}: look for a {look} spring."
    return said, f"{name}: look for a {look} spring."


def helical_lines(spring: HelicalSpring, units: Units = Units.MM) -> tuple[str, ...]:
    """Say what a spring's wire says."""
    rate = spring.rate_n_mm
    doubt = show.spring_rate(rate.expanded_uncertainty, units)
    return (
        f"By its wire this spring has {show.spring_rate(rate.value, units)}, ± {doubt}.",
        f"Coil over wire is {show.number(spring.index)}; usual are 4 to 12.",
        f"Pressed solid it is about {show.length(spring.solid_length_mm, units, 0)} long "
        "(two dead coils, ends not ground).",
    )


def _measured(advice: SpringAdvice, *, rider: bool, units: Units) -> str:
    sag = advice.rider_now_mm if rider else advice.unladen_now_mm
    return "not measured" if sag is None else f"{show.quantity(sag, units)} {units}"


def _band(band: tuple[float, float], units: Units) -> str:
    low, high = (show.length_number(value, units, 0) for value in band)
    return f"{low} to {high} {units}"


def _listed(words: list[str]) -> str:
    """Join words as one says them.

    >>> _listed(["a"]), _listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
