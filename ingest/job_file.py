"""The job file: one rider's order on one bike (TOML). The bike itself stands in a file of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ingest.records import Bike, Job, Rider, Setup
from ingest.slugs import slug
from ingest.toml_reader import TEXT, Table, parse_toml
from ingest.toml_writer import toml_text

RIDER_KG = (20.0, 300.0)
# What a rider's table may hold beside the name, and between which limits (slips of the pen only).
RIDER_NUMBERS = {
    "mass_kg": RIDER_KG,
    "front_axle_load_kg": (10.0, 600.0),
    "rear_axle_load_kg": (10.0, 600.0),
    "front_share_percent": (0.0, 100.0),
    "front_share_doubt_percent": (0.1, 50.0),
    "inseam_mm": (400.0, 1100.0),
}
JOB_NUMBERS = {
    "wanted_lowering_mm": (0.0, 300.0),
    "front_sag_at_boards_mm": (0.0, 600.0),
    "rear_sag_at_boards_mm": (0.0, 600.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """What stands in a job file; ``bike`` is the name of the bike's file."""

    id: str
    bike: str
    rider: Rider
    opened: str | None = None
    wanted_lowering_mm: float | None = None
    front_sag_at_boards_mm: float | None = None
    rear_sag_at_boards_mm: float | None = None
    notes: str | None = None


def parse_job_file(text: str, source: str = "job file") -> JobFile:
    """Read the text of a job file as it stands."""
    file = _file(text, source)
    job = file.needed_table("job")
    job.allow(("id", "opened", "bike", *JOB_NUMBERS, "notes"))
    return JobFile(
        id=job.needed("id", job.text("id"), TEXT),
        bike=job.needed("bike", job.text("bike"), "the name of a file in bikes/"),
        rider=_rider(file),
        opened=job.text("opened"),
        **{key: job.number(key, *limits) for key, limits in JOB_NUMBERS.items()},
        notes=job.text("notes", lines=True),
    )


def parse_job(text: str, bike: Bike, setups: Sequence[Setup] = (), source: str = "job file") -> Job:
    """Read a job from the text of its file; its bike and setups come from files of their own."""
    file = parse_job_file(text, source)
    return Job(
        id=file.id,
        bike=bike,
        rider=file.rider,
        wanted_lowering_mm=file.wanted_lowering_mm,
        front_sag_at_boards_mm=file.front_sag_at_boards_mm,
        rear_sag_at_boards_mm=file.rear_sag_at_boards_mm,
        setups=tuple(setups),
        opened=file.opened,
        notes=file.notes,
    )


def parse_rider(text: str, source: str = "job file") -> Rider:
    """Read only the rider from the text of a job file."""
    return _rider(_file(text, source))


def job_text(job: Job, bike_file: str | None = None) -> str:
    """Write a job as the text of its file; ``bike_file`` is the name of the bike's file in the book."""
    return toml_text(
        {
            "job": {
                "id": job.id,
                "opened": job.opened,
                "bike": bike_file or f"{slug(job.bike.name)}.toml",
                **{key: getattr(job, key) for key in JOB_NUMBERS},
                "notes": job.notes,
            },
            "rider": {"name": job.rider.name, **{key: getattr(job.rider, key) for key in RIDER_NUMBERS}},
        }
    )


def _file(text: str, source: str) -> Table:
    file = parse_toml(text, source)
    file.allow(("job", "rider"))
    return file


def _rider(file: Table) -> Rider:
    rider = file.needed_table("rider")
    rider.allow(("name", *RIDER_NUMBERS))
    return Rider(
        name=rider.needed("name", rider.text("name"), TEXT),
        **{key: rider.number(key, *limits) for key, limits in RIDER_NUMBERS.items()},
    )
