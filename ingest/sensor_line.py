"""The key ``line`` of a sensor in the bike file: three lengths that say how it lies to the stroke."""

from __future__ import annotations

from ingest.records import SensorLine
from ingest.toml_reader import Limits, Table

# Smallest and largest value let pass. They only catch slips of the pen: common practice, no source.
LENGTHS: dict[str, Limits] = {
    "fixed_ends_apart_mm": (1.0, 1000.0),
    "stroke_line_mm": (20.0, 1500.0),
    "sensor_mm": (20.0, 1500.0),
}
GIVE_OR_TAKE_MM: Limits = (0.05, 20.0)
SAME_MM = 1e-9  # what a sum of decimals may be off by


def read_line(sensor: Table) -> SensorLine | None:
    """Read ``line`` of one sensor; lengths that close no triangle are a slip or an impossible measurement."""
    table = sensor.table("line")
    if table is None:
        return None
    table.allow((*LENGTHS, "give_or_take_mm"))
    lengths = {
        key: table.needed(key, table.number(key, *limits), f"in mm, topped out ({', '.join(LENGTHS)})")
        for key, limits in LENGTHS.items()
    }
    longest = max(lengths, key=lambda key: lengths[key])
    beyond = 2 * lengths[longest] - sum(lengths.values())
    if beyond > SAME_MM:
        table.complain(
            f"the three lengths of {table.label} make no triangle: {longest} {lengths[longest]:g} is "
            f"{beyond:.3g} mm longer than the other two together; measure again, or leave line out where "
            "the sensor lies along the stroke"
        )
    return SensorLine(**lengths, give_or_take_mm=table.number("give_or_take_mm", *GIVE_OR_TAKE_MM))


def line_values(line: SensorLine | None) -> dict[str, object] | None:
    """Give the keys of ``line`` as they are written to a file."""
    if line is None:
        return None
    return {key: getattr(line, key) for key in (*LENGTHS, "give_or_take_mm")}
