"""Jobs and logs in words: what they are, and how the recording went."""

from __future__ import annotations

from dashboard import units as show
from dashboard.wording import many
from ingest.log import Log
from ingest.records import Job


def job_line(job: Job) -> str:
    """Say in one line what a job is: whose bike, for whom, which setups."""
    rider = job.rider.name
    if job.rider.mass_kg is not None:
        rider += f" ({show.mass(job.rider.mass_kg)} in gear)"
    setups = ", ".join(setup.name for setup in job.setups) or "no setup yet"
    return f"{job.id}: {job.bike.name} for {rider}; setups: {setups}"


def log_line(log: Log) -> str:
    """Say in one line what a log is: what, when, which bike and setup."""
    parts = [f"{log.kind} {log.id}", log.started.replace("T", " ")[:16], log.bike.name]
    if log.setup is not None:
        parts.append(f"setup {log.setup.name}")
    if log.load_case:
        parts.append(log.load_case)
    return ", ".join(part for part in parts if part)


def recorded(log: Log) -> str:
    """Say how much was recorded, and what the link lost of it."""
    marks = f", {many(len(log.marks), 'mark')}" if log.marks else ""
    return f"{show.duration(log.duration_s)} min{marks}, {link_line(log)}"


def link_line(log: Log) -> str:
    """Say in one line what the link lost. The text dialect can only say *at least*."""
    link = log.link
    if link.lost_samples == 0 and link.lost_exact:
        lost = "no sample lost"
    else:
        lost = f"{'' if link.lost_exact else 'at least '}{many(link.lost_samples, 'sample')} lost"
    parts = [lost]
    if link.damaged:
        parts.append(f"{many(link.damaged, 'damaged frame')} dropped")
    if link.reconnects:
        parts.append(many(link.reconnects, "reconnect"))
    if link.board_resets:
        parts.append(many(link.board_resets, "board reset"))
    return ", ".join(parts)


def log_cautions(log: Log) -> tuple[str, ...]:
    """Say what about the recording itself a reader of its numbers should know."""
    ending = ending_line(log)
    return () if ending is None else (ending,)


def ending_line(log: Log) -> str | None:
    """Say how a recording ended where it did not end as it should; ``None`` where it did."""
    if log.ending.status == "complete":
        return None
    return f"this recording was {log.ending.status} ({log.ending.reason}); all that was written down is here"
