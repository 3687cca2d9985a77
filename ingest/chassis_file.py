"""Seat, stands, lean, chain, headlight and linkage in the bike file (TOML): reading and writing.

The limits only catch slips of the pen: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields

from ingest.chassis import Chain, Headlight, Lean, LinkagePoints, Plates, Stands, TouchPoint
from ingest.records import Bike
from ingest.toml_reader import TEXT, Limits, Pair, Table

STATES = ("topped out", "unladen", "rider aboard")
STAND_MM: Limits = (50.0, 800.0)
HEIGHT_MM: Limits = (20.0, 1500.0)
AHEAD_MM: Limits = (-800.0, 2500.0)
OUT_MM: Limits = (0.0, 800.0)
CROWN_MM: Limits = (20.0, 200.0)
POINT_MM: Limits = (-1200.0, 1200.0)

STANDS: Mapping[str, Limits] = {
    "side_stand_length_mm": STAND_MM,
    "side_stand_pivot_height_mm": HEIGHT_MM,
    "side_stand_pivot_offset_mm": OUT_MM,
    "side_stand_pivot_ahead_of_rear_axle_mm": AHEAD_MM,
    "side_stand_lean_deg": (1.0, 30.0),
    "centre_stand_length_mm": STAND_MM,
    "centre_stand_pivot_height_mm": HEIGHT_MM,
    "centre_stand_pivot_ahead_of_rear_axle_mm": AHEAD_MM,
}
CROWNS = ("front_crown_radius_mm", "rear_crown_radius_mm")
TOUCH: Mapping[str, Limits] = {
    "out_mm": OUT_MM,
    "height_mm": HEIGHT_MM,
    "ahead_of_rear_axle_mm": AHEAD_MM,
}
CHAIN: Mapping[str, Limits] = {
    "pitch_mm": (6.0, 30.0),
    "sprocket_height_mm": HEIGHT_MM,
    "sprocket_ahead_of_rear_axle_mm": AHEAD_MM,
    "pivot_height_mm": HEIGHT_MM,
    "pivot_ahead_of_rear_axle_mm": AHEAD_MM,
}
TEETH = {"front_teeth": (8, 40), "rear_teeth": (20, 100)}
HEADLIGHT: Mapping[str, Limits] = {
    "height_mm": HEIGHT_MM,
    "ahead_of_rear_axle_mm": AHEAD_MM,
    "wall_distance_mm": (1000.0, 30_000.0),
}
PLATES: Mapping[str, Limits] = {"drop_mm": (-100.0, 150.0), "longer_mm": (-40.0, 40.0)}
ROCKER_ON = ("frame", "swingarm")
POINTS = tuple(field.name for field in fields(LinkagePoints) if field.name != "rocker_on")


def read_stands(file: Table) -> Stands | None:
    """Read ``[stands]``."""
    table = file.table("stands")
    if table is None:
        return None
    table.allow(tuple(STANDS))
    return Stands(**{key: table.number(key, *limits) for key, limits in STANDS.items()})


def read_lean(file: Table) -> Lean | None:
    """Read ``[lean]``: crown radii, and what may touch, ``touch = [{ name = "peg", out_mm = … }, …]``."""
    table = file.table("lean")
    if table is None:
        return None
    table.allow((*CROWNS, "touch"))
    return Lean(
        touch=tuple(_touch(one) for one in table.tables("touch")),
        **{key: table.number(key, *CROWN_MM) for key in CROWNS},
    )


def read_chain(file: Table) -> Chain | None:
    """Read ``[chain]``; all of its keys are needed."""
    table = file.table("chain")
    if table is None:
        return None
    table.allow((*TEETH, *CHAIN))
    front, rear = (
        table.needed(key, table.whole(key, *limits), "a number of teeth") for key, limits in TEETH.items()
    )
    return Chain(front_teeth=front, rear_teeth=rear, **_needed(table, CHAIN))


def read_headlight(file: Table) -> Headlight | None:
    """Read ``[headlight]``; all of its keys are needed."""
    table = file.table("headlight")
    if table is None:
        return None
    table.allow(tuple(HEADLIGHT))
    return Headlight(**_needed(table, HEADLIGHT))


def read_plates(end: Table) -> tuple[Plates, ...]:
    """Read the plates at hand, ``plates = [{ name = "…", drop_mm = 25 }, …]``."""
    return tuple(_plates(one) for one in end.tables("plates"))


def read_linkage(end: Table) -> LinkagePoints | None:
    """Read ``[rear.linkage]``: the pivots, each ``[ahead, up]`` of the swingarm pivot, topped out."""
    table = end.table("linkage")
    if table is None:
        return None
    table.allow(("rocker_on", *POINTS))
    return LinkagePoints(
        rocker_on=table.choice("rocker_on", ROCKER_ON) or ROCKER_ON[0],
        **{key: table.needed(key, _point(table, key), "[ahead, up] in mm") for key in POINTS},
    )


def plates_values(plates: Sequence[Plates]) -> list[dict[str, object]] | None:
    """Give the plates as they are written to a file."""
    return [{"name": one.name} | {key: getattr(one, key) for key in PLATES} for one in plates] or None


def linkage_values(linkage: LinkagePoints | None) -> dict[str, object] | None:
    """Give the points of a linkage as they are written to a file."""
    if linkage is None:
        return None
    return {"rocker_on": linkage.rocker_on} | {key: [*getattr(linkage, key)] for key in POINTS}


def chassis_values(bike: Bike) -> dict[str, dict[str, object]]:
    """Give the tables of stands, lean, chain and headlight as they are written to a file."""
    tables: dict[str, dict[str, object]] = {}
    if bike.stands is not None:
        tables["stands"] = {key: getattr(bike.stands, key) for key in STANDS}
    if bike.lean is not None:
        tables["lean"] = {key: getattr(bike.lean, key) for key in CROWNS} | {
            "touch": [
                {"name": one.name} | {key: getattr(one, key) for key in TOUCH} for one in bike.lean.touch
            ]
            or None
        }
    if bike.chain is not None:
        tables["chain"] = {key: getattr(bike.chain, key) for key in (*TEETH, *CHAIN)}
    if bike.headlight is not None:
        tables["headlight"] = {key: getattr(bike.headlight, key) for key in HEADLIGHT}
    return tables


def _touch(table: Table) -> TouchPoint:
    table.allow(("name", *TOUCH))
    return TouchPoint(name=table.needed("name", table.text("name"), TEXT), **_needed(table, TOUCH))


def _plates(table: Table) -> Plates:
    table.allow(("name", *PLATES))
    name = table.needed("name", table.text("name"), TEXT)
    figures = {key: table.number(key, *limits) for key, limits in PLATES.items()}
    if not any(value is not None for value in figures.values()):
        table.complain(
            f"{table.label} needs drop_mm (at the axle, from its maker) or longer_mm (hole to hole)"
        )
    return Plates(name=name, **figures)


def _needed(table: Table, keys: Mapping[str, Limits]) -> dict[str, float]:
    return {key: table.needed(key, table.number(key, *limits), "a number") for key, limits in keys.items()}


def _point(table: Table, key: str) -> Pair | None:
    if key not in table:
        return None
    values = table.numbers(key, *POINT_MM) or ()
    if len(values) != 2:
        table.complain(f"{table.key(key)} has {len(values)} numbers: it has to be two, [ahead, up] in mm")
    return values[0], values[1]
