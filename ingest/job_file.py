"""The job file: one rider's order on one bike (TOML). The bike itself stands in a file of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ingest.records import Bike, Job, KeptPlan, Rider, Setup, ValueAndDoubt
from ingest.slugs import slug
from ingest.toml_reader import TEXT, Limits, Table, parse_toml
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
    "boards": (1.0, 40.0),
    "board_mm": (1.0, 100.0),
    "front_sag_at_boards_mm": (0.0, 600.0),
    "rear_sag_at_boards_mm": (0.0, 600.0),
}
STACK_SLIP_MM = 0.5
# What [plan] promises: numbers with their ±, and plain ones.
WITH_DOUBT: dict[str, Limits] = {
    "seat_drop_mm": (-300.0, 300.0),
    "front_rider_sag_mm": (0.0, 600.0),
    "rear_rider_sag_mm": (0.0, 600.0),
}
PLAN_NUMBERS: dict[str, Limits] = {
    "hardware_mm": (0.0, 300.0),
    "front_travel_mm": (0.0, 600.0),
    "rear_travel_mm": (0.0, 600.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """What stands in a job file; ``bike`` is the name of the bike's file."""

    id: str
    bike: str
    rider: Rider
    opened: str | None = None
    wanted_lowering_mm: float | None = None
    boards: float | None = None
    board_mm: float | None = None
    front_sag_at_boards_mm: float | None = None
    rear_sag_at_boards_mm: float | None = None
    notes: str | None = None
    kept: KeptPlan | None = None


def parse_job_file(text: str, source: str = "job file") -> JobFile:
    """Read the text of a job file as it stands."""
    file = _file(text, source)
    job = file.needed_table("job")
    job.allow(("id", "opened", "bike", *JOB_NUMBERS, "notes"))
    numbers = {key: job.number(key, *limits) for key, limits in JOB_NUMBERS.items()}
    numbers["wanted_lowering_mm"] = _wanted(job, numbers)
    return JobFile(
        id=job.needed("id", job.text("id"), TEXT),
        bike=job.needed("bike", job.text("bike"), "the name of a file in bikes/"),
        rider=_rider(file),
        opened=job.text("opened"),
        **numbers,
        notes=job.text("notes", lines=True),
        kept=_kept(file),
    )


def parse_job(text: str, bike: Bike, setups: Sequence[Setup] = (), source: str = "job file") -> Job:
    """Read a job from the text of its file; its bike and setups come from files of their own."""
    file = parse_job_file(text, source)
    return Job(
        id=file.id,
        bike=bike,
        rider=file.rider,
        **{key: getattr(file, key) for key in JOB_NUMBERS},
        setups=tuple(setups),
        opened=file.opened,
        notes=file.notes,
        kept=file.kept,
    )


def parse_rider(text: str, source: str = "job file") -> Rider:
    """Read only the rider from the text of a job file."""
    return _rider(_file(text, source))


def job_text(job: Job, bike_file: str | None = None) -> str:
    """Write a job as the text of its file; ``bike_file`` is the name of the bike's file in the book."""
    tables: dict[str, dict[str, object]] = {
        "job": {
            "id": job.id,
            "opened": job.opened,
            "bike": bike_file or f"{slug(job.bike.name)}.toml",
            **{key: getattr(job, key) for key in JOB_NUMBERS},
            "notes": job.notes,
        },
        "rider": {"name": job.rider.name, **{key: getattr(job.rider, key) for key in RIDER_NUMBERS}},
    }
    if job.kept is not None:
        tables["plan"] = kept_values(job.kept)
    return toml_text(tables)


def kept_values(kept: KeptPlan) -> dict[str, object]:
    """Give the kept plan as it is written to a file."""
    return {
        "option": kept.option,
        "kept": kept.kept,
        "setup": kept.setup,
        **{key: getattr(kept, key) for key in PLAN_NUMBERS},
        **{key: None if (pair := getattr(kept, key)) is None else [*pair] for key in WITH_DOUBT},
    }


def _wanted(job: Table, numbers: dict[str, float | None]) -> float | None:
    """Count and thickness of the boards give the wanted lowering; a total beside them has to agree."""
    count, thick, total = numbers["boards"], numbers["board_mm"], numbers["wanted_lowering_mm"]
    if (count is None) != (thick is None):
        job.complain("job.boards and job.board_mm go together: how many, and the true thickness of one in mm")
    if count is None or thick is None:
        return total
    stack = round(count * thick, 3)
    if total is not None and abs(total - stack) > STACK_SLIP_MM:
        job.complain(
            f"job.wanted_lowering_mm is {total:g}, but {count:g} boards of {thick:g} mm make {stack:g}: "
            "leave one of them out"
        )
    most = JOB_NUMBERS["wanted_lowering_mm"][1]
    if stack > most:
        job.complain(f"{count:g} boards of {thick:g} mm make {stack:g} mm: 0 to {most:g} mm is allowed")
    return stack


def _kept(file: Table) -> KeptPlan | None:
    plan = file.table("plan")
    if plan is None:
        return None
    plan.allow(("option", "kept", "setup", *PLAN_NUMBERS, *WITH_DOUBT))
    return KeptPlan(
        option=plan.needed("option", plan.text("option"), "the name of a way of the plan"),
        kept=plan.needed("kept", plan.text("kept"), "the day it was agreed on"),
        setup=plan.text("setup"),
        hardware_mm=plan.number("hardware_mm", *PLAN_NUMBERS["hardware_mm"]),
        seat_drop_mm=_with_doubt(plan, "seat_drop_mm"),
        front_rider_sag_mm=_with_doubt(plan, "front_rider_sag_mm"),
        rear_rider_sag_mm=_with_doubt(plan, "rear_rider_sag_mm"),
        front_travel_mm=plan.number("front_travel_mm", *PLAN_NUMBERS["front_travel_mm"]),
        rear_travel_mm=plan.number("rear_travel_mm", *PLAN_NUMBERS["rear_travel_mm"]),
    )


def _with_doubt(plan: Table, key: str) -> ValueAndDoubt | None:
    numbers = plan.numbers(key, *WITH_DOUBT[key])
    if numbers is None:
        return None
    if len(numbers) != 2 or numbers[1] < 0:
        plan.complain(f"{plan.key(key)} has to be two numbers, [value, ±]")
    return numbers[0], numbers[1]


def _file(text: str, source: str) -> Table:
    file = parse_toml(text, source)
    file.allow(("job", "rider", "plan"))
    return file


def _rider(file: Table) -> Rider:
    rider = file.needed_table("rider")
    rider.allow(("name", *RIDER_NUMBERS))
    return Rider(
        name=rider.needed("name", rider.text("name"), TEXT),
        **{key: rider.number(key, *limits) for key, limits in RIDER_NUMBERS.items()},
    )
