"""What was wrong with readings, in words: each kind once, how much of it, and what to look at."""

from __future__ import annotations

from collections import defaultdict

from analysis.ride_results import EndRide, FaultSpan, RideSummary
from dashboard import units as show
from dashboard.ride_events import ends_of
from dashboard.units import Units
from dashboard.wording import Table, many
from ingest.records import End

CHECKS = {
    "spike": "a loose plug, or the cable beside an ignition lead: push the plugs home, move the cable away",
    "stuck": "the reading stood still while the bike moved: look for a jammed rod or a clamp that slipped",
    "at a rail": "the converter was at its end: look for a broken wire, a short, or a sensor mounted so that "
    "it runs out of its range",
    "dropout": "the reading fell away for a moment: look for a loose contact in plug or cable",
    "slack string": "the string hung slack when the wheel came up fast, so it read too little there: "
    "look at the spring that winds it; deepest and fastest may have been more",
}


KIND_WORDS = {"at a rail": "out of range", "dropout": "contact lost"}


def fault_word(kind: str) -> str:
    """Call a kind of fault as a mechanic would.

    >>> fault_word("at a rail"), fault_word("stuck")
    ('out of range', 'stuck')
    """
    return KIND_WORDS.get(kind, kind)


def fault_table(ride: RideSummary) -> Table:
    """Write one row for each kind of fault at each end: how often, how long, what to check."""
    rows = []
    for end, result in ends_of(ride):
        for kind, spans in by_kind(result).items():
            rows.append(
                (f"{end}: {fault_word(kind)}", _much(spans), CHECKS.get(kind, "look at sensor and cable"))
            )
    return Table(head=("left out", "how much", "what to look at"), rows=tuple(rows))


def by_kind(result: EndRide) -> dict[str, list[FaultSpan]]:
    """Sort the faulty spans of one end by their kind, in the order the kinds first came."""
    kinds: dict[str, list[FaultSpan]] = defaultdict(list)
    for fault in result.faults:
        kinds[fault.kind].append(fault)
    return dict(kinds)


def _much(spans: list[FaultSpan]) -> str:
    samples = sum(span.samples for span in spans)
    first = show.duration(spans[0].start_s)
    often = "once" if len(spans) == 1 else f"{len(spans)} times"
    return f"{often}, {many(samples, 'reading')}, first at {first}"


def fault_lines(ride: RideSummary) -> tuple[str, ...]:
    """Say in one sentence an end how much of the ride its faults took, for the head of the page."""
    return tuple(
        f"{str(end).capitalize()} sensor: {_share(result)} of the readings are faulty and left out "
        f"({', '.join(map(fault_word, by_kind(result)))})."
        for end, result in ends_of(ride)
        if result.faults
    )


def _share(result: EndRide) -> str:
    faulty = sum(fault.samples for fault in result.faults)
    share = 100.0 * faulty / max(result.samples + result.masked_samples, 1)
    return show.percent(share, 1) if share >= 0.1 else "fewer than 1 in 1000"


def drift_lines(ride: RideSummary, units: Units = Units.MM) -> tuple[str, ...]:
    """Say how the topped-out reading moved over the ride, where the ride shows it."""
    return tuple(
        line for end, result in ends_of(ride) if (line := _drift_line(end, result, units)) is not None
    )


def _drift_line(end: End, result: EndRide, units: Units) -> str | None:
    drift = result.zero_drift
    if drift is None:
        return None
    seen = {"topping": "topped out", "standing": "stood still"}.get(drift.seen, drift.seen)
    moved = abs(drift.drift_mm.value) > drift.drift_mm.expanded_uncertainty
    text = show.length_number(drift.drift_mm.value, units, 1, sign=True)
    doubt = show.length_number(drift.drift_mm.expanded_uncertainty, units, 1)
    said = f"{str(end).capitalize()}: the zero moved by {text} ± {doubt} {units} over the ride"
    if not moved:
        said = f"{str(end).capitalize()}: the zero held, {text} ± {doubt} {units} over the ride"
    do = "; look at the sensor's clamps, and measure topped out again" if moved else ""
    return f"{said}, seen {many(drift.sightings, 'time')} where it {seen}{do}."
