"""What a lowering plan wants measured: each with how to take it, its limits, and where it is written down."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from dashboard import units as show
from dashboard.units import Units
from ingest.bike_file import GEOMETRY
from ingest.chassis_file import STANDS, STATES
from ingest.end_table import NUMBERS
from ingest.errors import UsageError
from ingest.job_file import JOB_NUMBERS
from ingest.records import Bike, End, Job
from ingest.toml_reader import Limits

JOB = "job"
MM_PER_INCH = 25.4
LONGEST = 20
_NUMBER = re.compile(r"[+-]?\d{1,6}(?:[.,]\d{1,6})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One thing to measure. ``place`` is its table and key in the bike file, or in the job file.

    ``unit`` is ``mm``, ``°``, nothing (a count), or ``state`` (one of three words).
    """

    place: str
    label: str
    how: str
    unit: str = "mm"

    @property
    def key(self) -> str:
        """The key alone."""
        return self.place.partition(".")[2]

    @property
    def limits(self) -> Limits:
        """What is allowed, as the file's reader has it."""
        table = self.place.partition(".")[0]
        if table == JOB:
            return JOB_NUMBERS[self.key]
        if table == "stands":
            return STANDS[self.key]
        return GEOMETRY[self.key] if table == "bike" else NUMBERS[self.key]

    def known(self, job: Job, bike: Bike) -> float | str | None:
        """Give what the files say."""
        table = self.place.partition(".")[0]
        record: object = job if table == JOB else bike
        if table in tuple(End):
            record = bike.suspension(End(table))
        elif table == "stands":
            record = bike.stands
        return None if record is None else getattr(record, self.key)


MEASURES = (
    Measure(
        place="job.boards",
        label="Boards under the feet, how many",
        how="Rider aboard in gear, boards of one thickness under both feet until it feels right.",
        unit="",
    ),
    Measure(
        place="job.board_mm",
        label="Thickness of one board",
        how="The true one, by caliper: half an inch on the label is often less.",
    ),
    Measure(
        place="job.wanted_lowering_mm",
        label="Or: lowering wanted, in all",
        how="Height of the whole stack; in place of count and thickness.",
    ),
    Measure(
        place="front.full_bump_room_mm",
        label="Room at full bump, front",
        how="Strapped down or springs out, at full bump, turned lock to lock: what is left along the fork"
        " before anything touches (tyre, mudguard, lower clamp, hoses).",
    ),
    Measure(
        place="rear.full_bump_room_mm",
        label="Room at full bump, rear",
        how="Strapped down or spring out: what is left straight up at full bump between the tyre and all"
        " above it.",
    ),
    Measure(
        place="bike.seat_ahead_of_rear_axle_mm",
        label="Rider ahead of the rear axle",
        how="Plumb line from where the rider sits: along the floor to below the rear axle.",
    ),
    Measure(
        place="bike.seat_height_mm",
        label="Height of the seat",
        how="Floor to where the rider sits, bike upright.",
    ),
    Measure(
        place="bike.seat_height_state",
        label="The seat was measured",
        how="How the bike stood then.",
        unit="state",
    ),
    Measure(
        place="bike.measured_state",
        label="Rake, wheelbase and belly were measured",
        how="How the bike stood then.",
        unit="state",
    ),
    Measure(
        place="bike.belly_height_mm",
        label="Height of the belly",
        how="Floor to the lowest part under the bike, in the state of the rake and wheelbase.",
    ),
    Measure(
        place="bike.belly_ahead_of_rear_axle_mm",
        label="Belly ahead of the rear axle",
        how="Along the floor, from below the rear axle to below that lowest part.",
    ),
    Measure(
        place="stands.side_stand_length_mm",
        label="Side stand, length",
        how="Middle of its pivot to the ground side of its foot.",
    ),
    Measure(
        place="stands.side_stand_pivot_height_mm",
        label="Side stand, height of the pivot",
        how="Floor to the middle of the pivot, bike upright.",
    ),
    Measure(
        place="stands.side_stand_pivot_offset_mm",
        label="Side stand, pivot out from the middle",
        how="From the middle plane of the bike, sideways.",
    ),
    Measure(
        place="stands.side_stand_pivot_ahead_of_rear_axle_mm",
        label="Side stand, pivot ahead of the rear axle",
        how="Along the floor.",
    ),
    Measure(
        place="stands.side_stand_lean_deg",
        label="Side stand, lean of the parked bike",
        how="An angle gauge on the brake disc or the rear wheel, bike on its stand.",
        unit="°",
    ),
    *(
        Measure(place=f"bike.{key}", label=label, how=how, unit="°" if key == "rake_deg" else "mm")
        for key, label, how in (
            ("rake_deg", "Rake", "Steering axis from the vertical, by angle gauge on the steering head."),
            ("wheelbase_mm", "Wheelbase", "Axle to axle along the floor, steering straight."),
            (
                "fork_offset_mm",
                "Fork offset",
                "Middle of the steering stem to the line of the front axle, square to the stem.",
            ),
            (
                "front_wheel_radius_mm",
                "Front axle above the floor",
                "Middle of the axle to the floor, the bike on its wheels.",
            ),
            (
                "rear_wheel_radius_mm",
                "Rear axle above the floor",
                "Middle of the axle to the floor, the bike on its wheels.",
            ),
        )
    ),
)


def shown_value(measure: Measure, value: float | str | None, units: Units) -> str:
    """Write a known value as the form shows it; nothing where it is not known."""
    if value is None or isinstance(value, str):
        return value or ""
    if measure.unit == "mm" and units is Units.IN:
        return f"{value / MM_PER_INCH:.3f}".rstrip("0").rstrip(".")
    return f"{value:g}"


def unit_of(measure: Measure, units: Units) -> str:
    """Name the unit a measure is typed in."""
    return str(units) if measure.unit == "mm" else "" if measure.unit == "state" else measure.unit


def typed_changes(typed: Mapping[str, object], job: Job, bike: Bike, units: Units) -> dict[str, float | str]:
    """Read a form: by place what differs from what it showed, in mm and degrees.

    Raises
    ------
    UsageError
        Something typed is no number, out of its range, or a known value was emptied. Nothing may be written
        then.
    """
    changes: dict[str, float | str] = {}
    for measure in MEASURES:
        if measure.place not in typed:
            continue
        text = _text(typed[measure.place])
        known = shown_value(measure, measure.known(job, bike), units)
        if text == known:
            continue
        if not text:
            raise UsageError(
                f"{measure.label}: it was {known}; type another value, a known one is not erased"
            )
        changes[measure.place] = _read(measure, text, units)
    return changes


def _text(value: object) -> str:
    """Take what a browser sent as text; anything that is no text or number is nothing anybody typed."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value).strip()


def _read(measure: Measure, text: str, units: Units) -> float | str:
    if measure.unit == "state":
        if text not in STATES:
            raise UsageError(f"{measure.label}: choose one of {', '.join(STATES)}")
        return text
    unit = unit_of(measure, units)
    scale = MM_PER_INCH if measure.unit == "mm" and units is Units.IN else 1.0
    low, high = measure.limits
    allowed = f"{show.number(low / scale, _decimals(scale))} to {show.number(high / scale, _decimals(scale))}"
    allowed = f"{allowed} {unit}".strip()
    shown = text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
    if not _NUMBER.fullmatch(text):
        raise UsageError(f"{measure.label}: {shown!r} is no plain number; {allowed} is allowed")
    value = float(text.replace(",", ".")) * scale
    if not (math.isfinite(value) and low <= value <= high):
        raise UsageError(f"{measure.label}: {shown} {unit} is out of range; {allowed} is allowed")
    return round(value, 3)


def _decimals(scale: float) -> int:
    return 0 if scale == 1.0 else 2


# Keys of the files, as sentences of the plan name them, in the words of the form.
_KEYS = {measure.key: measure.label.lower() for measure in MEASURES}
_KEY = re.compile("|".join(sorted(_KEYS, key=len, reverse=True)))
_IN_FILE = re.compile(r" \((?=[^()]*(?:_mm|\[))[^()]*\)")
_HOW_TO_WRITE = re.compile(r"[;,] (?:and )?write \w+ .*$| and write \w+ .*$|, or give --.*$")

_COMMAND = re.compile(r"(?:^| )[^.`]*`[^.]*\.(?=\s|$)")  # a sentence that tells what to type


def on_a_page(sentence: str, units: Units = Units.MM) -> str:
    """Take out of a sentence what belongs to files and the command line, and put lengths in the unit shown.

    >>> on_a_page("Not told: ground clearance (belly_height_mm), lean ([lean] with touch points).")
    'Not told: ground clearance, lean.'
    >>> on_a_page("what is left at full bump; write full_bump_room_mm in [rear], or give --rear-gap-mm")
    'what is left at full bump'
    >>> on_a_page("The work seems done. `flatfoot prove --job 1` holds the plan against it.")
    'The work seems done.'
    """
    plain = _HOW_TO_WRITE.sub("", _IN_FILE.sub("", sentence))
    plain = _KEY.sub(lambda found: _KEYS[found[0]], plain).replace("`flatfoot check`", "the guided sag check")
    plain = _COMMAND.sub("", plain.replace(" (`flatfoot leverage`)", "")).strip()
    return show.sentence(plain, units)
