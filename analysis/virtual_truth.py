"""What is true of a simulated run, read from every step of the simulator."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.virtual_parts import VirtualEnd
from analysis.virtual_scene import EndTruth, Scene, TrueEvent, Truth
from ingest.records import End

Fine = npt.NDArray[np.float32]
Runs = npt.NDArray[np.intp]

APART_S = 0.1
TOPPED_MM, LEFT_MM = 1.0, 5.0


def truth_of(
    scene: Scene,
    travel_mm: Fine,
    speed_mm_s: Fine,
    in_the_air: npt.NDArray[np.bool_],
    rate_hz: float,
    every: int,
) -> Truth:
    """Make the truth of one scene from its fine grid, shape (steps, 2); every so-manyth step is a sample."""
    samples = round(scene.duration_s * rate_hz)
    fine = slice(0, samples * every)
    dt = 1.0 / (rate_hz * every)
    travel_mm, speed_mm_s, in_the_air = travel_mm[fine], speed_mm_s[fine], in_the_air[fine]
    columns = [
        np.array(each[::every, end], dtype=float) for each in (travel_mm, speed_mm_s) for end in (0, 1)
    ]
    for column in columns:
        column.setflags(write=False)
    ends = {
        name: _end_truth(scene.bike.ends[k], travel_mm[:, k], speed_mm_s[:, k], in_the_air[:, k], dt)
        for k, name in enumerate((End.FRONT, End.REAR))
    }
    return Truth(
        dt_s=1.0 / rate_hz,
        front_mm=columns[0],
        rear_mm=columns[1],
        front_speed_mm_s=columns[2],
        rear_speed_mm_s=columns[3],
        unladen_sag_mm=scene.bike.sag_mm(0.0),
        rider_sag_mm=scene.bike.sag_mm(scene.rider_mass_kg),
        phases=scene.phases,
        ends=ends,
    )


def _end_truth(
    end: VirtualEnd, travel_mm: Fine, speed_mm_s: Fine, in_the_air: npt.NDArray[np.bool_], dt: float
) -> EndTruth:
    rubber_from = end.rubber_from_mm
    left, landed = _runs(in_the_air)
    return EndTruth(
        max_mm=float(travel_mm.max()),
        above_95_percent=_deep(travel_mm, speed_mm_s, dt, 0.95 * end.travel_mm),
        toppings=_toppings(travel_mm, speed_mm_s, dt),
        hard_stop_s=float(np.count_nonzero(travel_mm > end.travel_mm) * dt),
        rubber_s=0.0 if rubber_from is None else float(np.count_nonzero(travel_mm > rubber_from) * dt),
        max_compression_speed_mm_s=float(speed_mm_s.max()),
        max_rebound_speed_mm_s=float(-speed_mm_s.min()),
        in_the_air_s=tuple(zip((left * dt).tolist(), (landed * dt).tolist(), strict=True)),
    )


def _deep(travel_mm: Fine, speed_mm_s: Fine, dt: float, above_mm: float) -> tuple[TrueEvent, ...]:
    """Excursions above a travel; those less than 100 ms apart are one."""
    starts, stops = _runs(travel_mm > above_mm)
    if starts.size == 0:
        return ()
    apart = (starts[1:] - stops[:-1]) * dt >= APART_S
    starts, stops = starts[np.r_[True, apart]], stops[np.r_[apart, True]]
    peaks = [start + int(np.argmax(travel_mm[start:stop])) for start, stop in zip(starts, stops, strict=True)]
    return tuple(
        TrueEvent(
            t_s=float(peak * dt),
            peak_mm=float(travel_mm[peak]),
            entry_speed_mm_s=float(max(speed_mm_s[start], 0.0)),
        )
        for start, peak in zip(starts, peaks, strict=True)
    )


def _toppings(travel_mm: Fine, speed_mm_s: Fine, dt: float) -> tuple[TrueEvent, ...]:
    """Every coming back to topped out after having been well away from it."""
    starts, stops = _runs(travel_mm <= LEFT_MM)
    events = []
    for start, stop in zip(starts, stops, strict=True):
        least = start + int(np.argmin(travel_mm[start:stop]))
        if start > 0 and travel_mm[least] <= TOPPED_MM:
            events.append(
                TrueEvent(
                    t_s=float(least * dt),
                    peak_mm=float(travel_mm[least]),
                    entry_speed_mm_s=float(max(-speed_mm_s[start], 0.0)),
                )
            )
    return tuple(events)


def _runs(inside: npt.NDArray[np.bool_]) -> tuple[Runs, Runs]:
    """First step of each run of true, and the step after its last."""
    edges = np.diff(np.concatenate([[False], inside, [False]]).astype(np.int8))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
