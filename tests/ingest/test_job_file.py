"""Job files: one rider's order on one bike."""

from __future__ import annotations

import pytest

from ingest.errors import FileProblem
from ingest.job_file import job_text, parse_job, parse_job_file, parse_rider
from ingest.records import Bike, Job, Rider, Setup

TEXT = """\
[job]
id = "0001"
opened = "2026-11-25"
bike = "workshop-tall-twin.toml"
wanted_lowering_mm = 40

[rider]
name = "Rider A"
mass_kg = 58.5
"""


def test_a_job_reads(bike: Bike) -> None:
    stock = Setup(name="stock")
    assert parse_job(TEXT, bike, (stock,)) == Job(
        id="0001",
        bike=bike,
        rider=Rider(name="Rider A", mass_kg=58.5),
        wanted_lowering_mm=40,
        opened="2026-11-25",
        setups=(stock,),
    )
    assert parse_job_file(TEXT).bike == "workshop-tall-twin.toml"
    assert parse_rider(TEXT) == Rider(name="Rider A", mass_kg=58.5)


def test_what_is_written_reads_back(bike: Bike) -> None:
    for job in (
        Job(id="0002", bike=bike, rider=Rider(name="Ö \u2603")),
        Job(
            id="0003",
            bike=bike,
            rider=Rider(
                name="weighed",
                mass_kg=58.5,
                front_axle_load_kg=131,
                rear_axle_load_kg=157.5,
                front_share_percent=34,
                front_share_doubt_percent=5,
            ),
        ),
        Job(id="0003", bike=bike, rider=Rider(name="B", mass_kg=61), wanted_lowering_mm=0, notes="a\nb\n"),
    ):
        assert parse_job(job_text(job), bike) == job
    assert parse_job_file(job_text(job)).bike == "workshop-tall-twin.toml"
    assert parse_job_file(job_text(job, "twin-2.toml")).bike == "twin-2.toml"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("mass_kg", "mass", "job.toml: rider.mass is not a known key; did you mean mass_kg?"),
        ("58.5", '"58 kg"', 'rider.mass_kg is "58 kg", which is text: write a plain number, 20 to 300'),
        ("58.5", "585", "rider.mass_kg is 585, out of range: 20 to 300 is allowed"),
        ('"Rider A"', '""', "[rider] needs name, a text in quotes"),
        ("[rider]", "[ridder]", "ridder is not a known key; did you mean rider?"),
        ("= 40", "= -40", "job.wanted_lowering_mm is -40, out of range: 0 to 300"),
        ('id = "0001"', "id = 1", "job.id is 1: it has to be text in quotes"),
    ],
)
def test_each_slip_has_its_line(old: str, new: str, said: str) -> None:
    assert old in TEXT
    with pytest.raises(FileProblem) as caught:
        parse_job_file(TEXT.replace(old, new, 1), "job.toml")
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
