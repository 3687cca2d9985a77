"""Many rides as one table for other programs: a row a log and end, CSV after RFC 4180.

Lengths are in mm and speeds in mm/s whatever is shown on screens: a file has one meaning. Texts that a
spreadsheet would take for a formula get an apostrophe before them.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import fields
from typing import TextIO

from analysis.ride_results import EndRide, RideSummary, Speeds
from dashboard.ride_events import ends_of
from ingest.log import Log

Cell = str | int | float | None

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What spreadsheets take for the beginning of a formula, and what may hide one."""


class RideTable:
    """Writes rows as they come and flushes each, so that what is done is kept whatever happens next."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._writer = csv.writer(out)
        self._begun = False

    def add(self, name: str, log: Log, ride: RideSummary) -> None:
        """Write the rows of one log: one for each end that was measured."""
        for row in _rows(name, log, ride):
            if not self._begun:
                self._writer.writerow(row)
                self._begun = True
            self._writer.writerow([safe(cell) for cell in row.values()])
        self._out.flush()


def safe(cell: Cell) -> Cell:
    """Make a text harmless in a spreadsheet; numbers stay numbers.

    >>> safe("=1+1"), safe(-3.5), safe("stock")
    ("'=1+1", -3.5, 'stock')
    """
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell


def _rows(name: str, log: Log, ride: RideSummary) -> Iterator[dict[str, Cell]]:
    speed = ride.speed.speed_m_s if ride.speed else None
    for end, result in ends_of(ride):
        yield {
            "log": name,
            "end": str(end),
            "started": log.started,
            "bike": log.bike.name,
            "setup": log.setup.name if log.setup else None,
            "load_case": log.load_case,
            **_end(result),
            "ride_speed_m_s": None if speed is None else round(speed.value, 2),
            "level_word": ride.attitude.level_word if ride.attitude else None,
            "cautions": "; ".join((*ride.cautions, *result.cautions)) or None,
        }


def _end(end: EndRide) -> dict[str, Cell]:
    height = end.height
    low, high = height.interval_mm if height and height.interval_mm else (None, None)
    against = height.against_sag_mm.value if height and height.against_sag_mm else None
    return {
        "duration_s": _rounded(end.duration_s),
        "samples": end.samples,
        "lost_samples": end.lost_samples,
        "masked_samples": end.masked_samples,
        "travel_mm": _rounded(end.travel_mm),
        "found_travel_mm": _rounded(end.found_travel_mm),
        "travel_used_mm": _rounded(end.travel_used_mm),
        "travel_used_percent": _rounded(end.travel_used_percent),
        "mean_mm": _rounded(end.mean_mm),
        "mean_from_mm": _rounded(low),
        "mean_to_mm": _rounded(high),
        "against_sag_mm": _rounded(against),
        "p50_mm": _rounded(end.p50_mm),
        "p95_mm": _rounded(end.p95_mm),
        "p99_mm": _rounded(end.p99_mm),
        "left_mm": _rounded(height.left_mm if height else None),
        "left_at_deepest_mm": _rounded(height.left_at_deepest_mm if height else None),
        "rough_word": height.rough_word if height else None,
        "bottoming_count": end.bottoming.count,
        "bottoming_per_10_min": _rounded(end.bottoming.per_10_min),
        "hard_stops": sum(event.grade == "hard stop" for event in end.bottoming.events),
        "topping_count": end.topping.count,
        "topping_per_10_min": _rounded(end.topping.per_10_min),
        **_speeds("compression", end.compression_speed_mm_s),
        **_speeds("rebound", end.rebound_speed_mm_s),
        "bandwidth_hz": _rounded(end.bandwidth_hz),
        "off_ground_count": len(end.off_ground),
        "off_ground_s": _rounded(sum(span.duration_s for span in end.off_ground)),
        "faulty_samples": sum(fault.samples for fault in end.faults),
    }


def _speeds(way: str, speeds: Speeds | None) -> dict[str, Cell]:
    names = [one.name for one in fields(Speeds)]
    return {
        f"{way}_{name}_mm_s": None if speeds is None else _rounded(getattr(speeds, name)) for name in names
    }


def _rounded(value: float | None) -> float | None:
    """Keep a hundredth: more is noise, and no reader wants sixteen digits."""
    return None if value is None else round(value, 2)
