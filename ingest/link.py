"""What both dialects of the link share: their names, a board's description, breaks, and the counting."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import NamedTuple

from ingest.log import LinkStatistics

CLOCK_WRAP_US = 1 << 32
MAX_CHANNELS = 8
# Frames or lines never come later than this; what is further back is a board that began anew.
LATE_LIMIT_US = 1_000_000


class Dialect(StrEnum):
    """How a board speaks; both are specified in firmware_notes/link.md."""

    FRAMED = "framed"
    LINES = "lines"


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A reconnect or a reset which the recorder saw: bytes from ``offset`` on came after it.

    ``host_gap_s`` is how long nothing came by the computer's own clock, ``None`` where that is not known.
    """

    offset: int
    reason: str
    host_gap_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """What a board says about itself when asked.

    ``skew_us[c]`` is how long after the time of the row channel ``c`` is sampled.
    """

    name: str
    channels: int
    period_us: int
    bits: int
    skew_us: tuple[int, ...]
    samples_per_frame: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """Something that came whole, of a version or a type this program does not know."""

    version: int
    type: int


class Lost(NamedTuple):
    """Why one stretch of samples ended and the next began, and how many rows are missing between."""

    reason: str
    rows: int
    exact: bool


class Placed(NamedTuple):
    """An accepted frame or line: its time after the first one, and what was lost just before it."""

    time_us: int
    lost: Lost | None


@dataclass(slots=True)
class Counters:
    """The link's statistics while they are being counted."""

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

    def accept(self, frames: int = 1, overruns: int = 0) -> None:
        """Count accepted frames or lines, and those of them whose board missed a tick."""
        self.frames += frames
        self.overruns += overruns

    def lose(self, lost: Lost) -> None:
        """Count one gap."""
        self.lost_samples += lost.rows
        self.lost_exact = self.lost_exact and lost.exact

    def note_break(self, broke: Break) -> None:
        """Count what the recorder saw; a reset is counted when the board itself shows it."""
        if "reset" not in broke.reason.lower():
            self.reconnects += 1

    def statistics(self, dialect: Dialect) -> LinkStatistics:
        """Give the counts as they stand."""
        return LinkStatistics(dialect=str(dialect), **asdict(self))
