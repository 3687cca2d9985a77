"""One change in a bike file: comments stay, the former text is kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from ingest.bike_edit import replace_bike_file, with_calibration, with_leverage
from ingest.bike_file import parse_bike
from ingest.book import Book
from ingest.errors import FileProblem
from ingest.records import End

TEXT = """\
# the tall one
[bike]
name = "Workshop tall twin"
id = "frame 0001"      # stamped
[front]
suspension = "telescopic fork"
travel_mm = 230
[rear]
suspension = "linkage"
travel_mm = 220
ratio = 2.4            # a guess
[sensors.front]
channel = 0
calibration = [[102, 0], [921, 230]]
zero_count = 104
curve = "straight"
# fitted in May
[sensors.rear]
channel = 1
measures = "shock stroke"
calibration = [[88, 0], [902, 92]]
"""
POINTS = [(100.5, 0.0), (500.0, 115.0), (900.0, 230.0)]


def test_a_calibration_replaces_points_zero_and_curve_and_nothing_else() -> None:
    text = with_calibration(TEXT, End.FRONT, POINTS, "quadratic")
    sensor = parse_bike(text).sensors[End.FRONT]
    assert sensor.calibration == tuple(POINTS)
    assert (sensor.zero_count, sensor.curve) == (None, "quadratic")
    for comment in ("# the tall one", "# stamped", "# a guess", "# fitted in May"):
        assert comment in text
    assert "calibration = [[100.5, 0], [500, 115], [900, 230]]" in text
    assert parse_bike(text).sensors[End.REAR] == parse_bike(TEXT).sensors[End.REAR]
    assert "curve" not in with_calibration(text, End.FRONT, POINTS, "straight")


def test_a_leverage_table_replaces_a_ratio() -> None:
    table = [(0.0, 0.0), (110.0, 43.5), (220.0, 92.0)]
    text = with_leverage(TEXT, End.REAR, table)
    rear = parse_bike(text).rear
    assert rear is not None
    assert rear.leverage is not None
    assert (rear.leverage.table, rear.leverage.ratio) == (tuple(table), None)
    assert "# stamped" in text


def test_the_former_text_is_kept_each_time(tmp_path: Path) -> None:
    path = tmp_path / "twin.toml"
    path.write_text(TEXT, encoding="utf-8")
    once, twice = (with_calibration(TEXT, End.FRONT, POINTS[:n]) for n in (2, 3))
    assert replace_bike_file(path, once) == tmp_path / "twin.earlier-1.toml"
    assert replace_bike_file(path, once) is None
    assert replace_bike_file(path, twice) == tmp_path / "twin.earlier-2.toml"
    assert (tmp_path / "twin.earlier-1.toml").read_text(encoding="utf-8") == TEXT
    assert (tmp_path / "twin.earlier-2.toml").read_text(encoding="utf-8") == once
    assert path.read_text(encoding="utf-8") == twice
    assert len(list(tmp_path.iterdir())) == 3


def test_a_bike_of_a_book_is_kept_by_its_book(tmp_path: Path) -> None:
    book = Book.create(tmp_path / "book", "Flat & Low")
    book.add_bike(TEXT)
    (path,) = (tmp_path / "book" / "bikes").iterdir()
    text = with_calibration(TEXT, End.FRONT, POINTS)
    assert replace_bike_file(path, text) == tmp_path / "book" / "earlier" / "bikes"
    (bike,) = book.bikes()
    assert bike.sensors[End.FRONT].calibration == tuple(POINTS)
    (earlier,) = (tmp_path / "book" / "earlier" / "bikes").iterdir()
    assert earlier.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (TEXT[: TEXT.index("[sensors.front]")], "has no [sensors.front] to calibrate"),
        (TEXT.replace("channel = 0", "chanel = 0"), "did you mean channel?"),
        ("[bike", "is not valid TOML"),
    ],
)
def test_files_that_cannot_take_it(text: str, words: str) -> None:
    with pytest.raises(FileProblem) as problem:
        with_calibration(text, End.FRONT, POINTS, source="twin.toml")
    assert words in str(problem.value)
    assert "twin.toml" in str(problem.value)


def test_what_could_not_be_read_back_is_not_written() -> None:
    with pytest.raises(FileProblem, match="the same counts"):
        with_calibration(TEXT, End.FRONT, [(500, 0), (500, 10)])
    with pytest.raises(FileProblem, match="telescopic fork"):
        with_leverage(TEXT, End.FRONT, [(0, 0), (100, 50)])
