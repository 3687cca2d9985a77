"""What a board does: hears commands, reads its clock, puts rows into frames or lines. No ports here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from ingest.frames import DESCRIBE, FIRST, MARK_BUTTON, START, STOP, description_frame, sample_frame
from ingest.lines import MARK_LINE, description_line, sample_line
from ingest.link import MAX_CHANNELS, Description, Dialect
from ingest.virtual_faults import Faults

BOOT_S = 0.25
FRAMES_PER_S = 50


def rows_per_frame(rate_hz: float) -> int:
    """Choose how many rows go into one frame: about fifty frames a second."""
    return min(255, max(1, round(rate_hz / FRAMES_PER_S)))


class Firmware:
    """The program on a virtual board that plays rows of counts, one every ``1 / rate_hz`` seconds.

    ``row`` is the next row to be sent. Playing begins with the first start command; a stop pauses it.
    """

    def __init__(
        self,
        counts: npt.NDArray[np.uint16],
        *,
        rate_hz: float,
        description: Description,
        dialect: Dialect,
        faults: Faults,
        marks: Sequence[int],
    ) -> None:
        if counts.ndim != 2 or not 1 <= counts.shape[1] <= MAX_CHANNELS:
            raise ValueError(
                f"counts of shape {counts.shape}: a board has rows of 1 to {MAX_CHANNELS} channels"
            )
        self.row = 0
        self.running = False
        self._counts = counts
        self._rate_hz = rate_hz
        self._description = description
        self._framed = dialect is Dialect.FRAMED
        self._faults = faults
        self._reset_at = faults.reset_at
        self._marks = set(marks)
        self._made = 0
        self._seq = 0
        self._first = True
        self._swapped = b""
        # What the clock shows at row 0 of what is played; moves when the board pauses or restarts.
        self._zero_us = float(faults.wrap_start_us)

    @property
    def finished(self) -> bool:
        """Say whether everything was sent."""
        return self.row >= len(self._counts)

    @property
    def frame_rows(self) -> int:
        """Give the rows of one frame, or of one line."""
        return self._description.samples_per_frame

    @property
    def next_row(self) -> int:
        """Give the row behind the next frame or line: when it has been taken, that one is due."""
        return min(self.row + self.frame_rows, len(self._counts))

    def hear(self, said: bytes) -> bytes:
        """Obey commands; give the answer. Everything that is no command is ignored."""
        answer = b""
        for letter in (said[i : i + 1] for i in range(len(said))):
            if letter == DESCRIBE[:1]:
                answer += self._describe()
            elif letter == START[:1] and not self.running and not self.finished:
                self.running, self._first, self._seq = True, True, 0
                # A zero closes whatever stood on the line before; a header names the columns.
                answer += b"\x00" if self._framed else self._header()
            elif letter == STOP[:1]:
                self.running = False
        return answer

    def pause(self, seconds: float) -> None:
        """Let the clock go on while nothing is played."""
        self._zero_us += seconds * 1e6

    def skip_to(self, row: int) -> None:
        """Let time pass up to a row with nobody listening: frames are made and lost."""
        while not self.finished and self.next_row <= row:
            self.message()

    def message(self) -> bytes:
        """Play on by one frame or line; give what is put on the line, faults of the board included."""
        if self._reset_at is not None and self.row + self.frame_rows > self._reset_at:
            self._restart(self._reset_at)
        if self.finished:
            return self._release(b"")
        rows = self._counts[self.row : self.row + self.frame_rows]
        message = self._frame(rows) if self._framed else self._line(rows[0])
        number = self._made
        self.row += len(rows)
        self._made += 1
        self._seq += 1
        self._first = False
        faults = self._faults
        if number in faults.drop_frame_at:
            message = b""
        if number in faults.repeat_frame_at:
            message *= 2
        if number in faults.swap_frame_at and not self.finished:
            self._swapped = message
            return b""
        return self._release(message)

    def _release(self, message: bytes) -> bytes:
        held, self._swapped = self._swapped, b""
        return message + held

    def _restart(self, at_row: int) -> None:
        """Restart at a row: what was gathered since the last frame is lost, and what passes meanwhile."""
        self._reset_at = None
        self._zero_us = -at_row * 1e6 / self._rate_hz
        self._seq, self._first, self._swapped = 0, True, b""
        self.row = min(len(self._counts), at_row + round(BOOT_S * self._rate_hz))

    def _clock_us(self) -> int:
        return round(self._zero_us + self.row * 1e6 / self._rate_hz)

    def _pressed(self, rows: int) -> bool:
        return any(row in self._marks for row in range(self.row, self.row + rows))

    def _frame(self, rows: npt.NDArray[np.uint16]) -> bytes:
        flags = FIRST * self._first | MARK_BUTTON * self._pressed(len(rows))
        return sample_frame(
            rows, seq=self._seq, t_us=self._clock_us(), period_us=self._description.period_us, flags=flags
        )

    def _line(self, row: npt.NDArray[np.uint16]) -> bytes:
        line = sample_line(self._clock_us(), row.tolist())
        return line + MARK_LINE + b"\n" if self._pressed(1) else line

    def _describe(self) -> bytes:
        return description_frame(self._description) if self._framed else description_line(self._description)

    def _header(self) -> bytes:
        return b"t_us," + b",".join(b"a%d" % channel for channel in range(self._counts.shape[1])) + b"\n"
