"""What a bike is set to, in words: one row a thing, so that two setups can be laid side by side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dashboard import units as show
from dashboard.units import NOTHING, Units
from dashboard.wording import Table
from ingest.records import Bike, End, Leverage


@dataclass(frozen=True, slots=True)
class _Thing:
    """One adjustable or exchangeable thing of an end: its field, its name, how its value is written."""

    field: str
    name: str
    write: Callable[[Any, Units], str]


def _length(value: float, units: Units) -> str:
    return show.length(value, units, 0 if float(value).is_integer() else 1)


def _leverage(leverage: Leverage, units: Units) -> str:
    if leverage.ratio is not None:
        return f"ratio {leverage.ratio:g}"
    wheel, stroke = (leverage.table or ((0.0, 0.0),))[-1]
    return f"table to {show.length(wheel, units, 0)} at {show.length(stroke, units, 1)} of stroke"


def _clicks(value: int, _: Units) -> str:
    return str(value)


def _share(value: tuple[float, float], _: Units) -> str:
    low, high = value
    return f"{low:g}–{high:g} %"


_THINGS = (
    _Thing("travel_mm", "travel", _length),
    _Thing("spring_rate_n_mm", "spring rate", show.spring_rate),
    _Thing("springs", "springs", _clicks),
    _Thing("preload_mm", "preload", _length),
    _Thing("compression_clicks", "compression clicks", _clicks),
    _Thing("rebound_clicks", "rebound clicks", _clicks),
    _Thing("oil_level_mm", "oil level", _length),
    _Thing("raised_in_clamps_mm", "tubes raised in the clamps", _length),
    _Thing("leverage", "leverage", _leverage),
    _Thing("target_sag_percent", "target sag", _share),
)


def side_by_side(bikes: list[tuple[str, Bike]], units: Units = Units.MM, *, only_changes: bool) -> Table:
    """Lay one bike in several states side by side, each under its name.

    ``only_changes`` keeps the rows in which the states differ.
    """
    rows = []
    for end in End:
        for thing in _THINGS:
            values = [getattr(bike.suspension(end), thing.field, None) for _, bike in bikes]
            differ = any(value != values[0] for value in values)
            if differ if only_changes else any(value is not None for value in values):
                rows.append((f"{end}: {thing.name}", *_texts(thing, values, units)))
    return Table(head=("", *(name for name, _ in bikes)), rows=tuple(rows))


def end_by_end(bike: Bike, units: Units = Units.MM) -> Table:
    """Lay both ends of one bike side by side, one row a thing that is known of either."""
    rows = []
    for thing in _THINGS:
        values = [getattr(bike.suspension(end), thing.field, None) for end in End]
        if any(value is not None for value in values):
            texts = (NOTHING if value is None else thing.write(value, units) for value in values)
            rows.append((thing.name, *texts))
    return Table(head=("", *End), rows=tuple(rows))


def _texts(thing: _Thing, values: list[Any], units: Units) -> list[str]:
    """Write the values; one that reads as the first but is another says so."""
    texts = [NOTHING if value is None else thing.write(value, units) for value in values]
    return [
        f"{text}, other points between" if text == texts[0] and value != values[0] else text
        for text, value in zip(texts, values, strict=True)
    ]
