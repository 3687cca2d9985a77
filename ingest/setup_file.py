"""The setup file: what the work changed on a bike, as far as it differs from the bike file (TOML)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ingest.chassis_file import STAND_MM
from ingest.end_table import (
    END_KEYS,
    NUMBERS,
    end_values,
    read_calibration,
    read_clicks,
    read_leverage,
    read_number,
    read_target,
    read_zero_count,
)
from ingest.records import End, EndSetup, Setup
from ingest.toml_reader import TEXT, Pair, Table, parse_toml, read_text_file
from ingest.toml_writer import toml_text

# Smallest and largest value let pass. They only catch slips of the pen: common practice, no source.
SETUP_NUMBERS: Mapping[str, Pair] = {
    "seat_lowering_mm": (0.0, 150.0),
    "side_stand_length_mm": STAND_MM,
    "centre_stand_length_mm": STAND_MM,
}


def parse_setup(text: str, source: str = "setup file") -> Setup:
    """Read a setup from the text of its file; `FileProblem` names ``source``, the key and what is allowed."""
    file = parse_toml(text, source)
    file.allow(("setup", "front", "rear", "sensors"))
    table = file.needed_table("setup")
    table.allow(("name", "notes", *SETUP_NUMBERS))
    sensors = file.table("sensors")
    if sensors is not None:
        sensors.allow(tuple(End))
    return Setup(
        name=table.needed("name", table.text("name"), TEXT),
        notes=table.text("notes", lines=True),
        **{key: table.number(key, *limits) for key, limits in SETUP_NUMBERS.items()},
        front=_end(file, sensors, End.FRONT),
        rear=_end(file, sensors, End.REAR),
    )


def read_setup(path: Path) -> Setup:
    """Read a setup file."""
    return parse_setup(read_text_file(path, "setup file"), str(path))


def setup_text(setup: Setup) -> str:
    """Write a setup as the text of a file that `parse_setup` reads back to the same setup."""
    tables: dict[str, dict[str, object]] = {
        "setup": {"name": setup.name, "notes": setup.notes}
        | {key: getattr(setup, key) for key in SETUP_NUMBERS}
    }
    for end in End:
        tables[end] = end_values(setup.end(end))
    for end in End:
        tables[f"sensors.{end}"] = _sensor_values(setup.end(end))
    said = {name: values for name, values in tables.items() if any(v is not None for v in values.values())}
    return toml_text(said)


def _end(file: Table, sensors: Table | None, end: End) -> EndSetup:
    table = file.table(end) or Table({}, "", end)
    table.allow(END_KEYS)
    sensor = (sensors.table(end) if sensors is not None else None) or Table({}, "", f"sensors.{end}")
    sensor.allow(("calibration", "zero_count"))
    return EndSetup(
        leverage=read_leverage(table),
        target_sag_percent=read_target(table),
        sensor_calibration=read_calibration(sensor),
        sensor_zero_count=read_zero_count(sensor),
        **{key: read_number(table, key) for key in NUMBERS},
        compression_clicks=read_clicks(table, "compression_clicks"),
        rebound_clicks=read_clicks(table, "rebound_clicks"),
        plates_fitted=table.text("plates_fitted"),
    )


def _sensor_values(end: EndSetup) -> dict[str, object]:
    points = end.sensor_calibration
    return {
        "calibration": None if points is None else [list(point) for point in points],
        "zero_count": end.sensor_zero_count,
    }
