from __future__ import annotations

from pathlib import Path

import pytest

from ingest.errors import FileProblem
from ingest.points_csv import PointRow, read_points_csv


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "points.csv"
    path.write_bytes(text.encode("utf-8"))
    return path


def test_rows_in_any_order_of_columns(tmp_path: Path) -> None:
    path = written(tmp_path, "\ufeffMM, Counts ,direction\r\n0,102.5,up\r\n\r\n50, 280 ,\r\n0,101,DOWN\r\n")
    assert read_points_csv(path, "counts", "mm") == (
        PointRow(first=102.5, second=0, way="up"),
        PointRow(first=280, second=50, way=None),
        PointRow(first=101, second=0, way="down"),
    )


def test_without_a_direction(tmp_path: Path) -> None:
    rows = read_points_csv(written(tmp_path, "counts,mm\n1,2\n3,4\n"), "counts", "mm")
    assert [row.way for row in rows] == [None, None]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("counts,mm\n", "has 0 rows"),
        ("counts;mm\n1;2\n", "one column 'counts'"),
        ("counts,mm,note\n1,2,x\n", "column 'note' is not known"),
        ("counts,mm\n1,2\n3\n", "line 3: 1 cells where the header has 2"),
        ("counts,mm\n1,2\nfour,5\n", "line 3: 'four' in column counts is not a number"),
        ("counts,mm\n1,nan\n", "line 2: 'nan' in column mm is not a number"),
        ("counts,mm,direction\n1,2,sideways\n", "allowed are up, down or empty"),
        ("counts,mm\n" + "1,2\n" * 1001, "has 1001 rows"),
    ],
)
def test_what_cannot_be_meant(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read_points_csv(written(tmp_path, text), "counts", "mm")
    assert words in str(problem.value)


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="there is no CSV file"):
        read_points_csv(tmp_path / "none.csv", "counts", "mm")
