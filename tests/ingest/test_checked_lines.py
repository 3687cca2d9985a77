"""Lines with a check of their own: what is good is kept, what is not is told apart from a torn end."""

from __future__ import annotations

import zlib

from hypothesis import given
from hypothesis import strategies as st

from ingest.checked_lines import decode_lines, encode_line

JSON = (
    st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False, allow_infinity=False)
)


@given(st.lists(st.dictionaries(st.text(), JSON, min_size=1).filter(lambda e: "crc" not in e)))
def test_every_entry_comes_back(entries: list[dict[str, object]]) -> None:
    lines = decode_lines(b"".join(encode_line(entry) for entry in entries))
    assert lines.entries == tuple(entries)
    assert lines.damaged == ()
    assert not lines.torn


def test_the_check_is_plain_crc_32_of_the_line_so_far() -> None:
    line = encode_line({"what": "mark", "text": "Sitzprobe, süß"})
    body, _, check = line.partition(b', "crc": "')
    assert int(check[:8], 16) == zlib.crc32(body)


def test_cut_at_every_byte_gives_a_prefix() -> None:
    entries = [{"what": "clock", "offset": n, "text": "ä\n"} for n in range(5)]
    data = b"".join(encode_line(entry) for entry in entries)
    for length in range(len(data)):
        lines = decode_lines(data[:length])
        assert lines.entries == tuple(entries[: len(lines.entries)])
        assert lines.damaged == ()
        assert lines.torn == (length != lines.whole_bytes)
        assert len(lines.entries) == data[:length].count(b"\n")


def test_any_flipped_bit_is_noticed() -> None:
    data = bytearray(b"".join(encode_line({"what": "mark", "offset": n}) for n in range(3)))
    for index in range(len(data)):
        for bit in range(8):
            data[index] ^= 1 << bit
            lines = decode_lines(bytes(data))
            data[index] ^= 1 << bit
            assert len(lines.entries) < 3
            assert lines.damaged or lines.torn
