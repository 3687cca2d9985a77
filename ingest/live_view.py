"""What a person watching a recording gets to see: counted and thinned as the bytes come in."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from ingest.decode import Description, Dialect, LiveBlock, LiveDecoder, guess_dialect
from ingest.link import Break

Row = tuple[float, tuple[int, ...]]
Status = Literal["waiting", "recording", "reconnecting", "ended"]

RECENT_S = 3.0
RECENT_STEP_S = 0.01
# Enough to make out the dialect from; the recording itself keeps every byte.
LISTEN_BYTES = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Live:
    """A recording at one moment.

    ``counts`` is the newest reading of each channel; ``recent`` holds the last 3 s as rows
    ``(t_s, counts)`` about 10 ms apart. ``message`` says what is going on when it is not plain recording.
    """

    status: Status
    duration_s: float
    samples: int
    lost_samples: int
    damaged: int
    rate_hz: float | None
    counts: tuple[int, ...] | None
    recent: tuple[Row, ...]
    message: str | None


class LiveView:
    """Decodes the stream for display; safe to ask from any thread.

    ``dialect`` is ``None`` until it has been made out from the first bytes and samples were read in it.
    """

    def __init__(self, dialect: Dialect | None) -> None:
        self._lock = threading.Lock()
        self._given = dialect
        self._decoder: LiveDecoder | None = None
        self._heard = b""
        self._recent: deque[Row] = deque()
        self._newest: Row | None = None
        self._slot = -1.0
        self._samples = 0
        self.dialect: Dialect | None = None
        self.description: Description | None = None

    def feed(self, data: bytes) -> None:
        """Take bytes as they came. Raises `LinkError` for a board this program is too old for."""
        with self._lock:
            if self._decoder is None:
                self._listen(data)
            else:
                self._show(self._decoder.feed(data))
                self.description = self._decoder.description or self.description

    def note_break(self, broke: Break) -> None:
        """Take note that what comes now does not follow on from what came before."""
        with self._lock:
            if self._decoder is not None:
                self._decoder.note_break(broke)

    def _listen(self, data: bytes) -> None:
        """Try to make sense of all that was heard so far: noise at the start must not decide for good."""
        self._heard = (self._heard + data)[-LISTEN_BYTES:]
        dialect = self._given or guess_dialect(self._heard)
        if dialect is None:
            return
        decoder = LiveDecoder(dialect)
        block = decoder.feed(self._heard)
        self.description = decoder.description
        if block is not None:
            self._show(block)
            self._decoder, self.dialect, self._heard = decoder, dialect, b""

    def _show(self, block: LiveBlock | None) -> None:
        if block is None or not len(block.t_s):
            return
        self._samples += len(block.t_s)
        slots = np.floor(block.t_s / RECENT_STEP_S + 1e-6)
        shown = np.flatnonzero(np.diff(slots, prepend=self._slot))
        self._slot = float(slots[-1])
        self._recent.extend(_row(block, index) for index in shown.tolist())
        self._newest = _row(block, -1)
        while self._recent and self._recent[0][0] < self._newest[0] - RECENT_S:
            self._recent.popleft()

    def snapshot(self, status: Status, message: str | None) -> Live:
        """Give the state now."""
        with self._lock:
            link = self._decoder.link if self._decoder else None
            return Live(
                status=status,
                duration_s=self._newest[0] if self._newest else 0.0,
                samples=self._samples,
                lost_samples=link.lost_samples if link else 0,
                damaged=link.damaged if link else 0,
                rate_hz=self._decoder.rate_hz if self._decoder else None,
                counts=self._newest[1] if self._newest else None,
                recent=tuple(self._recent),
                message=message,
            )


def _row(block: LiveBlock, index: int) -> Row:
    counts: npt.NDArray[np.uint16] = block.counts[index]
    return float(block.t_s[index]), tuple(counts.tolist())
