"""One finished recording, in memory: uniform segments of raw readings, and everything known about them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from ingest.records import Bike, End, Rider, Setup
from ingest.run_notes import NOTHING_SAID, RunNotes


class Kind(StrEnum):
    """What was recorded."""

    SAG = "sag"
    RIDE = "ride"


class Unit(StrEnum):
    """What the numbers of a channel are."""

    COUNT = "count"
    WHEEL_MM = "mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One column of a log. Its samples are taken ``skew_s`` after the time the row is stamped with.

    ``name`` is ``ch0``, ``ch1``, … for raw counts, ``front_mm`` or ``rear_mm`` for imported wheel travel.
    """

    name: str
    unit: Unit = Unit.COUNT
    skew_s: float = 0.0
    bits: int | None = None


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Segment:
    """A stretch without a gap: row ``i`` was taken at ``start_s + i * dt_s`` seconds after the first sample.

    ``values`` has shape (rows, channels): integers for counts, floats where wheel travel was imported.
    """

    start_s: float
    dt_s: float
    values: npt.NDArray[np.generic]

    @property
    def rows(self) -> int:
        """Count the rows."""
        return int(self.values.shape[0])

    @property
    def end_s(self) -> float:
        """Time at which the row after the last one would have come."""
        return self.start_s + self.rows * self.dt_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What somebody said at a moment of the recording."""

    t_s: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Time for which there are no samples. ``exact`` says whether the loss was counted or only bounded."""

    t_s: float
    duration_s: float
    lost_samples: int
    exact: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkStatistics:
    """What the link did while this was recorded.

    ``clock_ratio`` is how many seconds the board's clock counted in one second of the computer's, known only
    after half a minute without a break.
    """

    dialect: str | None = None
    frames: int = 0
    damaged: int = 0
    repeated: int = 0
    out_of_order: int = 0
    lost_samples: int = 0
    lost_exact: bool = True
    reconnects: int = 0
    board_resets: int = 0
    overruns: int = 0
    bytes: int = 0
    clock_ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How a recording ended: ``complete`` when somebody stopped it, ``cut off`` when it was salvaged."""

    status: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """A correction kept beside the log: what it changes and why. Raw readings never change."""

    made: str
    by: str | None
    what: str
    content: Mapping[str, object]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Log:
    """A finished recording with the bike, rider and setup as they were, amendments already applied.

    ``zeros`` are topped-out readings in counts, one for each end that has one. ``amendments`` names what
    was applied on top of the file. ``texts`` are the exact files in force: ``bike``, ``setup``, ``job``.
    ``header_duration_s`` is set where only the header was read, so that a list of logs can show durations.
    """

    id: str
    kind: Kind
    started: str
    bike: Bike
    channels: tuple[Channel, ...]
    segments: tuple[Segment, ...]
    marks: tuple[Mark, ...] = ()
    gaps: tuple[Gap, ...] = ()
    link: LinkStatistics = field(default_factory=LinkStatistics)
    ending: Ending = Ending(status="complete", reason="stopped")
    setup: Setup | None = None
    rider: Rider | None = None
    job: str | None = None
    load_case: str | None = None
    notes: str | None = None
    run: RunNotes = NOTHING_SAID
    zeros: Mapping[End, float] = field(default_factory=dict)
    amendments: tuple[Amendment, ...] = ()
    texts: Mapping[str, str] = field(default_factory=dict)
    schema: int = 1
    header_duration_s: float | None = None

    @property
    def rows(self) -> int:
        """Count the rows of all segments."""
        return sum(segment.rows for segment in self.segments)

    @property
    def duration_s(self) -> float:
        """Seconds from the first sample to the end of the last one, gaps included."""
        if not self.segments:
            return self.header_duration_s or 0.0
        return self.segments[-1].end_s - self.segments[0].start_s
