"""Make the sample logs: an invented bike, ridden by the virtual bike, read by virtual sensors.

    python sample_logs/make_samples.py [FOLDER]

Everything comes from fixed seeds. `truth.json` holds what is true of the motion behind each log.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.virtual_bike import (
    LIGHT_RIDER_KG,
    Truth,
    VirtualBike,
    demo_bike,
    lowered,
    record_of,
    ride_scene,
    sag_scene,
    simulate,
    to_counts,
)
from ingest.bike_file import bike_text
from ingest.capture import LOCK_FILE, CaptureWriter, StartNotes
from ingest.frames import FIRST, description_frame, sample_frame
from ingest.link import Description
from ingest.log import Channel, Kind, Log, Mark, Segment
from ingest.log_file import write_log
from ingest.records import Bike, End, EndSetup, Rider, Setup
from ingest.setup_file import setup_text

Counts = npt.NDArray[np.uint16]

RATE_HZ = 1000
BITS = 10
RIDER = Rider(name="Mara L.", mass_kg=LIGHT_RIDER_KG)
LOAD_CASE = "rider in gear, no luggage, half a tank"
DAY = "2026-03-0{day}T{time}:00+00:00"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One state of the bike: its setup, what truly happened, and what the sensors gave."""

    setup: Setup
    day: int
    sag: Truth
    ride: Truth
    sag_counts: Counts
    ride_counts: Counts

    @property
    def zeros(self) -> Mapping[End, float]:
        """Read the topped-out counts off the sag check."""
        start_s, end_s, _ = self.sag.phases[0]
        span = self.sag_counts[round(start_s * RATE_HZ) : round(end_s * RATE_HZ)]
        return {End.FRONT: round(float(span[:, 0].mean()), 2), End.REAR: round(float(span[:, 1].mean()), 2)}


def main(folder: Path) -> None:
    """Write all samples into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    stock = demo_bike()
    bike = record_of(stock, BITS)
    visits = ride_both(stock, lowered(stock))
    (folder / "tall_twin.toml").write_text(bike_text(bike), encoding="utf-8", newline="\n")
    truth: dict[str, object] = {}
    for visit in visits:
        name = visit.setup.name
        (folder / f"setup_{name}.toml").write_text(setup_text(visit.setup), encoding="utf-8", newline="\n")
        write_log(sag_log(bike, visit), folder / f"sag_{name}.parquet")
        write_log(ride_log(bike, visit), folder / f"ride_{name}.parquet")
        truth[f"sag_{name}.parquet"] = sag_truth(visit.sag)
        truth[f"ride_{name}.parquet"] = ride_truth(visit.ride, visit.setup, bike)
    truth["sag_other_logger.csv"] = sag_truth(visits[0].sag)
    write_csv(visits[0], folder / "sag_other_logger.csv")
    truth["ride_cut_off.capture"] = write_damaged_capture(bike, visits[0], folder / "ride_cut_off.capture")
    (folder / "truth.json").write_text(
        json.dumps(truth, indent=1, sort_keys=True) + "\n", encoding="utf-8", newline="\n"
    )


def ride_both(stock: VirtualBike, short: VirtualBike) -> tuple[Visit, Visit]:
    """Play the sag check and the same test ride on the stock bike and on the lowered one."""
    scenes = [
        scene
        for bike in (stock, short)
        for scene in (sag_scene(bike, LIGHT_RIDER_KG), ride_scene(bike, LIGHT_RIDER_KG))
    ]
    truths = simulate(scenes, RATE_HZ)
    visits = []
    for k, (bike, setup) in enumerate(((stock, Setup(name="stock")), (short, lowered_setup(short)))):
        sag, ride = truths[2 * k], truths[2 * k + 1]
        visits.append(
            Visit(
                setup=setup,
                day=2 + k,
                sag=sag,
                ride=ride,
                sag_counts=to_counts(sag, record_of(bike, BITS), BITS, seed=10 + k),
                ride_counts=to_counts(ride, record_of(bike, BITS), BITS, seed=20 + k),
            )
        )
    return visits[0], visits[1]


def lowered_setup(short: VirtualBike) -> Setup:
    """Write down what was done to the bike, as its setup file says it."""
    record = record_of(short, BITS)
    ends = {}
    for end in End:
        suspension, zero = record.suspension(end), record.sensors[end].zero_count
        assert suspension is not None
        assert zero is not None
        ends[end] = EndSetup(
            travel_mm=suspension.travel_mm,
            leverage=suspension.leverage,
            spring_rate_n_mm=suspension.spring_rate_n_mm,
            preload_mm=suspension.preload_mm,
            sensor_zero_count=round(zero, 1),
        )
    notes = "softer springs for the rider's weight, spacers in the fork, other shock and linkage plates"
    return Setup(name="lowered", notes=notes, front=ends[End.FRONT], rear=ends[End.REAR])


def sag_log(bike: Bike, visit: Visit) -> Log:
    """Make the log of a sag check, every reading marked in its middle."""
    marks = tuple(Mark(t_s=round((a + b) / 2, 3), text=text) for a, b, text in visit.sag.phases)
    return replace(_log(bike, visit, Kind.SAG, visit.sag_counts), marks=marks)


def ride_log(bike: Bike, visit: Visit) -> Log:
    """Make the log of a ride, with the topped-out readings of the sag check before it."""
    return replace(_log(bike, visit, Kind.RIDE, visit.ride_counts), zeros=visit.zeros)


def _log(bike: Bike, visit: Visit, kind: Kind, counts: Counts) -> Log:
    channels = tuple(Channel(name=f"ch{k}", bits=BITS) for k in range(2))
    return Log(
        id=f"{kind}-{visit.setup.name}",
        kind=kind,
        started=DAY.format(day=visit.day, time="10:15" if kind is Kind.SAG else "11:40"),
        bike=bike,
        channels=channels,
        segments=(Segment(start_s=0.0, dt_s=1.0 / RATE_HZ, values=counts),),
        setup=visit.setup,
        rider=RIDER,
        load_case=LOAD_CASE,
        notes="sample log, made by the virtual bike",
        texts={"bike": bike_text(bike), "setup": setup_text(visit.setup)},
    )


def write_csv(visit: Visit, path: Path) -> None:
    """Write the sag check as another logger might: 250 samples a second, clock about to wrap, a row twice."""
    every = 4
    counts = visit.sag_counts[::every]
    marks = {round((a + b) / 2 * RATE_HZ / every): text for a, b, text in visit.sag.phases}
    lines = ["t_us,ch0,ch1,mark"]
    for row, (front, rear) in enumerate(counts):
        t_us = (2**32 - 12_000_000 + row * every * 1_000_000 // RATE_HZ) % 2**32
        mark = f'"{marks[row]}"' if row in marks else ""
        lines.append(f"{t_us},{front},{rear},{mark}")
        if row == 1500:
            lines.append(f"{t_us},{front},{rear},")
    path.write_text("\r\n".join(lines) + "\r\n", encoding="utf-8", newline="")


def write_damaged_capture(bike: Bike, visit: Visit, folder: Path) -> dict[str, object]:
    """Write a recording as a pulled plug leaves it: frames lost, damaged and repeated, the last one torn.

    The ride of a visit, twelve seconds of it, in frames of twenty samples.
    """
    rows, seconds = 20, 12
    parts = visit.ride_counts[: seconds * RATE_HZ].reshape(-1, rows, 2)
    frames = [
        sample_frame(part, seq=seq * rows, t_us=seq * rows * 1000, period_us=1000, flags=0 if seq else FIRST)
        for seq, part in enumerate(parts)
    ]
    lost, damaged, repeated = (120, 121, 122), (200, 330), 400
    for number in damaged:
        frame = bytearray(frames[number])
        frame[len(frame) // 2] ^= 0x55 if frame[len(frame) // 2] != 0x55 else 0x2A
        frames[number] = bytes(frame)
    about = Description(
        name="bench board", channels=2, period_us=1000, bits=BITS, skew_us=(0, 0), samples_per_frame=rows
    )
    sent = [frame for number, frame in enumerate(frames) if number not in lost]
    sent.insert(sent.index(frames[repeated]), frames[repeated])
    data = description_frame(about) + b"".join(sent)
    data = data[: -len(frames[-1]) // 2]
    notes = StartNotes(
        log_id="ride-cut-off",
        kind=Kind.RIDE,
        bike_text=bike_text(bike),
        setup_text=setup_text(visit.setup),
        load_case=LOAD_CASE,
        notes="sample of a recording that was cut off",
        zeros=visit.zeros,
        port="invented port",
        baud=115200,
        started=DAY.format(day=visit.day, time="12:05"),
    )
    _remove_capture(folder)
    writer = CaptureWriter(folder, notes)
    writer.append(data)
    writer.note({"what": "dialect", "dialect": "framed", "offset": 0, "host_s": 0.0})
    writer.sync()
    writer.close()
    (folder / LOCK_FILE).unlink()
    whole = len(frames) - len(lost) - len(damaged) - 1
    return {"samples": whole * rows, "lost_samples": (len(lost) + len(damaged)) * rows, "repeated_frames": 1}


def _remove_capture(folder: Path) -> None:
    if folder.is_dir():
        for path in folder.iterdir():
            path.unlink()
        folder.rmdir()


def sag_truth(truth: Truth) -> dict[str, object]:
    """Say what the sag would be without friction."""
    return {
        str(end): {
            "unladen_sag_mm": round(truth.unladen_sag_mm[end], 3),
            "rider_sag_mm": round(truth.rider_sag_mm[end], 3),
        }
        for end in End
    }


def ride_truth(truth: Truth, setup: Setup, bike: Bike) -> dict[str, object]:
    """Say what the wheels did; deepest travel, events and speeds from between the samples too."""
    said: dict[str, object] = {}
    for end in End:
        suspension, own = bike.suspension(end), truth.ends[end]
        assert suspension is not None
        full_mm = setup.end(end).travel_mm or suspension.travel_mm
        travel = truth.travel_mm(end)
        p50, p95, p99 = np.percentile(travel, [50, 95, 99])
        said[str(end)] = {
            "travel_mm": full_mm,
            "max_mm": round(own.max_mm, 3),
            "mean_mm": round(float(travel.mean()), 3),
            "p50_mm": round(float(p50), 3),
            "p95_mm": round(float(p95), 3),
            "p99_mm": round(float(p99), 3),
            "above_95_percent_mm": [round(event.peak_mm, 3) for event in own.above_95_percent],
            "bottomings": sum(event.peak_mm >= 0.98 * full_mm for event in own.above_95_percent),
            "toppings": len(own.toppings),
            "max_compression_speed_mm_s": round(own.max_compression_speed_mm_s, 1),
            "max_rebound_speed_mm_s": round(own.max_rebound_speed_mm_s, 1),
        }
    return said


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
