"""What a mechanic is told about readings that were left out: how often, how long, and what to look at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.ride_results import FaultSpan
from analysis.sensor_faults import DROPOUT, RAIL, SLACK, SPIKE, STUCK
from ingest.records import End


def fault_cautions(end: End, faults: Sequence[FaultSpan], reel_mm_s: float | None) -> Iterator[str]:
    """Word one caution a kind of fault that is there."""
    of = {kind: [fault for fault in faults if fault.kind == kind] for kind in KINDS}
    if of[SPIKE]:
        samples = number(sum(fault.samples for fault in of[SPIKE]), "sample")
        yield f"{end}: lone spikes faster than any wheel moves were left out ({samples})"
    if of[DROPOUT]:
        yield (
            f"{end}: the reading fell away and came back, left out ({_how_much(of[DROPOUT])}); "
            "check the plug and the cable"
        )
    if of[RAIL]:
        yield (
            f"{end}: the reading lay at an end of what sensor and converter can tell, left out "
            f"({_how_much(of[RAIL])}); check that it is plugged in, how it is mounted, and its calibration"
        )
    if of[STUCK]:
        yield (
            f"{end}: the reading stood still while the wheel must have moved, left out "
            f"({_how_much(of[STUCK])}); check that nothing has come off and that rod or string run free"
        )
    if of[SLACK] and reel_mm_s is not None:
        way = "compression" if reel_mm_s > 0 else "extension"
        yield (
            f"{end}: the string went slack in fast {way}: its reel pulls in no faster than "
            f"{abs(reel_mm_s):.0f} mm/s at the wheel; what it read too little is left out "
            f"({_how_much(of[SLACK])}), so fast strokes are missing from every figure; "
            "clean or replace the reel"
        )


KINDS = (SPIKE, STUCK, RAIL, DROPOUT, SLACK)


def _how_much(faults: Sequence[FaultSpan]) -> str:
    seconds = sum(fault.end_s - fault.start_s for fault in faults)
    return f"{number(len(faults), 'time')}, {seconds:.{1 if seconds >= 1 else 2}f} s"


def number(count: int, one: str, more: str | None = None) -> str:
    """Count something in words: "1 sample", "2 samples"."""
    return f"{count} {one if count == 1 else more or one + 's'}"
