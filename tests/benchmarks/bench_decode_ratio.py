"""How fast a capture is decoded, against a plain loop over its bytes and against one pass of zlib over them.

Printed with ``-s``; nothing here fails because a machine is slow. What is asserted is that all agree.
"""

from __future__ import annotations

import struct
import time
import zlib
from collections.abc import Callable

import numpy as np

from ingest.decode import Dialect, LiveDecoder, decode
from ingest.frames import sample_frame
from ingest.lines import sample_line

HOUR_ROWS = 3_600_000
N = 20
POLYNOMIAL = 0xEDB88320


def crc_table() -> list[int]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = crc >> 1 ^ (POLYNOMIAL if crc & 1 else 0)
        table.append(crc)
    return table


def plain_loop(data: bytes) -> list[tuple[int, ...]]:
    """Every byte by itself, as firmware would do it: unstuff, check, take apart. Gives the rows."""
    table, rows = crc_table(), []
    frame, code, left, crc = bytearray(), 0, 0, 0xFFFFFFFF
    for byte in data:
        if byte == 0:
            # The CRC over a frame and its own CRC is the same number whatever the frame is.
            if left == 0 and crc == 0xDEBB20E3:
                channels, count = frame[13], frame[14]
                values = struct.unpack_from(f"<{channels * count}H", frame, 15)
                rows += [values[k : k + channels] for k in range(0, len(values), channels)]
            frame, code, left, crc = bytearray(), 0, 0, 0xFFFFFFFF
            continue
        if left == 0:
            if code not in (0, 255):
                frame.append(0)
                crc = crc >> 8 ^ table[crc & 0xFF]
            code, left = byte, byte - 1
        else:
            frame.append(byte)
            crc = crc >> 8 ^ table[(crc ^ byte) & 0xFF]
            left -= 1
    return rows


def seconds(run: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        began = time.process_time()
        run()
        taken.append(time.process_time() - began)
    return min(taken)


def test_ratios() -> None:
    rng = np.random.default_rng(2)
    counts = np.clip(512 + np.cumsum(rng.integers(-3, 4, (HOUR_ROWS, 2)), 0) % 400, 0, 1023).astype(np.uint16)
    frames = [
        sample_frame(counts[k : k + N], seq=k // N, t_us=k * 1000, period_us=1000)
        for k in range(0, HOUR_ROWS, N)
    ]
    hour = b"".join(frames)
    part = b"".join(frames[:3000])
    decoded = decode(hour, Dialect.FRAMED)
    assert np.array_equal(decoded.segments[0].values, counts)
    assert np.array_equal(plain_loop(part), counts[: 3000 * N])

    megabyte = 1e6
    plain = len(part) / megabyte / seconds(lambda: plain_loop(part), 2)
    batch = len(hour) / megabyte / seconds(lambda: decode(hour, Dialect.FRAMED), 5)
    crc = len(hour) / megabyte / seconds(lambda: zlib.crc32(hour), 3)

    wide = rng.integers(0, 4096, (4000, 8)).astype(np.uint16)
    stream = b"".join(
        sample_frame(wide[k : k + 40], seq=k // 40, t_us=k * 500, period_us=500) for k in range(0, 4000, 40)
    )
    live_s = seconds(lambda: live(stream, Dialect.FRAMED, 20), 3)
    text = b"".join(sample_line(k * 1000, row) for k, row in enumerate(counts[:200_000].tolist()))
    lines = len(text) / megabyte / seconds(lambda: decode(text, Dialect.LINES), 3)

    print(f"\none hour, 2 channels, 1 kHz, framed: {len(hour) / megabyte:.1f} MB")
    print(f"  plain loop over bytes {plain:9.2f} MB/s")
    print(f"  batch decoder         {batch:9.1f} MB/s = {batch / plain:.0f} × plain loop")
    print(f"  zlib.crc32 alone      {crc:9.1f} MB/s = {crc / batch:.1f} × batch decoder")
    print(f"  lines, batch          {lines:9.1f} MB/s")
    print(f"  live, 8 channels × 2 kHz: {100 * live_s / 2:.1f} % of one core")


def live(stream: bytes, dialect: Dialect, pieces: int) -> int:
    """Decode two seconds as they would come from a port: 50 reads a second."""
    decoder, rows = LiveDecoder(dialect), 0
    size = len(stream) // (5 * pieces)
    for at in range(0, len(stream), size):
        block = decoder.feed(stream[at : at + size])
        rows += 0 if block is None else len(block.t_s)
    assert rows == 4000
    return rows
