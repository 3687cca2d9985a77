"""What can go wrong between a board and a computer, on request and repeatable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """Faults of a virtual board and its line.

    Rates are chances: that any one bit is flipped, that any one byte is lost. Frames (lines, in the lines
    dialect) are counted from 0 in the order the board makes them, rows are rows of what it plays.

    ``swap_frame_at`` sends a frame after the one that follows it. At ``reset_at`` the board restarts: its
    clock and its counting begin anew, and it sends again after a quarter of a second. At ``pull_cable_at``
    the cable is pulled in the middle of a frame; it comes back after ``plug_in_after_s``, or when
    `VirtualBoard.reconnect` is called. ``wrap_start_us`` is what the board's clock shows at row 0.
    """

    bit_flip_rate: float = 0.0
    drop_byte_rate: float = 0.0
    drop_frame_at: tuple[int, ...] = ()
    repeat_frame_at: tuple[int, ...] = ()
    swap_frame_at: tuple[int, ...] = ()
    reset_at: int | None = None
    pull_cable_at: int | None = None
    plug_in_after_s: float | None = None
    wrap_start_us: int = 0
    seed: int = 0


class NoisyLine:
    """A line that flips bits and loses bytes, the same ones for the same seed and the same bytes."""

    def __init__(self, faults: Faults) -> None:
        self._flip = faults.bit_flip_rate
        self._drop = faults.drop_byte_rate
        self._rng = np.random.default_rng(faults.seed)

    def carry(self, message: bytes) -> bytes:
        """Give what arrives of a message."""
        if not self._flip and not self._drop:
            return message
        carried = np.frombuffer(message, np.uint8)
        flipped = np.packbits(self._rng.random((len(carried), 8)) < self._flip, axis=1)[:, 0]
        arrives = self._rng.random(len(carried)) >= self._drop
        return (carried ^ flipped)[arrives].tobytes()
