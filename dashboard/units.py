"""Numbers as people read them: units chosen for the eye, sensible digits, a true minus sign.

Inside flatfoot everything is mm, s, kg, N and N/mm; inches and pounds exist on screens and paper only.
"""

from __future__ import annotations

import math
import re
from enum import StrEnum

from analysis.results import Quantity

MM_PER_INCH = 25.4  # exact by definition (international yard and pound agreement, 1959)
KG_PER_POUND = 0.45359237  # exact, same source
STANDARD_GRAVITY_M_S2 = 9.80665  # exact by definition (3rd CGPM, 1901)
N_MM_PER_LB_IN = KG_PER_POUND * STANDARD_GRAVITY_M_S2 / MM_PER_INCH

METRES_PER_MILE = 1609.344  # exact, same source as the inch

MINUS = "−"
NOTHING = "–"

_NUMBER = r"[+−]?\d+(?:\.\d+)?"
_LENGTHS = re.compile(rf"(?<![\w.])({_NUMBER}(?: (?:→|to|of|±) {_NUMBER})*) mm\b")
"""Lengths in a sentence: ``45 mm``, ``45 → 70 mm``, ``10 to 15 mm``, ``45.0 ± 1.4 mm``."""


class Units(StrEnum):
    """What lengths are shown in; masses and spring rates follow."""

    MM = "mm"
    IN = "in"


def number(value: float | None, decimals: int = 1, *, sign: bool = False) -> str:
    """Write one number with a true minus sign; a dash where there is none.

    >>> number(-3.14159, 2)
    '−3.14'
    >>> number(-0.01)
    '0.0'
    >>> number(2.0, sign=True)
    '+2.0'
    """
    if value is None or not math.isfinite(value):
        return NOTHING
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    if value < 0:
        return MINUS + text
    return "+" + text if sign else text


def in_units(value_mm: float, units: Units = Units.MM) -> float:
    """Turn millimetres into the unit shown, for axes and rulers."""
    return value_mm / MM_PER_INCH if units is Units.IN else value_mm


def length_number(
    value_mm: float | None, units: Units = Units.MM, decimals: int = 1, *, sign: bool = False
) -> str:
    """Write a length without its unit, for table columns; ``decimals`` are those of the millimetres.

    An inch is 25 times as long, so inches get one decimal more.

    >>> length_number(47.04)
    '47.0'
    >>> length_number(47.0, Units.IN)
    '1.85'
    """
    if value_mm is None:
        return NOTHING
    return number(in_units(value_mm, units), decimals + (units is Units.IN), sign=sign)


def length(value_mm: float | None, units: Units = Units.MM, decimals: int = 1, *, sign: bool = False) -> str:
    """Write a length with its unit.

    >>> length(-47.0)
    '−47.0 mm'
    >>> length(None)
    '–'
    """
    text = length_number(value_mm, units, decimals, sign=sign)
    return text if text == NOTHING else f"{text} {units}"


def sentence(text: str, units: Units = Units.MM) -> str:
    """Write the lengths of a finished sentence in the unit shown, with as many digits as they had.

    >>> sentence("rider sag 45 → 70.5 mm, spring of 10.5 N/mm, keep 10 to 15 mm", Units.IN)
    'rider sag 1.8 → 2.78 in, spring of 10.5 N/mm, keep 0.4 to 0.6 in'
    """
    if units is Units.MM:
        return text
    return _LENGTHS.sub(lambda found: f"{re.sub(_NUMBER, _to_inches, found[1])} in", text)


def _to_inches(found: re.Match[str]) -> str:
    """Turn one number of mm into inches, with one decimal more."""
    text = found[0]
    decimals = len(text.partition(".")[2])
    value = float(text.replace(MINUS, "-"))
    return length_number(value, Units.IN, decimals, sign=text.startswith("+"))


def decimals_for(uncertainty_mm: float) -> int:
    """Say how many decimals of a millimetre are worth printing: one while the doubt is under 5 mm."""
    return 1 if uncertainty_mm < 5.0 else 0


def quantity(q: Quantity | None, units: Units = Units.MM) -> str:
    """Write a measured length with its doubt, without the unit.

    >>> quantity(Quantity(value=47.02, expanded_uncertainty=2.13, coverage_factor=2.0))
    '47.0 ± 2.1'
    >>> quantity(Quantity(value=47.02, expanded_uncertainty=7.8, coverage_factor=2.0))
    '47 ± 8'
    """
    if q is None or not math.isfinite(q.value):
        return NOTHING
    if not math.isfinite(q.expanded_uncertainty):
        return length_number(q.value, units, 0) + " ± ?"
    decimals = decimals_for(q.expanded_uncertainty)
    value, doubt = (length_number(v, units, decimals) for v in (q.value, q.expanded_uncertainty))
    return f"{value} ± {doubt}"


def interval(low_high_mm: tuple[float, float] | None, units: Units = Units.MM, decimals: int = 1) -> str:
    """Write an interval of lengths, without the unit.

    >>> interval((-3.2, 1.0))
    '−3.2 … +1.0'
    """
    if low_high_mm is None:
        return NOTHING
    low, high = (length_number(value, units, decimals, sign=True) for value in low_high_mm)
    return f"{low} … {high}"


def percent(value: float | None, decimals: int = 0) -> str:
    """Write a percentage.

    >>> percent(29.6)
    '30 %'
    """
    text = number(value, decimals)
    return text if text == NOTHING else f"{text} %"


def speed(value_mm_s: float | None, units: Units = Units.MM, *, sign: bool = False) -> str:
    """Write a speed with its unit: whole mm/s, or in/s with one decimal.

    >>> speed(1234.4)
    '1234 mm/s'
    >>> speed(1234.4, Units.IN)
    '48.6 in/s'
    """
    text = length_number(value_mm_s, units, 0, sign=sign)
    return text if text == NOTHING else f"{text} {units}/s"


def mass(value_kg: float | None, units: Units = Units.MM, decimals: int = 0) -> str:
    """Write a mass, pounds where lengths are inches.

    >>> mass(58.0), mass(58.0, Units.IN)
    ('58 kg', '128 lb')
    """
    if value_kg is None:
        return NOTHING
    if units is Units.IN:
        return f"{number(value_kg / KG_PER_POUND, decimals)} lb"
    return f"{number(value_kg, decimals)} kg"


def spring_rate(value_n_mm: float | None, units: Units = Units.MM) -> str:
    """Write a spring rate, pounds-force per inch where lengths are inches.

    >>> spring_rate(90.0), spring_rate(90.0, Units.IN)
    ('90.0 N/mm', '514 lb/in')
    """
    if value_n_mm is None:
        return NOTHING
    if units is Units.IN:
        return f"{number(value_n_mm / N_MM_PER_LB_IN, 0)} lb/in"
    return f"{number(value_n_mm, 1)} N/mm"


def duration(seconds: float) -> str:
    """Write a duration as minutes and seconds.

    >>> duration(67.4), duration(3725)
    ('1:07', '1:02:05')
    """
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{secs:02d}" if hours else f"{minutes}:{secs:02d}"


def angle(value_deg: float | None, *, sign: bool = False) -> str:
    """Write an angle to a tenth of a degree.

    >>> angle(26.04), angle(-0.6, sign=True)
    ('26.0°', '−0.6°')
    """
    text = number(value_deg, 1, sign=sign)
    return text if text == NOTHING else f"{text}°"


def drop_height(value_mm: float | None, units: Units = Units.MM) -> str:
    """Write a height somebody can show with a hand: centimetres or inches, to two digits.

    >>> drop_height(118.0), drop_height(8.0), drop_height(118.0, Units.IN)
    ('12 cm', '0.8 cm', '4.6 in')
    """
    if value_mm is None:
        return NOTHING
    value, unit = (in_units(value_mm, units), "in") if units is Units.IN else (value_mm / 10.0, "cm")
    return f"{number(value, 0 if value >= 9.95 else 1)} {unit}"


def road_speed(value_m_s: float | None, units: Units = Units.MM) -> str:
    """Write how fast the bike went: km/h, or miles an hour where lengths are inches.

    >>> road_speed(12.5), road_speed(12.5, Units.IN)
    ('45 km/h', '28 mph')
    """
    if value_m_s is None:
        return NOTHING
    if units is Units.IN:
        return f"{number(value_m_s * 3600 / METRES_PER_MILE, 0)} mph"
    return f"{number(value_m_s * 3.6, 0)} km/h"
