from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.decode import Description, Dialect, LiveDecoder, decode, guess_dialect
from ingest.errors import LinkError
from ingest.line_batch import read_lines
from ingest.lines import Other, Row, checksum, description_line, read_line, sample_line

DESCRIBED = Description(
    name="two_pots", channels=2, period_us=1000, bits=12, skew_us=(0, 25), samples_per_frame=1
)


@pytest.mark.parametrize(
    ("line", "row"),
    [
        (b"0,1", Row(0, (1,), False)),
        (b"4294967295,0,65535", Row(4294967295, (0, 65535), False)),
        (b"1000,512,600\r", Row(1000, (512, 600), False)),
        (b" 1000, 512,\t600 ", Row(1000, (512, 600), False)),
        (b"1,2,3,4,5,6,7,8,9", Row(1, (2, 3, 4, 5, 6, 7, 8, 9), False)),
        (b"0001000,0512", Row(1000, (512,), False)),
        (b"1000,512,600*01", Row(1000, (512, 600), True)),
        (b"1000,512*1b\r", Row(1000, (512,), True)),
    ],
)
def test_rows(line: bytes, row: Row) -> None:
    assert read_line(line) == row


@pytest.mark.parametrize(
    "line",
    [
        b"1000",
        b"1000,",
        b",512",
        b"1000,512,",
        b"1000,,512",
        b"4294967296,1",
        b"99999999999,1",
        b"1000,65536",
        b"1000,123456",
        b"1000,-5",
        b"1000,5.5",
        b"1,2,3,4,5,6,7,8,9,10",
        b"1000,512,600*02",
        b"1000,512,600*1",
        b"1000,512,600*0101",
        b"1000,512,600*",
        b"1000,512,600*zz",
        b"10 00,512",
        b"q234,500,600",
        b"1000;512",
        b"\xff\xfe1000,512",
        b"1" * 300,
        b"hello" * 60,
    ],
)
def test_torn(line: bytes) -> None:
    assert read_line(line) is Other.TORN
    assert read_lines(line + b"\n").torn == 1


@pytest.mark.parametrize(
    "line",
    [b"", b"\r", b"   ", b"# any comment", b"#", b"t_us,a0,a1", b"Time (us),Front,Rear", b"booting ..."],
)
def test_ignored(line: bytes) -> None:
    assert read_line(line) is Other.IGNORED
    assert read_lines(line + b"\n").torn == 0


def test_checksum_of_nmea_0183() -> None:
    # NMEA 0183 takes the exclusive or of all characters between "$" and "*". The sentence is a widely
    # reproduced example, from memory.
    assert checksum(b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,") == 0x47


def test_description_there_and_back() -> None:
    for checked in (True, False):
        line = description_line(DESCRIBED, checked=checked)
        assert read_line(line[:-1]) == DESCRIBED
        assert decode(line, Dialect.LINES).description == DESCRIBED
        assert guess_dialect(line) is Dialect.LINES


@pytest.mark.parametrize(
    "line",
    [
        b"# flatfoot lines 1",
        b"# flatfoot lines 1 channels=2",
        b"# flatfoot lines 1 channels=2 period_us=x bits=10 skew_us=0,0",
        b"# flatfoot lines 1 channels=2 period_us=1000 bits=10 skew_us=0",
        b"# flatfoot lines 1 channels=9 period_us=1000 bits=10 skew_us=0,0,0,0,0,0,0,0,0",
        b"# flatfoot lines one",
        b"# flatfoot lines ",
    ],
)
def test_descriptions_that_say_too_little_are_comments(line: bytes) -> None:
    assert read_line(line) is Other.IGNORED


def test_unknown_version_is_one_clear_line() -> None:
    greeting = b"# flatfoot lines 2 something=else\n"
    with pytest.raises(LinkError, match=r"^the board speaks version 2 of the link, this flatfoot knows"):
        decode(greeting, Dialect.LINES)
    with pytest.raises(LinkError, match=r"^the board speaks version 2 of the link, this flatfoot knows"):
        LiveDecoder(Dialect.LINES).feed(greeting)


pieces = st.one_of(
    st.sampled_from([b",", b"*", b"\r", b" ", b"#", b"a", b"4294967295", b"65535", b"65536", b"1,2", b"\n"]),
    st.binary(max_size=3),
    st.integers(0, 99999).map(lambda number: b"%d" % number),
    st.integers(0, 255).map(lambda number: b"*%02X" % number),
)


@given(lines=st.lists(st.lists(pieces, max_size=8).map(b"".join), max_size=12))
def test_by_column_is_as_one_by_one(lines: list[bytes]) -> None:
    data = b"".join(line + b"\n" for line in lines)
    table = read_lines(data)
    read = [read_line(line) for line in data.split(b"\n")[:-1]]
    expected = [what for what in read if isinstance(what, Row)]
    got = [
        Row(t, tuple(counts[:fields].tolist()), checked)
        for t, counts, fields, checked in zip(
            table.t_us.tolist(), table.counts, table.fields.tolist(), table.checked.tolist(), strict=True
        )
    ]
    assert got == expected
    assert table.torn == sum(what is Other.TORN for what in read)


@given(
    rows=st.lists(
        st.tuples(st.integers(0, 2**32 - 1), st.lists(st.integers(0, 65535), min_size=1, max_size=8))
    ),
    checked=st.booleans(),
)
def test_written_lines_read_back(rows: list[tuple[int, list[int]]], checked: bool) -> None:
    table = read_lines(b"".join(sample_line(t, counts, checked=checked) for t, counts in rows))
    assert table.t_us.tolist() == [t for t, _ in rows]
    assert [c[:f].tolist() for c, f in zip(table.counts, table.fields, strict=True)] == [c for _, c in rows]
    assert table.torn == 0


def test_blocks_join_seamlessly(monkeypatch: pytest.MonkeyPatch) -> None:
    data = b"".join(sample_line(at * 1000, (at % 1024, 5)) for at in range(500))
    whole = read_lines(data)
    for size in (30, 64, 1000):
        monkeypatch.setattr("ingest.line_batch.BLOCK_BYTES", size)
        cut = read_lines(data)
        assert np.array_equal(cut.t_us, whole.t_us)
        assert np.array_equal(cut.end, whole.end)
        assert np.array_equal(cut.counts, whole.counts)
