"""The bike file: what a workshop writes down about one motorcycle and the sensors on it (TOML)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ingest.chassis_file import (
    STATES,
    chassis_values,
    linkage_values,
    plates_values,
    read_chain,
    read_headlight,
    read_lean,
    read_linkage,
    read_plates,
    read_stands,
)
from ingest.end_table import (
    END_KEYS,
    NUMBERS,
    SPRING_N_MM,
    end_values,
    read_calibration,
    read_clicks,
    read_leverage,
    read_number,
    read_target,
    read_zero_count,
)
from ingest.records import Bike, End, Measures, Sensor, Suspension
from ingest.sensor_line import line_values, read_line
from ingest.toml_reader import TEXT, Pair, Table, parse_toml, read_text_file
from ingest.toml_writer import toml_text

USES = ("road", "touring", "adventure", "enduro", "motocross")
FORK = "telescopic fork"
A_ARM = "A-arm, single shock"
SUSPENSIONS: Mapping[End, tuple[str, ...]] = {
    End.FRONT: (FORK, A_ARM),
    End.REAR: ("linkage", "direct", "twin shock"),
}
# Smallest and largest value let pass. They only catch slips of the pen: common practice, no source.
GEOMETRY: Mapping[str, tuple[float, float]] = {
    "wheelbase_mm": (500.0, 3000.0),
    "rake_deg": (0.0, 60.0),
    "fork_offset_mm": (-200.0, 300.0),
    "front_wheel_radius_mm": (100.0, 600.0),
    "rear_wheel_radius_mm": (100.0, 600.0),
    "mass_kg": (20.0, 1000.0),
    "seat_ahead_of_rear_axle_mm": (0.0, 1500.0),
    "seat_height_mm": (300.0, 1300.0),
    "belly_height_mm": (30.0, 800.0),
    "belly_ahead_of_rear_axle_mm": (0.0, 2000.0),
}
HIGHEST_CHANNEL = 255
CURVES: Mapping[str, int] = {"straight": 2, "quadratic": 3, "cubic": 4}  # and the points each needs
MOST_SPRINGS = 4


def parse_bike(text: str, source: str = "bike file") -> Bike:
    """Read a bike from the text of its file; `FileProblem` names ``source``, the key and what is allowed."""
    file = parse_toml(text, source)
    file.allow(("bike", "front", "rear", "sensors", "stands", "lean", "chain", "headlight"))
    table = file.needed_table("bike")
    table.allow(("name", "id", "use", "measured_state", "seat_height_state", *GEOMETRY))
    ends = {end: _suspension(file, end) for end in End}
    return Bike(
        name=table.needed("name", table.text("name"), TEXT),
        id=table.text("id"),
        use=table.choice("use", USES),
        **{key: table.number(key, *limits) for key, limits in GEOMETRY.items()},
        measured_state=table.choice("measured_state", STATES),
        seat_height_state=table.choice("seat_height_state", STATES),
        stands=read_stands(file),
        lean=read_lean(file),
        chain=read_chain(file),
        headlight=read_headlight(file),
        front=ends[End.FRONT],
        rear=ends[End.REAR],
        sensors=_sensors(file, ends),
    )


def read_bike(path: Path) -> Bike:
    """Read a bike file."""
    return parse_bike(read_text_file(path, "bike file"), str(path))


def bike_text(bike: Bike) -> str:
    """Write a bike as the text of a file that `parse_bike` reads back to the same bike."""
    tables: dict[str, dict[str, object]] = {
        "bike": {"name": bike.name, "id": bike.id, "use": bike.use}
        | {key: getattr(bike, key) for key in GEOMETRY}
        | {"measured_state": bike.measured_state, "seat_height_state": bike.seat_height_state}
    }
    for end in End:
        suspension = bike.suspension(end)
        if suspension is not None:
            tables[end] = {
                "suspension": suspension.kind,
                **end_values(suspension),
                "springs": suspension.springs,
                "springs_available_n_mm": _as_list(suspension.springs_available_n_mm),
                "plates": plates_values(suspension.plates),
                "linkage": linkage_values(suspension.linkage),
            }
    tables |= chassis_values(bike)
    for end in End:
        if end in bike.sensors:
            tables[f"sensors.{end}"] = _sensor_values(bike.sensors[end])
    return toml_text(tables)


def _suspension(file: Table, end: End) -> Suspension | None:
    table = file.table(end)
    if table is None:
        return None
    table.allow(("suspension", "springs", "springs_available_n_mm", "plates", "linkage", *END_KEYS))
    kinds = " or ".join(f'"{kind}"' for kind in SUSPENSIONS[end])
    kind = table.needed("suspension", table.choice("suspension", SUSPENSIONS[end]), kinds)
    if kind == FORK and ("leverage" in table or "ratio" in table):
        table.complain(
            f"{table.label} is a telescopic fork, which has no leverage: travel is measured along its axis"
        )
    return Suspension(
        kind=kind,
        travel_mm=table.needed("travel_mm", read_number(table, "travel_mm"), "a number of mm"),
        leverage=read_leverage(table),
        springs=table.whole("springs", 1, MOST_SPRINGS),
        springs_available_n_mm=table.numbers("springs_available_n_mm", *SPRING_N_MM),
        target_sag_percent=read_target(table),
        **{key: read_number(table, key) for key in NUMBERS if key != "travel_mm"},
        compression_clicks=read_clicks(table, "compression_clicks"),
        rebound_clicks=read_clicks(table, "rebound_clicks"),
        plates_fitted=table.text("plates_fitted"),
        plates=read_plates(table),
        linkage=read_linkage(table),
    )


def _as_list(values: Sequence[float] | None) -> list[float] | None:
    return None if values is None else list(values)


def _sensors(file: Table, ends: Mapping[End, Suspension | None]) -> dict[End, Sensor]:
    table = file.table("sensors")
    if table is None:
        return {}
    table.allow(tuple(End))
    sensors: dict[End, Sensor] = {}
    for end in End:
        below = table.table(end)
        if below is None:
            continue
        sensors[end] = _sensor(below, end, ends[end])
    channels = [sensor.channel for sensor in sensors.values()]
    if len(set(channels)) < len(channels):
        table.complain(f"both sensors are on channel {channels[0]}: each needs a channel of its own")
    return sensors


def _sensor(table: Table, end: End, suspension: Suspension | None) -> Sensor:
    table.allow(("channel", "measures", "calibration", "curve", "zero_count", "name", "line"))
    if suspension is None:
        table.complain(f"{table.label} is there, but [{end}] is not: add it with suspension and travel_mm")
    measures = Measures(table.choice("measures", tuple(Measures)) or Measures.WHEEL_TRAVEL)
    if measures is Measures.SHOCK_STROKE and suspension.leverage is None:
        table.complain(
            f'{table.label} measures "shock stroke", so [{end}] needs leverage = '
            "[[wheel mm, shock stroke mm], …] or ratio"
            if suspension.kind != FORK
            else f'{table.label} measures "shock stroke", but the front is a telescopic fork: '
            'write measures = "wheel travel"'
        )
    points = table.needed("calibration", read_calibration(table), "[[counts, mm], [counts, mm]]")
    return Sensor(
        end=end,
        channel=table.needed(
            "channel", table.whole("channel", 0, HIGHEST_CHANNEL), "the number of its column"
        ),
        measures=measures,
        calibration=points,
        curve=_curve(table, points),
        zero_count=read_zero_count(table),
        name=table.text("name"),
        line=read_line(table),
    )


def _curve(table: Table, points: Sequence[Pair]) -> str | None:
    curve = table.choice("curve", tuple(CURVES))
    different = len({counts for counts, _ in points})
    if curve is not None and different < CURVES[curve]:
        table.complain(
            f'{table.key("curve")} is "{curve}", which needs {CURVES[curve]} calibration points at different '
            f"counts or more: {different} given"
        )
    return curve


def _sensor_values(sensor: Sensor) -> dict[str, object]:
    return {
        "channel": sensor.channel,
        "measures": str(sensor.measures),
        "calibration": [list(point) for point in sensor.calibration],
        "curve": sensor.curve,
        "zero_count": sensor.zero_count,
        "name": sensor.name,
        "line": line_values(sensor.line),
    }
