"""``flatfoot geometry`` refuses what its bike cannot do."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard import cli

TWIN = Path(__file__).resolve().parents[2] / "sample_logs" / "tall_twin.toml"


@pytest.mark.parametrize(
    ("kind", "words", "said"),
    [
        ("telescopic fork", ("--front-axle-up-mm", "10"), "this bike has a fork: give --fork-axis-mm"),
        ("A-arm, single shock", ("--fork-axis-mm", "10"), "give --front-axle-up-mm"),
        ("telescopic fork", ("--rear-axle-up-mm", "-500"), "up to 300 mm"),
        ("telescopic fork", ("--fork-axis-mm", "nan"), "up to 300 mm"),
    ],
)
def test_wrong_use_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str, words: tuple[str, ...], said: str
) -> None:
    text = TWIN.read_text(encoding="utf-8").replace('"telescopic fork"', f'"{kind}"', 1)
    bike = tmp_path / "twin.toml"
    bike.write_text(text, encoding="utf-8")
    assert cli.main(["geometry", "--bike", str(bike), *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1


def test_each_front_moves_its_own_way(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text = TWIN.read_text(encoding="utf-8").replace('"telescopic fork"', '"A-arm, single shock"', 1)
    (tmp_path / "arm.toml").write_text(text, encoding="utf-8")
    assert cli.main(["geometry", "--bike", str(tmp_path / "arm.toml"), "--front-axle-up-mm", "10"]) == 0
    assert cli.main(["geometry", "--bike", str(TWIN), "--fork-axis-mm", "10"]) == 0
    assert capsys.readouterr().err == ""
