"""The sag check: unladen and rider sag of both ends, with friction band, doubt and advice.

Sag is the middle between settled from above and settled from below, counted from the topped-out reading of
the same log: friction holds the suspension short of its balance on either side; the middle takes that out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from analysis.effective import effective_bike
from analysis.gum import Contribution, with_uncertainty
from analysis.motion import EndMotion, end_motion
from analysis.phase_search import find_phases
from analysis.phases import (
    FEET_DOWN,
    FROM_ABOVE,
    FROM_BELOW,
    RIDER,
    ROLLING,
    TOPPED_OUT,
    UNLADEN,
    Named,
    named_by_marks,
    names_phases,
)
from analysis.results import Budget, EndSag, Quantity, SagCheck
from analysis.rolling import half_motion_mm, held_back, scatter, with_rolling
from analysis.sag_advice import advice_for
from analysis.sag_budget import (
    aslant,
    budget_of,
    calibration,
    friction,
    repeatability,
    resolution,
    restlessness,
    sitting,
    topped_out,
)
from analysis.sag_cautions import (
    about_creep,
    about_hanging,
    about_loads,
    about_repeats,
    about_zero,
    reads_backwards,
)
from analysis.sag_faults import about_feet, about_further_out, about_opposite, about_range
from analysis.sag_readings import RawEnd, Reading, exact_track, raw_end, take
from analysis.sag_springs import with_springs
from analysis.seat_drop import seat_drop
from analysis.targets import target_sag, word_for
from ingest.errors import CannotAnswer
from ingest.log import Kind, Log
from ingest.records import Bike, End
from ingest.version import SOFTWARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """One sag with everything its doubt was added up from. ``half_band_mm``: ``None`` with one side only."""

    value_mm: float
    half_band_mm: float | None
    budget: tuple[Contribution, ...]

    @property
    def quantity(self) -> Quantity:
        """Value and expanded uncertainty."""
        return with_uncertainty(self.value_mm, self.budget)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndReckoning:
    """One end worked through: each load's `Reckoning` (``None`` where not measured), readings, cautions."""

    travel_mm: float
    unladen: Reckoning | None
    rider: Reckoning | None
    zero_reading: float | None
    readings: tuple[Reading, ...]
    cautions: tuple[str, ...]
    beside: Mapping[str, Quantity] = field(default_factory=dict)
    """Feet-down and rolling sag by the name of their marks, where measured."""
    hung_free: bool = True
    """False where the wheel may never have hung free: then no word stands on these numbers."""

    @property
    def unladen_sag(self) -> Quantity | None:
        """Unladen sag with its doubt."""
        return None if self.unladen is None else self.unladen.quantity

    @property
    def rider_sag(self) -> Quantity | None:
        """Rider sag with its doubt."""
        return None if self.rider is None else self.rider.quantity


def check_sag(log: Log) -> SagCheck:
    """Work out unladen and rider sag of both ends.

    Parameters
    ----------
    log : Log
        A recording of the sag procedure, with or without marks (`analysis.phases` has their words).

    Returns
    -------
    SagCheck
        An end that has no sensor is ``None``; a load that was not measured is ``None`` with its reason in
        that end's ``cautions``.

    Raises
    ------
    CannotAnswer
        Neither end gives a single sag, or the log is a ride without marks.
    """
    if log.kind is not Kind.SAG and not names_phases(log.marks):
        raise CannotAnswer(
            f"log {log.id} was recorded as a {log.kind} and has no marks; sag needs a log of kind sag, "
            "or marks that say topped out, unladen and rider"
        )
    bike = effective_bike(log.bike, log.setup)
    reckoned, shared = reckon(log, bike)
    ends = {
        end: with_springs(bike, log.rider, end, _result(bike, end, work)) for end, work in reckoned.items()
    }
    drop = seat_drop(bike, ends)
    if not any(_any_sag(found) for found in ends.values()):
        reasons = [caution for work in reckoned.values() for caution in work.cautions]
        why = "; ".join(dict.fromkeys([*shared, *reasons])) or "no end of the bike has a sensor in it"
        raise CannotAnswer(f"log {log.id}: no sag can be read: {why}")
    return SagCheck(
        log_id=log.id,
        front=ends.get(End.FRONT),
        rear=ends.get(End.REAR),
        advice=advice_for(ends, drop),
        seat_drop_mm=drop,
        amendments=tuple(amendment.what for amendment in log.amendments),
        cautions=(*shared, *(f"{end}: no sensor in this log" for end in End if end not in ends)),
        software=SOFTWARE,
    )


def _any_sag(found: EndSag) -> bool:
    sags = (found.unladen_sag_mm, found.rider_sag_mm, found.feet_down_sag_mm, found.rolling_sag_mm)
    return any(sag is not None for sag in sags)


def reckon(log: Log, bike: Bike) -> tuple[dict[End, EndReckoning], tuple[str, ...]]:
    """Work both ends through, budgets included; also give the cautions that concern the whole log.

    ``bike`` is the bike under the log's setup. Ends without a sensor are left out.
    """
    raw = {end: found for end in End if (found := raw_end(log, bike, end)) is not None}
    named = _named(log, raw)
    work = {end: _reckon_end(log, bike, one, named) for end, one in raw.items()}
    return work, (*named.cautions, *about_opposite(raw), *about_feet(bike, log.rider, work))


def _named(log: Log, raw: Mapping[End, RawEnd]) -> Named:
    spans = {end: one.spans for end, one in raw.items()}
    if names_phases(log.marks):
        return with_rolling(named_by_marks(spans, log.marks), raw, log.marks)
    zeros = {end: log.zeros[end] * one.mm_each for end, one in raw.items() if end in log.zeros}
    return with_rolling(find_phases(spans, zeros), raw, log.marks)


def _reckon_end(log: Log, bike: Bike, raw: RawEnd, named: Named) -> EndReckoning:
    cautions: list[str] = []
    tops = named.of(raw.end, TOPPED_OUT)
    zeros = [raw.raw(phase.span) for phase in tops]
    zero = float(np.mean(zeros)) if zeros else None
    motion = end_motion(log, raw.end, zero=zero)
    if motion is None:
        raise CannotAnswer(f"log {log.id}: {raw.end} has a channel but no motion; check the bike file")
    cautions += [*motion.cautions, *about_creep(raw, named)]
    cautions += about_zero(raw, zeros, known_before=raw.end in log.zeros)
    cautions += [*about_further_out(raw, zeros, log.zeros.get(raw.end)), *about_range(raw, named)]
    doubtful = [] if names_phases(log.marks) else about_hanging(raw, zeros, named)
    cautions += doubtful
    readings = take(exact_track(motion), [phase for phase in named.phases if phase.end is raw.end])
    backwards = reads_backwards(raw, named)
    reckonings = {} if backwards else _both_loads(raw, motion, readings, zero, len(zeros))
    bands = {name: reckoning.half_band_mm for name, reckoning in reckonings.items()}
    cautions += [backwards] if backwards else about_loads(raw.end, readings, bands)
    sags = {name: reckoning.quantity for name, reckoning in reckonings.items()}
    doubts = {name: sags[name].expanded_uncertainty for name in (UNLADEN, RIDER) if name in sags}
    cautions += about_repeats(raw.end, readings, doubts)
    if raw.tool is not None and raw.tool.line.dof == 0:
        cautions.append(f"{raw.end}: two calibration points cannot show whether the sensor is linear")
    suspension = bike.suspension(raw.end)
    return EndReckoning(
        travel_mm=suspension.travel_mm if suspension is not None else motion.travel_mm,
        unladen=reckonings.get(UNLADEN),
        rider=reckonings.get(RIDER),
        zero_reading=zero if zero is not None else log.zeros.get(raw.end),
        readings=readings,
        cautions=tuple(cautions),
        beside={name: sags[name] for name in (FEET_DOWN, ROLLING) if name in sags},
        hung_free=not doubtful,
    )


def _both_loads(
    raw: RawEnd, motion: EndMotion, readings: Sequence[Reading], zero: float | None, zeros: int
) -> dict[str, Reckoning]:
    """Reckon each load; one read from one side only, or rolling, borrows another load's friction band."""
    sides = {name: _by_side(readings, name) for name in (UNLADEN, RIDER, FEET_DOWN, ROLLING)}
    bands = {name: _half_band(groups) for name, groups in sides.items()}
    tops = [reading.travel_mm for reading in readings if reading.phase.name == TOPPED_OUT]
    done: dict[str, Reckoning] = {}
    for name, groups in sides.items():
        used = [group for group in groups.values() if group]
        if not used:
            continue
        value = float(np.mean([np.mean([reading.travel_mm for reading in group]) for group in used]))
        band = bands[name]
        lent = (bands[one] for one in (RIDER, UNLADEN) if one != name and bands[one] is not None)
        other = next(lent, None)
        budget = (
            _resolution(raw, used, zero, zeros),
            _movement(name, [reading for group in used for reading in group]),
            repeatability([[reading.travel_mm for reading in group] for group in used]),
            *((sitting(_sat_down(readings)),) if name != UNLADEN else ()),
            _friction(name, raw, used, band, other),
            _calibration(raw, motion, value),
            topped_out(tops, measured=motion.zero_known),
            *aslant(raw.tool, value),
        )
        done[name] = Reckoning(value_mm=value, half_band_mm=band, budget=budget)
    return done


def _movement(name: str, readings: Sequence[Reading]) -> Contribution:
    seconds = [reading.seconds_mm for reading in readings]
    if name == ROLLING and sum(means.size for means in seconds) >= 2:
        return scatter(np.concatenate(seconds))
    return restlessness(seconds)


def _friction(
    name: str, raw: RawEnd, used: Sequence[Sequence[Reading]], band: float | None, other: float | None
) -> Contribution:
    if name == ROLLING:
        moved = [half_motion_mm(raw.track, reading.phase.span) for group in used for reading in group]
        return held_back(raw.end, other, float(np.mean(moved)))
    return friction(raw.end, band if band is not None else other, both_sides=band is not None)


def _sat_down(readings: Sequence[Reading]) -> int:
    """Count how often somebody sat down: runs of readings with the rider aboard, others between them."""
    ordered = sorted(readings, key=lambda reading: reading.phase.span.start_s)
    aboard = [False, *(reading.phase.name in (RIDER, FEET_DOWN, ROLLING) for reading in ordered)]
    return sum(now and not before for before, now in pairwise(aboard))


def _by_side(readings: Sequence[Reading], name: str) -> dict[str | None, list[Reading]]:
    """Group one load's readings by side; readings of unknown side count only where no side is known."""
    groups: dict[str | None, list[Reading]] = {FROM_ABOVE: [], FROM_BELOW: [], None: []}
    for reading in readings:
        if reading.phase.name == name:
            groups[reading.phase.side].append(reading)
    if groups[FROM_ABOVE] or groups[FROM_BELOW]:
        groups[None] = []
    return groups


def _half_band(groups: Mapping[str | None, Sequence[Reading]]) -> float | None:
    above, below = groups[FROM_ABOVE], groups[FROM_BELOW]
    if not above or not below:
        return None
    return float(np.mean([r.travel_mm for r in below]) - np.mean([r.travel_mm for r in above])) / 2


def _resolution(
    raw: RawEnd, used: Sequence[Sequence[Reading]], zero: float | None, zeros: int
) -> Contribution:
    readings = [reading for group in used for reading in group]
    step = max(raw.wheel_mm_of_step(raw.raw(reading.phase.span), zero) for reading in readings)
    return resolution(step, len(readings), zeros)


def _calibration(raw: RawEnd, motion: EndMotion, sag_mm: float) -> Contribution:
    if raw.tool is None:
        return Contribution(
            cause="calibration",
            standard_uncertainty_mm=0.0,
            dof=float("inf"),
            basis="imported as wheel travel: the logger's own calibration is not known here",
        )
    line = raw.tool.line
    share = None if line.slope_se is None else line.slope_se / abs(line.slope)
    range_mm = abs(raw.mm_each) * (line.span.high - line.span.low)
    return calibration(sag_mm, share, line.dof, min(range_mm, motion.travel_mm))


def _result(bike: Bike, end: End, work: EndReckoning) -> EndSag:
    target = target_sag(bike, end)
    target_mm = None if target is None else target.in_mm(work.travel_mm)
    unladen, rider = work.unladen_sag, work.rider_sag
    banded = work.rider or work.unladen
    band = None if banded is None or banded.half_band_mm is None else abs(banded.half_band_mm)
    word, cautions = "cannot tell", list(work.cautions)
    if target_mm is None:
        cautions.append(f"{end}: no target sag: the bike file names neither a use nor target_sag_percent")
    elif rider is not None and work.hung_free:
        word = word_for(rider.value, rider.expanded_uncertainty, target_mm)
    return EndSag(
        travel_mm=work.travel_mm,
        unladen_sag_mm=unladen,
        rider_sag_mm=rider,
        unladen_sag_percent=_percent(unladen, work.travel_mm),
        rider_sag_percent=_percent(rider, work.travel_mm),
        friction_band_mm=band,
        target_sag_mm=target_mm,
        word=word,
        zero_reading=work.zero_reading,
        readings=tuple(reading.result() for reading in work.readings),
        cautions=tuple(cautions),
        unladen_budget=_laid_out(work.unladen),
        rider_budget=_laid_out(work.rider),
        rolling_sag_mm=work.beside.get(ROLLING),
        feet_down_sag_mm=work.beside.get(FEET_DOWN),
    )


def _laid_out(work: Reckoning | None) -> Budget | None:
    return None if work is None else budget_of(work.value_mm, work.budget)


def _percent(sag: Quantity | None, travel_mm: float) -> float | None:
    return None if sag is None else 100 * sag.value / travel_mm
