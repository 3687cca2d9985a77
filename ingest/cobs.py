"""Consistent overhead byte stuffing: bytes without a zero in them, so that a zero can end a frame.

Cheshire, S. and Baker, M. (1999), Consistent overhead byte stuffing, IEEE/ACM Trans. Networking 7(2):159-172.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FULL_GROUP = 254


def stuff(plain: bytes) -> bytes:
    """Encode; the closing 0x00 is the caller's.

    >>> stuff(bytes.fromhex("11220033")).hex()
    '0311220233'
    """
    out = bytearray()
    groups = plain.split(b"\x00")
    for number, group in enumerate(groups):
        while len(group) > FULL_GROUP:
            out.append(FULL_GROUP + 1)
            out += group[:FULL_GROUP]
            group = group[FULL_GROUP:]
        # A full group at the very end stands for itself: no further group follows it.
        out.append(len(group) + 1)
        out += group
        if len(group) == FULL_GROUP and number < len(groups) - 1:
            out.append(1)
    return bytes(out)


def unstuff(stuffed: bytes) -> bytes | None:
    """Decode what stood between two 0x00; ``None`` if it is malformed.

    >>> unstuff(bytes.fromhex("0311220233")).hex()
    '11220033'
    >>> unstuff(bytes.fromhex("05313233")) is None
    True
    """
    out = bytearray()
    at, end = 0, len(stuffed)
    if 0 in stuffed:
        return None
    while at < end:
        code = stuffed[at]
        after = at + code
        if after > end:
            return None
        out += stuffed[at + 1 : after]
        if code <= FULL_GROUP and after < end:
            out.append(0)
        at = after
    return bytes(out)


def unstuff_in_place(
    buffer: npt.NDArray[np.uint8], starts: npt.NDArray[np.int64], ends: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
    """Decode many frames of one buffer at once: all of them step from group to group together.

    Every code byte becomes the zero it stands for. Afterwards frame ``i`` is
    ``buffer[starts[i] + 1 : ends[i]]``, apart from the bytes named in the second result.

    Parameters
    ----------
    buffer
        Shape (bytes,), changed in place. ``buffer[ends[i]]`` must be the 0x00 that ends frame ``i``.
    starts, ends
        Shape (frames,); no zero byte between them, every frame at least one byte long.

    Returns
    -------
    whole : shape (frames,)
        Which frames are well formed.
    surplus : shape (any,)
        Positions of code bytes that follow a full group and so stand for nothing: to be left out.
    """
    at = starts.copy()
    whole = np.ones(len(starts), np.bool_)
    after_full = np.zeros(len(starts), np.bool_)
    surplus = []
    while True:
        code = buffer[at].astype(np.int64)
        if not code.any():
            break
        if after_full.any():
            surplus.append(at[after_full & (code > 0)])
        buffer[at] = 0
        after_full = code == FULL_GROUP + 1
        at += code
        # A finished frame rests on its own 0x00, whose code is 0. What points beyond its end is sent there.
        whole &= at <= ends
        np.minimum(at, ends, out=at)
    return whole, np.concatenate(surplus) if surplus else np.zeros(0, np.int64)
