"""One ride in numbers: how much travel was used, how often it ran out, how fast the wheels moved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.attitude import SlowEnd, attitude, slow_end
from analysis.calibration import Samples
from analysis.contact import FoundStop, found_stop
from analysis.distribution import Distribution, rounded
from analysis.effective import effective_bike
from analysis.events import bottomings, counted_events, toppings
from analysis.motion import SURE, EndMotion, end_motion
from analysis.moved_wheel import moved_by_setup
from analysis.off_ground import off_ground
from analysis.results import Quantity
from analysis.ride_height import ride_height
from analysis.ride_results import EndRide, Exceedance, RideSummary, ShaftSpeeds, Speeds
from analysis.ride_speed import EndPieces, end_pieces, ride_speed
from analysis.sensor_faults import SLACK, STUCK
from analysis.shaft_speed import motion_ratio_at, motion_ratios, shaft_speeds
from analysis.speed_percentiles import speed_percentiles
from analysis.stroke_classes import stroke_classes
from analysis.zero_drift import zero_drift
from ingest.empty_cells import empty_cell_lines
from ingest.errors import CannotAnswer
from ingest.log import Kind, Log
from ingest.records import End, Suspension
from ingest.version import SOFTWARE

SPEED_STEP_MM_S = 0.1
"""Speeds are sorted into steps of this size; their noise is a hundred times as large."""

EXCEEDANCE_STEP_MM_S = 25.0
LEAST_EXCEEDING = 20
"""A curve of rare speeds ends where fewer samples than this remain."""

GRAINS = (np.arange(1, 101) - 0.5) / 100
SHORT_S = 60.0
NO_RATE_S = 10.0
"""How often in ten minutes says nothing where the ride was shorter than this."""

LEAST_SAMPLES = 10
"""What is shorter is no ride."""

MOST_OUT_OF_RANGE = 0.5
"""Where more than this share of the readings of an end is out of range, the rest says nothing either."""

MOVES_MM, MOVES_FROM_TO = 2.0, (0.01, 0.99)
"""On the smoothest road wheels go up and down more than this (common practice, no source)."""

BEYOND_SHARE = 0.05
BEYOND_TIME = 0.01
"""A stop gives a little, and a sensor reads a little too far; a hundredth of the ride is more than that."""


def summarise_ride(
    log: Log,
    rider_sag: Mapping[End, Quantity] | None = None,
    motions: Mapping[End, EndMotion | None] | None = None,
) -> RideSummary:
    """Summarise one ride, front and rear.

    Travel is converted sample by sample and not filtered; percentiles are those of `numpy.percentile`
    (method ``linear``) over all valid samples. Speeds come from `analysis.speed` with the −3 dB point in
    ``bandwidth_hz``; their percentiles run over all samples moving in that direction, the noise taken out
    (`analysis.speed_percentiles`).
    Where the log shows that the stop comes before the nominal travel, bottoming goes by where it was found,
    and a caution says so; percentages of travel stay those of the nominal travel.

    Parameters
    ----------
    log : Log
    rider_sag : mapping of End to Quantity, optional
        Static rider sag of the same setup, mm, to set the ride position against.
    motions : mapping of End to EndMotion or None, optional
        The log's `both_motions`, where somebody has them already.

    Raises
    ------
    CannotAnswer
        Neither end has valid samples, or most of them are out of range; or there are fewer than ten samples.
    """
    _check_length(log)
    bike = effective_bike(log.bike, log.setup)
    # One end after the other: its motion is four times its readings, and is let go before the next is made.
    ends: dict[End, _End] = {}
    for end in End:
        motion = end_motion(log, end) if motions is None else motions[end]
        ends[end] = _end(log, bike.suspension(end), motion, (rider_sag or {}).get(end), ends.get(End.FRONT))
        del motion
    front, rear = ends[End.FRONT], ends[End.REAR]
    why_not = [f"{end}: {one.why_not}" for end, one in ends.items() if one.why_not]
    if front.ride is None and rear.ride is None:
        raise CannotAnswer(f"log {log.id} tells nothing of either end: " + "; ".join(why_not))
    return RideSummary(
        log_id=log.id,
        front=front.ride,
        rear=rear.ride,
        amendments=tuple(amendment.what for amendment in log.amendments),
        cautions=(*_log_cautions(log), *why_not),
        software=SOFTWARE,
        attitude=attitude(bike, front.slow, rear.slow, moved=moved_by_setup(log.bike, log.setup)),
        speed=ride_speed(bike, front.pieces, rear.pieces),
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _End:
    """What is kept of one end: its answer or why there is none, and what both ends together are judged by."""

    ride: EndRide | None = None
    why_not: str | None = None
    slow: SlowEnd | None = None
    pieces: EndPieces | None = None


def _end(
    log: Log,
    suspension: Suspension | None,
    motion: EndMotion | None,
    rider_sag: Quantity | None,
    ahead: _End | None,
) -> _End:
    if motion is None or suspension is None:
        return _End(why_not="not measured; the log has no channel for a sensor at this end")
    slow, pieces = slow_end(motion, None if ahead is None else ahead.slow), end_pieces(motion)
    if motion.distribution.total == 0:
        why = f"not one of {log.rows} samples can be used; check the sensor's calibration and plug"
        return _End(why_not=why, slow=slow, pieces=pieces)
    out = _out_of_range(motion)
    if out > MOST_OUT_OF_RANGE * (log.rows - motion.empty_samples):
        why = (
            f"{out} of {log.rows - motion.empty_samples} readings lie where no wheel can be, "
            "too many to trust the rest; check the topped-out zero, the calibration "
            "and the book figure of the travel"
        )
        return _End(why_not=why)
    return _End(ride=_end_ride(log, motion, suspension, rider_sag), slow=slow, pieces=pieces)


def _out_of_range(motion: EndMotion) -> int:
    """Count the samples masked for where they lie, not for how they move."""
    in_place = sum(fault.samples for fault in motion.faults if fault.kind in (STUCK, SLACK))
    return motion.masked_samples - motion.empty_samples - in_place


def _check_length(log: Log) -> None:
    """Refuse what is too short to be a ride; a log without any sample is somebody else's business."""
    if log.rows and log.rows < LEAST_SAMPLES:
        raise CannotAnswer(
            f"log {log.id} holds {log.rows} samples; a ride takes {LEAST_SAMPLES} at least: "
            "was it cut off, or is it another file?"
        )


def both_motions(log: Log) -> dict[End, EndMotion | None]:
    """Convert both ends of a log to motion, ``None`` for an end that was not measured."""
    return {end: end_motion(log, end) for end in End}


def lost_samples(log: Log) -> int:
    """Count the samples lost on the way, as the link or the gaps have it, whichever knows of more."""
    return max(log.link.lost_samples, sum(gap.lost_samples for gap in log.gaps))


def _end_ride(log: Log, motion: EndMotion, suspension: Suspension, rider_sag: Quantity | None) -> EndRide:
    travel = motion.distribution
    valid_s = _valid_s(motion)
    stop = found_stop(motion)
    full_mm = motion.travel_mm if stop is None else stop.travel_mm
    deepest_mm = float(travel.values[-1])
    p50, p95, p99 = travel.quantiles((0.50, 0.95, 0.99)).tolist()
    speeds = _distribution([part.speed_mm_s for part in motion.segments])
    compression, rebound = speed_percentiles(speeds, _speed_noise(motion))
    return EndRide(
        duration_s=valid_s,
        samples=travel.total,
        lost_samples=lost_samples(log),
        travel_mm=motion.travel_mm,
        travel_used_mm=deepest_mm,
        travel_used_percent=100.0 * deepest_mm / motion.travel_mm,
        mean_mm=travel.mean,
        p50_mm=p50,
        p95_mm=p95,
        p99_mm=p99,
        bottoming=counted_events(bottomings(motion, full_mm), valid_s),
        topping=counted_events(toppings(motion), valid_s),
        compression_speed_mm_s=compression,
        rebound_speed_mm_s=rebound,
        bandwidth_hz=motion.bandwidth_hz,
        grains_mm=tuple(travel.quantiles(GRAINS).tolist()),
        compression_exceedance=_exceedance(speeds.positive(), speeds.total),
        rebound_exceedance=_exceedance(speeds.mirrored().positive(), speeds.total),
        masked_samples=motion.masked_samples,
        cautions=(
            *motion.cautions,
            *_did_not_move(motion),
            *_beyond_the_stops(motion),
            *_short_of_nominal(motion, stop),
            *_hidden_by_noise(motion, (compression, rebound)),
        ),
        found_travel_mm=None if stop is None else stop.travel_mm,
        faults=motion.faults,
        zero_drift=zero_drift(motion),
        height=ride_height(motion, full_mm, rider_sag),
        strokes=stroke_classes(motion.segments, valid_s),
        off_ground=off_ground(motion),
        shaft=_shaft(motion, suspension, (compression, rebound)),
        dead_band_mm_s=motion.dead_band_mm_s,
    )


def _distribution(speeds: Sequence[Samples]) -> Distribution:
    return rounded(speeds, SPEED_STEP_MM_S)


def _shaft(
    motion: EndMotion, suspension: Suspension, wheel: tuple[Speeds | None, Speeds | None]
) -> ShaftSpeeds | None:
    """Speeds at the shaft; ``None`` where the bike file does not say how the shaft moves with the wheel."""
    if suspension.leverage is not None:
        ratios = motion_ratios(suspension.leverage, motion.travel_mm)
        shaft = _distribution(shaft_speeds(motion, ratios))
        leverage = 1.0 / motion_ratio_at(ratios, motion.distribution.mean)
        compression, rebound = speed_percentiles(shaft, _speed_noise(motion) / leverage)
    elif suspension.kind == "telescopic fork":
        (compression, rebound), leverage = wheel, 1.0
    else:
        return None
    return ShaftSpeeds(compression=compression, rebound=rebound, leverage_at_ride=leverage)


def _speed_noise(motion: EndMotion) -> float:
    """Standard deviation of what noise adds to a speed, mm/s."""
    return motion.dead_band_mm_s / SURE


def _hidden_by_noise(motion: EndMotion, both: tuple[Speeds | None, Speeds | None]) -> Iterator[str]:
    if any(speeds is not None and speeds.p50 < motion.dead_band_mm_s for speeds in both):
        yield (
            f"{motion.end}: half of the time the wheel moves slower than {motion.dead_band_mm_s:.0f} mm/s, "
            "which noise of the reading alone can make; the p50 of its speeds is an estimate"
        )


def _short_of_nominal(motion: EndMotion, stop: FoundStop | None) -> Iterator[str]:
    if stop is not None:
        yield (
            f"{motion.end}: the stop comes at {stop.travel_mm:.0f} mm, before the nominal "
            f"{motion.travel_mm:.0f} mm, as {stop.contacts} contacts with it show; "
            "bottoming goes by where it was found"
        )


def _did_not_move(motion: EndMotion) -> Iterator[str]:
    low_mm, high_mm = motion.distribution.quantiles(MOVES_FROM_TO).tolist()
    if high_mm - low_mm < MOVES_MM:
        yield f"{motion.end}: did not move: is the sensor connected, and was this a ride?"


def _beyond_the_stops(motion: EndMotion) -> Iterator[str]:
    """Say so where a wheel rode where no wheel can be: its zero or its calibration is wrong."""
    travel = motion.distribution
    low_mm, high_mm = -BEYOND_SHARE * motion.travel_mm, (1 + BEYOND_SHARE) * motion.travel_mm
    above_low, above_high = travel.above(np.array([low_mm, high_mm])) / travel.total
    for share, where in ((1 - above_low, "above topped out"), (above_high, "past full bump")):
        if share > BEYOND_TIME:
            yield (
                f"{motion.end}: {100 * share:.0f} % of the ride lies well {where}, where no wheel can be: "
                "check the topped-out zero and the calibration, and correct them with `flatfoot amend`"
            )


def _valid_s(motion: EndMotion) -> float:
    """Seconds of valid data: masked samples and gaps do not count."""
    return float(
        sum(
            part.dt_s * (part.travel_mm.size - np.count_nonzero(np.isnan(part.travel_mm)))
            for part in motion.segments
        )
    )


def _exceedance(speeds: Distribution, samples: int) -> Exceedance:
    """Share of the time faster than each speed of a grid, of all samples that have a speed."""
    if not speeds.total:
        return Exceedance(speed_mm_s=(), share=())
    grid = np.arange(0.0, speeds.values[-1], EXCEEDANCE_STEP_MM_S)
    above = speeds.above(grid)
    kept = above >= LEAST_EXCEEDING
    return Exceedance(speed_mm_s=tuple(grid[kept].tolist()), share=tuple((above[kept] / samples).tolist()))


def _log_cautions(log: Log) -> Iterator[str]:
    lost = lost_samples(log)
    if log.kind is not Kind.RIDE:
        yield "this log was recorded as a sag check, not as a ride"
    if log.ending.status != "complete":
        yield f"the recording was cut off: {log.ending.reason}"
    if log.duration_s < NO_RATE_S:
        yield (
            f"only {log.duration_s:.1f} s long: how often something happens in ten minutes, "
            "its rare events and high percentiles mean nothing"
        )
    elif log.duration_s < SHORT_S:
        yield (
            f"a short ride of {log.duration_s:.0f} s: its rare events and high percentiles "
            "say little about the next ride"
        )
    if lost:
        least = "" if log.link.lost_exact and all(gap.exact for gap in log.gaps) else "at least "
        yield f"{least}{lost} of {log.rows + lost} samples were lost on the way; gaps are left out"
    yield from empty_cell_lines(log)
