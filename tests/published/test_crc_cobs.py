"""CRC-32 and COBS against published values and against packages written by others."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from cobs import cobs
from crccheck.crc import Crc32
from hypothesis import given
from hypothesis import strategies as st

from ingest.cobs import stuff, unstuff, unstuff_in_place
from ingest.frames import CRC_BYTES, sealed

UP = bytes(range(256))  # 00 01 02 … ff
ONES = b"\x01" * 600

# Published: the test table of the package `cobs` (cobs-python), which follows Cheshire and Baker (1999),
# Consistent overhead byte stuffing, IEEE/ACM Trans. Networking 7(2):159-172, section III.
TABLE = [
    ("", "01"),
    ("31", "0231"),
    ("3132333435", "063132333435"),
    ("31323334350036373839", "0631323334350536373839"),
    ("0031323334350036373839", "010631323334350536373839"),
    ("3132333435003637383900", "063132333435053637383901"),
    ("00", "0101"),
    ("0000", "010101"),
    ("000000", "01010101"),
    (UP[1:254].hex(), "fe" + UP[1:254].hex()),
    (UP[1:255].hex(), "ff" + UP[1:255].hex()),
    (UP[1:256].hex(), "ff" + UP[1:255].hex() + "02ff"),
    (UP.hex(), "01ff" + UP[1:255].hex() + "02ff"),
]
# Commonly reproduced examples, from memory.
RECALLED = [
    ("001100", "01021101"),
    ("11220033", "0311220233"),
    ("11223344", "0511223344"),
    ("11000000", "0211010101"),
    ("00112233", "0104112233"),
]
# Derived from the rules of the paper where groups are full; two independent encoders agree.
FULL_GROUPS = [
    (ONES[:253].hex(), "fe" + ONES[:253].hex()),
    (ONES[:254].hex(), "ff" + ONES[:254].hex()),
    (ONES[:255].hex(), "ff" + ONES[:254].hex() + "0201"),
    (ONES[:508].hex(), "ff" + ONES[:254].hex() + "ff" + ONES[:254].hex()),
    (ONES[:509].hex(), "ff" + ONES[:254].hex() + "ff" + ONES[:254].hex() + "0201"),
    (ONES[:254].hex() + "00", "ff" + ONES[:254].hex() + "0101"),
    (ONES[:253].hex() + "00", "fe" + ONES[:253].hex() + "01"),
    (UP[2:256].hex() + "00", "ff" + UP[2:256].hex() + "0101"),
    (UP[3:256].hex() + "0001", "fe" + UP[3:256].hex() + "0201"),
]
# A zero inside, or a group that reaches beyond the end (same source as the table).
MALFORMED = ["00", "05313233", "053132333400", "0531320034"]


@pytest.mark.parametrize(("plain", "stuffed"), TABLE + RECALLED + FULL_GROUPS)
def test_cobs_examples(plain: str, stuffed: str) -> None:
    assert stuff(bytes.fromhex(plain)).hex() == stuffed
    decoded = unstuff(bytes.fromhex(stuffed))
    assert decoded is not None
    assert decoded.hex() == plain
    assert many([bytes.fromhex(stuffed)]) == [bytes.fromhex(plain)]


@pytest.mark.parametrize("stuffed", MALFORMED)
def test_cobs_malformed(stuffed: str) -> None:
    assert unstuff(bytes.fromhex(stuffed)) is None
    with pytest.raises(cobs.DecodeError):
        cobs.decode(bytes.fromhex(stuffed))


def test_all_examples_at_once_in_one_buffer() -> None:
    pairs = [(bytes.fromhex(a), bytes.fromhex(b)) for a, b in TABLE + RECALLED + FULL_GROUPS]
    broken = bytes.fromhex("05313233")
    stuffed = [b for _, b in pairs]
    assert many([*stuffed, broken, *stuffed]) == [*(a for a, _ in pairs), None, *(a for a, _ in pairs)]


@given(plain=st.binary(max_size=1200))
def test_cobs_as_the_package_has_it(plain: bytes) -> None:
    stuffed = stuff(plain)
    assert stuffed == cobs.encode(plain)
    assert unstuff(stuffed) == plain
    assert many([stuffed, stuffed]) == [plain, plain]
    # The overhead bound of the paper.
    assert len(stuffed) <= len(plain) + 1 + len(plain) // 254


@given(stuffed=st.binary(min_size=1, max_size=600))
def test_cobs_refuses_what_the_package_refuses(stuffed: bytes) -> None:
    try:
        expected = cobs.decode(stuffed)
    except cobs.DecodeError:
        expected = None
    assert unstuff(stuffed) == expected
    if 0 not in stuffed:
        assert many([b"\x02A", stuffed, b"\x02B"]) == [b"A", expected, b"B"]


def test_crc_check_value() -> None:
    # Catalogue of parametrised CRC algorithms (G. Cook), CRC-32/ISO-HDLC, field `check`; the parameter model
    # is that of Williams (1993), A painless guide to CRC error detection algorithms.
    assert zlib.crc32(b"123456789") == 0xCBF43926
    plain = unstuff(sealed(b"123456789")[:-1])
    assert plain is not None
    assert plain[-CRC_BYTES:] == bytes.fromhex("2639f4cb")


@given(body=st.binary(max_size=400))
def test_crc_as_the_package_has_it(body: bytes) -> None:
    assert zlib.crc32(body) == Crc32.calc(body)


def many(stuffed: list[bytes]) -> list[bytes | None]:
    """The batch decoder on frames in one buffer, a zero behind each."""
    buffer = np.frombuffer(b"".join(frame + b"\x00" for frame in stuffed), np.uint8).copy()
    size = np.array([len(frame) for frame in stuffed])
    ends = np.cumsum(size + 1) - 1
    starts = ends - size
    whole, surplus = unstuff_in_place(buffer, starts, ends)
    left_out = set(surplus.tolist())
    plain = [
        bytes(buffer[at] for at in range(start + 1, end) if at not in left_out)
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
    ]
    return [frame if good else None for frame, good in zip(plain, whole.tolist(), strict=True)]
