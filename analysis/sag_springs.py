"""What a sag check says about the springs: wheel rate present and preload change, added to each end."""

from __future__ import annotations

from dataclasses import replace

from analysis.load_change import load_change
from analysis.preload import known_preload, preload_change
from analysis.results import EndSag, MeasuredRate
from analysis.spring_advice import rate_caution
from analysis.spring_statics import along_travel, spring_end, total_rate_n_mm
from analysis.targets import unladen_target
from analysis.wheel_rate import measured_rate
from ingest.errors import CannotAnswer
from ingest.records import Bike, End, Rider


def with_springs(bike: Bike, rider: Rider | None, end: End, found: EndSag) -> EndSag:
    """Add wheel rate and preload change to the sag of one end, as far as its sags and the bike file go.

    ``bike`` is the bike under the log's setup.
    """
    suspension = bike.suspension(end)
    if suspension is None or found.rider_sag_mm is None:
        return found
    change = None
    if found.target_sag_mm is not None:
        loose = unladen_target(bike, end)
        change = preload_change(
            suspension,
            found.unladen_sag_mm,
            found.rider_sag_mm,
            found.target_sag_mm,
            None if loose is None else loose.in_mm(found.travel_mm),
        )
    rate = _rate(bike, rider, end, found)
    doubt = rate_caution(end, rate)
    return replace(
        found,
        wheel_rate=rate,
        preload=change,
        cautions=found.cautions if doubt is None else (*found.cautions, doubt),
    )


def _rate(bike: Bike, rider: Rider | None, end: End, found: EndSag) -> MeasuredRate | None:
    load, suspension = load_change(bike, end, rider), bike.suspension(end)
    if load is None or suspension is None:
        return None
    try:
        along = along_travel(bike, end)
    except CannotAnswer:
        return None
    rate = total_rate_n_mm(suspension)
    spring = None
    # Through a changing leverage the preload force is part of the rate: without preload nothing to expect.
    if rate is not None and (suspension.preload_mm is not None or suspension.leverage is None):
        spring = spring_end(suspension, rate, known_preload(suspension).value)
    return measured_rate(found, load, along, spring)
