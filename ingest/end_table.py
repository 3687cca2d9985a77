"""What a bike file and a setup file both say about one end: the keys, their limits, and how they are written.

The limits only catch slips of the pen: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Protocol

from ingest.records import Leverage
from ingest.toml_reader import Pair, Table

TRAVEL_MM = (10.0, 600.0)
COUNTS = (0.0, 16_777_215.0)  # 24 bits, the finest converter in use
SENSOR_MM = (-100.0, 1000.0)
SPRING_N_MM = (0.5, 1000.0)
STEEPNESS = (0.4, 10.0)  # leverage between two neighbouring rows of a table

NUMBERS: Mapping[str, Pair] = {
    "travel_mm": TRAVEL_MM,
    "spring_rate_n_mm": SPRING_N_MM,
    "spring_free_length_mm": (20.0, 1000.0),
    "spring_solid_length_mm": (10.0, 1000.0),
    "preload_mm": (0.0, 100.0),
    "preload_min_mm": (0.0, 100.0),
    "preload_max_mm": (0.0, 100.0),
    "thread_pitch_mm": (0.2, 10.0),
    "axle_load_kg": (10.0, 600.0),
    "unsprung_mass_kg": (2.0, 100.0),
    "air_area_mm2": (100.0, 10_000.0),
    "air_column_mm": (20.0, 1000.0),
    "oil_level_mm": (0.0, 500.0),
    "raised_in_clamps_mm": (0.0, 100.0),
    "full_bump_room_mm": (0.0, 300.0),
    "clamp_parallel_mm": (0.0, 300.0),
    "shock_length_mm": (100.0, 800.0),
    "shock_stroke_mm": (10.0, 300.0),
    "fork_spacer_mm": (0.0, 200.0),
}
CLICKS = ("compression_clicks", "rebound_clicks")
MOST_CLICKS = 200
END_KEYS = (*NUMBERS, "leverage", "ratio", "target_sag_percent", *CLICKS, "plates_fitted")


class EndKeys(Protocol):
    """What `Suspension` and `EndSetup` have in common."""

    @property
    def leverage(self) -> Leverage | None:
        """The leverage of this end."""

    @property
    def target_sag_percent(self) -> Pair | None:
        """The band of rider sag to aim for."""

    @property
    def plates_fitted(self) -> str | None:
        """The name of the linkage plates in the bike."""


def read_number(table: Table, key: str) -> float | None:
    """Read one of `NUMBERS`."""
    return table.number(key, *NUMBERS[key])


def read_clicks(table: Table, key: str) -> int | None:
    """Read a clicker setting, counted from fully closed or open as the shop does it."""
    return table.whole(key, 0, MOST_CLICKS)


def read_target(table: Table) -> Pair | None:
    """Read the band of rider sag to aim for, % of travel."""
    return table.pair("target_sag_percent", (1.0, 99.0))


def read_leverage(table: Table) -> Leverage | None:
    """Read ``leverage``, a table of wheel mm and shock stroke mm, or ``ratio``; ``None`` without either."""
    if "leverage" in table and "ratio" in table:
        table.complain(f"{table.label} has both leverage and ratio: keep the one that is measured")
    ratio = table.number("ratio", *STEEPNESS)
    if ratio is not None:
        return Leverage(ratio=ratio)
    rows = table.pairs("leverage", (SENSOR_MM, SENSOR_MM), "[wheel mm, shock stroke mm]")
    if rows is None:
        return None
    _check_leverage(table, rows)
    return Leverage(table=rows)


def read_calibration(table: Table) -> tuple[Pair, ...] | None:
    """Read the calibration points of a sensor, ``[counts, mm]``; counts may fall where mm rise."""
    points = table.pairs("calibration", (COUNTS, SENSOR_MM), "[counts, mm]")
    if points is None:
        return None
    if len(points) < 2:
        given = "one was" if points else "none was"
        table.complain(f"a calibration needs two points or more; {given} given at {table.label}")
    for column, name in ((0, "counts"), (1, "mm")):
        if len({point[column] for point in points}) == 1:
            table.complain(
                f"all points of the calibration at {table.label} have the same {name} "
                f"({points[0][column]:g}): take them at two positions or more"
            )
    return points


def read_zero_count(table: Table) -> float | None:
    """Read the counts with the wheel hanging free."""
    return table.number("zero_count", *COUNTS)


def end_values(end: EndKeys) -> dict[str, object]:
    """Give the keys of one end as they are written to a file; what is not known is left out."""
    values: dict[str, object] = {key: getattr(end, key) for key in NUMBERS}
    if end.leverage is not None:
        table = end.leverage.table
        values |= {"ratio": end.leverage.ratio, "leverage": None if table is None else [*map(list, table)]}
    values["target_sag_percent"] = None if end.target_sag_percent is None else [*end.target_sag_percent]
    values |= {key: getattr(end, key) for key in (*CLICKS, "plates_fitted")}
    return values


def _check_leverage(table: Table, rows: tuple[Pair, ...]) -> None:
    what = table.key("leverage")
    if len(rows) < 2:
        table.complain(f"{what} needs two rows or more [wheel mm, shock stroke mm]: {len(rows)} given")
    for number, ((wheel, stroke), (next_wheel, next_stroke)) in enumerate(pairwise(rows), start=2):
        step = f"row {number} of {what}, [{next_wheel:g}, {next_stroke:g}]"
        if next_wheel <= wheel or next_stroke <= stroke:
            table.complain(f"{step}, has to be larger in both columns than the row before it")
        leverage = (next_wheel - wheel) / (next_stroke - stroke)
        if not STEEPNESS[0] <= leverage <= STEEPNESS[1]:
            table.complain(
                f"{step}, makes a leverage of {leverage:.3g} against the row before it "
                f"({STEEPNESS[0]:g} to {STEEPNESS[1]:g} is allowed): look for a slip, or swapped columns"
            )
