"""Changing one thing in a bike file people wrote: their comments and order stay, the former text is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count
from pathlib import Path

import tomlkit
from tomlkit.items import AbstractTable, Array

from ingest.bike_file import parse_bike
from ingest.book import Book
from ingest.book_folder import BOOK_FILE
from ingest.durable import write_whole
from ingest.errors import FileProblem
from ingest.records import End
from ingest.toml_reader import Pair, read_text_file


def with_calibration(
    text: str, end: End, points: Sequence[Pair], curve: str | None = None, source: str = "bike file"
) -> str:
    """Give the text of a bike file with new reference points ``(counts, mm)`` for one sensor.

    A ``zero_count`` is taken out: it belonged to the calibration that is replaced. ``curve`` is written where
    it is more than a straight line. `FileProblem` if the file has no sensor at that end.
    """
    parse_bike(text, source)  # what is wrong with it is said before it is changed
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    sensors = document.get("sensors")
    sensor = sensors.get(str(end)) if isinstance(sensors, AbstractTable) else None
    if sensor is None:
        raise FileProblem(
            f"{source} has no [sensors.{end}] to calibrate: add it with its channel and two points, "
            "calibration = [[0, 0], [1023, 100]]"
        )
    sensor["calibration"] = _rows(points)
    for key in ("zero_count", "curve"):
        if key in sensor:
            del sensor[key]
    if curve is not None and curve != "straight":
        sensor["curve"] = curve
    return _checked(document, source)


def with_leverage(text: str, end: End, table: Sequence[Pair], source: str = "bike file") -> str:
    """Give the text of a bike file with a new leverage table ``(wheel mm, stroke mm)`` for one end."""
    parse_bike(text, source)
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    suspension = document.get(str(end))
    if suspension is None:
        raise FileProblem(
            f"{source} has no [{end}] to give a leverage to: add it with suspension and travel_mm"
        )
    if "ratio" in suspension:
        del suspension["ratio"]
    suspension["leverage"] = _rows(table)
    return _checked(document, source)


def with_measures(text: str, values: Mapping[str, float | str], source: str = "bike file") -> str:
    """Give the text of a bike file with measures, each under its place, ``front.full_bump_room_mm``.

    A table that is not there yet is added at the end. `FileProblem` where a number is out of range, or where
    the file has no such end of the bike.
    """
    parse_bike(text, source)
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    for place, value in values.items():
        name, key = place.split(".")
        if name in tuple(End) and name not in document:
            raise FileProblem(
                f"{source} has no [{name}] to write {key} in: add it with suspension and travel_mm"
            )
        if name not in document:
            document[name] = tomlkit.table()
        table = document[name]
        assert isinstance(table, AbstractTable)
        table[key] = int(value) if isinstance(value, float) and value.is_integer() else value
    return _checked(document, source)


def replace_bike_file(path: Path, text: str) -> Path | None:
    """Write a bike file whole, and keep the former text; give where, ``None`` where nothing changed.

    A bike of a book is changed through its book, which keeps it under ``earlier``; any other former text goes
    beside the file as ``<name>.earlier-N.toml``.
    """
    former = read_text_file(path, "bike file")
    if former == text:
        return None
    book_folder = path.resolve().parent.parent
    if path.resolve().parent.name == "bikes" and (book_folder / BOOK_FILE).is_file():
        Book.open(book_folder).add_bike(text)
        return book_folder / "earlier" / "bikes"
    names = (path.with_name(f"{path.stem}.earlier-{number}.toml") for number in count(1))
    kept = next(name for name in names if not name.exists())
    write_whole(kept, former.encode())
    write_whole(path, text.encode())
    return kept


def _rows(pairs: Sequence[Pair]) -> Array:
    """Write pairs one below the other where a single line would get long."""
    rows = tomlkit.array()
    for pair in pairs:
        rows.append([int(number) if float(number).is_integer() else number for number in pair])
    rows.multiline(len(pairs) > 4)
    return rows


def _checked(document: tomlkit.TOMLDocument, source: str) -> str:
    text = tomlkit.dumps(document)
    parse_bike(text, source)  # what could not be read back is never written
    return text
