"""What may be wrong with a sag check although it gave numbers, in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from analysis.phases import FROM_ABOVE, RIDER, TOPPED_OUT, UNLADEN, Named
from analysis.sag_readings import RawEnd, Reading
from ingest.records import End

# More than a fidgeting rider moves the thirds of a reading apart.
CREEP_MM = 3.0
MOVED_MM = 1.0
REVERSED_MM = 3.0
HANGING_MM = 8.0
# Finer than this nobody claims fork sag without three repeats. Common practice, no source.
FRONT_CLAIM_MM, FRONT_REPEATS = 1.5, 3


def about_zero(raw: RawEnd, zeros: Sequence[float], *, known_before: bool) -> list[str]:
    """Say so when topped out was not read here, or not twice the same; ``zeros`` are raw readings."""
    if not zeros and known_before:
        return []
    if not zeros:
        return [f"{raw.end}: topped out was not read in this log; hang the wheel free and read it first"]
    apart = (max(zeros) - min(zeros)) * abs(raw.mm_each)
    if apart > max(MOVED_MM, 3 * raw.step * abs(raw.mm_each)):
        return [
            f"{raw.end}: topped-out readings differ by {apart:.1f} mm within the log; "
            "check whether the sensor has moved, and whether the wheel hung free"
        ]
    return []


def about_hanging(raw: RawEnd, zeros: Sequence[float], named: Named) -> list[str]:
    """Say so when the least travel may be the bike standing on its wheels, settled from above.

    It lies deep by the sensor's own calibration, and no other unladen reading was settled from above: both
    fit a wheel that never hung free as well as a sensor clamped elsewhere.
    """
    if raw.tool is None or not zeros:
        return []
    unladen = named.of(raw.end, UNLADEN)
    if not unladen or any(phase.side == FROM_ABOVE for phase in unladen):
        return []
    deep_mm = float(raw.tool.positions(np.array([np.mean(zeros)])).travel_mm[0])
    if not deep_mm > HANGING_MM:
        return []
    return [
        f"{raw.end}: the least travel reads {deep_mm:.0f} mm deep by the calibration; if the wheel did not "
        "hang free there, every sag here is too small by as much. Mark topped out to be sure"
    ]


def about_creep(raw: RawEnd, named: Named) -> list[str]:
    """Name the readings that were still moving when they were taken."""
    return [
        f"{raw.end}: {phase.name} at {phase.span.start_s:.0f} s never quite settled, it crept by "
        f"{abs(phase.span.creep_mm):.1f} mm; wait until it rests"
        for phase in named.phases
        if phase.end is raw.end and abs(phase.span.creep_mm) > CREEP_MM
    ]


def reads_backwards(raw: RawEnd, named: Named) -> str | None:
    """Say so when load makes the sensor read less travel: the calibration has the wrong sign."""
    levels = {
        name: float(np.mean([phase.span.level_mm for phase in phases]))
        for name in (TOPPED_OUT, UNLADEN, RIDER)
        if (phases := named.of(raw.end, name))
    }
    order = [levels[name] for name in (TOPPED_OUT, UNLADEN, RIDER) if name in levels]
    if any(later < earlier - REVERSED_MM for earlier, later in pairwise(order)):
        return (
            f"{raw.end}: the sensor reads less travel under more load; the calibration runs the wrong way, "
            "or the marks are mixed up"
        )
    return None


def about_loads(end: End, readings: Sequence[Reading], bands: Mapping[str, float | None]) -> list[str]:
    """Say which load is missing, was read from one side only, or has its sides mixed up.

    ``bands`` has half the friction band of each load that was measured, ``None`` with one side only.
    """
    cautions: list[str] = []
    for name in (UNLADEN, RIDER):
        band = bands.get(name)
        if name not in bands:
            cautions.append(f"{end}: {name} sag was not measured: no still span was named {name}")
        elif band is None:
            sides = {reading.phase.side for reading in readings if reading.phase.name == name} - {None}
            known = next(iter(sides), None) or "from an unknown side"
            cautions.append(
                f"{end}: {name} was settled {known} only, so friction may hide several mm; "
                "read it from above and from below"
            )
        elif band < -0.5:
            cautions.append(
                f"{end}: {name} reads deeper from above than from below, which friction cannot do; "
                "check which reading was which"
            )
    return cautions


def about_repeats(end: End, readings: Sequence[Reading], doubts_mm: Mapping[str, float]) -> list[str]:
    """Say so when a fork's sag claims more than its repeats support; ``doubts_mm`` has each load's ±."""
    if end is not End.FRONT:
        return []
    loads = []
    for name, doubt_mm in doubts_mm.items():
        sides = [reading.phase.side for reading in readings if reading.phase.name == name]
        repeats = min((sides.count(side) for side in set(sides)), default=0)
        if doubt_mm < FRONT_CLAIM_MM and repeats < FRONT_REPEATS:
            loads.append(name)
    if not loads:
        return []
    return [
        f"{end}: {' and '.join(loads)} read fewer than {FRONT_REPEATS} times: claim no better than "
        f"±{FRONT_CLAIM_MM} mm for a fork (common practice, no source)"
    ]
