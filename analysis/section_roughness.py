"""How rough one section of a ride was against the whole of it, in a word."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.results import Quantity
from ingest.records import End

CLEAR_SHARE = 0.1
"""A tenth rougher or smoother is the least anybody would name (judgement)."""


def against_the_whole(section: Mapping[End, Quantity | None], whole: Mapping[End, Quantity | None]) -> str:
    """Say ``rougher``, ``smoother`` or ``alike`` of a section; ``too short`` where it cannot be told.

    Parameters
    ----------
    section, whole : mapping of End to Quantity or None
        `analysis.roughness.roughness` of each end.

    Returns
    -------
    str
        ``rougher`` or ``smoother`` only where every end that can be told agrees, by more than the section's
        own doubt and by more than a tenth.

    Examples
    --------
    >>> fast = Quantity(value=300.0, expanded_uncertainty=20.0, coverage_factor=2.3)
    >>> slow = Quantity(value=200.0, expanded_uncertainty=10.0, coverage_factor=2.3)
    >>> against_the_whole({End.FRONT: fast}, {End.FRONT: slow})
    'rougher'
    """
    signs = set()
    for end, part in section.items():
        all_of_it = whole.get(end)
        if part is None or all_of_it is None:
            continue
        change = part.value - all_of_it.value
        clear = abs(change) > max(part.expanded_uncertainty, CLEAR_SHARE * all_of_it.value)
        signs.add((change > 0) - (change < 0) if clear else 0)
    if not signs:
        return "too short"
    if signs == {1}:
        return "rougher"
    return "smoother" if signs == {-1} else "alike"
