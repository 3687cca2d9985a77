"""The numbers in firmware_notes/link.md are the ones the code speaks."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import numpy as np
import pytest

from ingest.decode import Description, Dialect, decode
from ingest.frames import DESCRIBE, FIRST, HEAD, START, STOP, description_frame, sample_frame
from ingest.lines import checksum, description_line, read_line

NOTE = (Path(__file__).resolve().parents[2] / "firmware_notes" / "link.md").read_text(encoding="utf-8")
DESCRIBED = Description(
    name="bench logger", channels=2, period_us=1000, bits=10, skew_us=(0, 112), samples_per_frame=20
)


def worked(what: str, number: int) -> bytes:
    return bytes.fromhex(re.findall(rf"^{what} +([0-9a-f ]+)$", NOTE, re.MULTILINE)[number])


def table_row(start: str) -> list[str]:
    line = next(line for line in NOTE.splitlines() if line.startswith(f"| {start} |"))
    return [cell.strip() for cell in line.strip("|").split("|")]


def test_the_worked_frame_of_samples() -> None:
    counts = np.array([[512, 300], [0, 301]], np.uint16)
    wire = sample_frame(counts, seq=0, t_us=1000, period_us=1000, flags=FIRST)
    assert worked("wire", 0) == wire
    assert worked("crc", 0) == zlib.crc32(worked("body", 0)).to_bytes(4, "little")
    decoded = decode(worked("wire", 0), Dialect.FRAMED)
    assert np.array_equal(decoded.segments[0].values, counts)
    assert decoded.segments[0].dt_s == 0.001


def test_the_worked_description() -> None:
    assert worked("wire", 1) == description_frame(DESCRIBED)
    assert worked("crc", 1) == zlib.crc32(worked("body", 1)).to_bytes(4, "little")
    assert decode(worked("wire", 1), Dialect.FRAMED).description == DESCRIBED


def test_stuffing_says_what_the_body_is() -> None:
    from cobs import cobs

    for number in (0, 1):
        plain = worked("body", number) + worked("crc", number)
        assert worked("wire", number) == cobs.encode(plain) + b"\x00"


def test_the_worked_lines() -> None:
    example = NOTE.split("Example:\n\n```\n")[1].split("```")[0]
    assert example.splitlines()[0].encode() + b"\n" == description_line(
        Description(
            name="bench_logger", channels=2, period_us=1000, bits=10, skew_us=(0, 112), samples_per_frame=1
        )
    )
    for line in example.splitlines()[2:]:
        body, stated = line.split("*")
        assert checksum(body.encode()) == int(stated, 16)
        assert read_line(line.encode()).checked
    decoded = decode(example.encode(), Dialect.LINES)
    assert np.array_equal(decoded.segments[0].values, [[512, 300], [513, 301]])
    assert decoded.segments[0].dt_s == pytest.approx(0.001)
    assert decoded.description is not None


@pytest.mark.parametrize("command", [DESCRIBE, START, STOP])
def test_commands(command: bytes) -> None:
    hexed = command.hex(" ").upper()
    assert f"| `{hexed}` (`{chr(command[0])}`) |" in NOTE


def test_offsets_of_the_head() -> None:
    assert table_row("15")[2] == "counts"
    assert HEAD.size == 15


@pytest.mark.parametrize(("shape", "rate_hz"), [((20, 2), 1000), ((20, 4), 1000), ((40, 8), 2000)])
def test_load_of_the_line(shape: tuple[int, int], rate_hz: int) -> None:
    row = table_row(f"{shape[0]} × {shape[1]}")
    counts = np.full(shape, 0x0101, np.uint16)
    size = len(sample_frame(counts, seq=0x01010101, t_us=0x01010101, period_us=0x0101, flags=1))
    per_s = size * rate_hz / shape[0]
    assert int(row[2]) == size
    assert float(row[3]) == pytest.approx(per_s / 1000, abs=0.006)
    if row[4].endswith("%"):
        assert int(row[4][:-1]) == round(100 * per_s / 11520)
    else:
        assert 11520 < per_s < 46080
    assert float(row[5]) == pytest.approx(per_s * 3.6e-3, abs=0.06)
