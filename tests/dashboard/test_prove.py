"""``flatfoot prove`` and what stands behind it: a job of the book, planned, done, and measured again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from dashboard import cli
from dashboard.proof_job import proof_of_job
from ingest.book import Book
from ingest.errors import CannotAnswer, UsageError
from ingest.records import Rider, Setup

Caught = pytest.CaptureFixture[str]


def prove(capsys: Caught, shop: Any, *words: str) -> tuple[int, str, str]:
    status = cli.main(["prove", "--book", str(shop.book.path), "--job", shop.job, *words])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_each_promise_stands_beside_its_measurement(shop: Any, capsys: Caught) -> None:
    status, out, err = prove(capsys, shop)
    assert (status, err) == (0, "")
    assert out.startswith("stock → softer springs: ")
    for wanted in (
        "rear: rider sag",
        "seat lower, from sag",
        "mean ride position",
        "before the bike goes back",
    ):
        assert wanted in out, out
    assert "strapped down or springs out" in out
    assert "Support the bike so that it cannot fall" in out


def test_json_has_the_fields(shop: Any, capsys: Caught) -> None:
    status, out, _ = prove(capsys, shop, "--json", "--seat-drop-mm", "20", "--option", "1")
    assert status == 0
    found = json.loads(out)
    assert {"option", "promises", "verdict", "uses_its_travel", "cautions"} <= set(found)
    names = [one["name"] for one in found["promises"]]
    assert "seat_drop_taped_mm" in names
    sag = next(one for one in found["promises"] if one["name"] == "rider_sag_mm")
    assert sag["end"] == "front"
    assert sag["difference"]["value"] == pytest.approx(sag["measured"]["value"] - sag["promised"]["value"])
    # From 47 to 70 mm of rider sag in front, as the log was made.
    assert sag["before"]["value"] == pytest.approx(47.0, abs=1.0)
    assert sag["measured"]["value"] == pytest.approx(70.0, abs=1.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--option", "99"], "the plan has no option '99': it has 1 'correct sag"),
        (["--option", "magic"], "the plan has no option 'magic': it has 1 'correct sag"),
        (["--after", "stock"], "needs two setups, before and after the work; it has stock, softer springs"),
        (["--after", "racing"], "has no setup 'racing'; it has stock, softer springs"),
        (["--seat-drop-mm", "4000"], "seat drop 4000 ± 3 mm: up to 300 mm"),
        (["--seat-drop-mm", "nan"], "seat drop nan ± 3 mm: up to 300 mm"),
    ],
)
def test_wrong_use_is_told_in_one_line(shop: Any, capsys: Caught, words: list[str], said: str) -> None:
    status, out, err = prove(capsys, shop, *words)
    assert status == 2
    assert out == ""
    assert said in err
    assert len(err.strip().splitlines()) == 1


def test_nothing_measured_after_the_work(shop: Any, tmp_path: Path) -> None:
    book = Book.create(tmp_path / "book", "Kestrel Lane Suspension")
    job = book.new_job(shop.book.bikes()[0], Rider(name="nobody yet", mass_kg=70.0), 30.0)
    for name in ("stock", "lowered"):
        book.save_setup(job.id, Setup(name=name))
    with pytest.raises(CannotAnswer, match="no sag check of the setup 'lowered' is in the book"):
        proof_of_job(book, job.id)
    with pytest.raises(UsageError, match="needs two setups"):
        proof_of_job(book, job.id, before="stock", after="stock")


def test_what_was_refused_is_called_so(shop: Any, capsys: Caught) -> None:
    assert cli.main(["plan", "--book", str(shop.book.path), "--job", shop.job, "--json"]) == 0
    options = json.loads(capsys.readouterr().out)["options"]
    number, refused = next((at, one) for at, one in enumerate(options, 1) if not one["allowed"])
    for asked in (str(number), refused["name"].upper()):
        found = json.loads(prove(capsys, shop, "--json", "--option", asked)[1])
        assert found["option"] == refused["name"]
        assert found["cautions"][0].startswith(f"{refused['name']}: the plan refused this one: ")


@pytest.mark.parametrize("units", ["mm", "in"])
def test_it_fits_80_columns(shop: Any, capsys: Caught, units: str) -> None:
    _, out, _ = prove(capsys, shop, "--units", units)
    assert max(map(len, out.splitlines())) <= 80
