"""What a ride answers: frozen results, units in the field names, doubt beside the number.

The field names of `RideSummary` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.results import Quantity
from ingest.records import End


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelEvent:
    """One bottoming (``rubber``, ``near full`` or ``hard stop``) or one topping (``topped out``).

    ``entry_speed_mm_s`` is ``None`` where the passing itself was not recorded. ``dwell_s`` is how long the
    wheel stayed past 95 % of the travel (topping: at 1 mm or less). ``drop_height_mm`` is the severity: the
    height of a free fall that ends at the entry speed, v² / 2g. ``contact``: the stop was recognised from the
    motion.
    """

    t_s: float
    peak_mm: float
    entry_speed_mm_s: float | None
    grade: str
    dwell_s: float = 0.0
    drop_height_mm: float | None = None
    contact: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """Events of one kind. ``count`` leaves the grade ``rubber`` out; ``events`` lists all."""

    count: int
    per_10_min: float
    events: tuple[TravelEvent, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Percentiles over all samples moving in one direction, as positive numbers, at the wheel."""

    p50: float
    p95: float
    p99: float
    max: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Exceedance:
    """Share of the ride spent faster than each speed, in one direction."""

    speed_mm_s: tuple[float, ...]
    share: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of a ride, in seconds from the first sample, and what it was."""

    kind: str
    start_s: float
    end_s: float

    @property
    def duration_s(self) -> float:
        """How long it lasted."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultSpan:
    """Readings of one end that cannot be motion, masked: what was wrong, from when to when, how many.

    ``kind`` is one of ``spike``, ``stuck``, ``at a rail``, ``dropout``, ``slack string``. Only ``slack
    string`` may hold good samples: what it reads then is too little, never too much.
    """

    kind: str
    start_s: float
    end_s: float
    samples: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroDrift:
    """How the topped-out reading moved during the ride, as far as the ride shows it.

    ``drift_mm`` is the last known topped-out (or standing) reading less the first, ``sightings`` how often it
    was seen, ``seen`` in what (``topping`` or ``standing``). Nothing is corrected by it.
    """

    drift_mm: Quantity
    sightings: int
    seen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RideHeight:
    """Where the suspension lives on this ride, and what is left from there.

    ``interval_mm`` is the 95 % interval of the mean ride position within this ride. ``against_sag_mm`` is the
    mean less the static rider sag of a sag check of the same setup (``None`` without one).
    ``smooth_mm`` and ``rough_mm`` are the mean over the third of the ride with the slowest and the fastest
    wheel; ``rough_word`` is ``packs down`` (deeper where it is rough), ``jacks up``, ``holds its height`` or
    ``cannot tell``, and ``rough_change_mm`` their difference. Compression travel left: ``left_mm`` at the
    ride position, ``left_at_deepest_mm`` at the deepest moment (negative where a stop gave), to the nominal
    full travel or to where the stop was found.
    """

    mean_mm: float
    interval_mm: tuple[float, float] | None
    against_sag_mm: Quantity | None
    smooth_mm: float | None
    rough_mm: float | None
    rough_change_mm: Quantity | None
    rough_word: str
    left_mm: float
    left_at_deepest_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeClass:
    """Strokes of one size, there and back, counted by rainflow (ASTM E1049), and how many in ten minutes."""

    from_mm: float
    to_mm: float
    count: float
    per_10_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftSpeeds:
    """The same percentiles at the damper shaft, positive numbers; in a fork the shaft moves as the wheel."""

    compression: Speeds | None
    rebound: Speeds | None
    leverage_at_ride: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Attitude:
    """How the bike sat while riding, both ends together, against the state its file was measured in.

    ``pitch_deg`` (ISO 8855, nose down positive) of the mean ride positions; ``p5`` and ``p95`` of the pitch
    over the ride. Rake and trail at the mean ride positions; ``None`` where the bike file lacks the
    geometry. ``measured_state`` says what the file's rake was measured in. ``front_percent`` and
    ``rear_percent`` are the ride positions in shares of their travel; ``level_word`` is ``level``,
    ``front lower``, ``rear lower`` or ``cannot tell``.
    """

    front_percent: float
    rear_percent: float
    level_word: str
    pitch_deg: float | None
    pitch_p5_deg: float | None
    pitch_p95_deg: float | None
    rake_deg: float | None
    trail_mm: float | None
    measured_state: str
    dives: tuple[Span, ...]
    squats: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSpeed:
    """Ride speed from how much later the rear wheel meets what the front wheel met, or why it is unknown.

    ``speed_m_s`` is the middle over the ride with its doubt; ``slowest_m_s`` and ``fastest_m_s`` what nine in
    ten of the pieces lie between; ``pieces`` how many of ``pieces_tried`` gave an answer.
    """

    speed_m_s: Quantity | None
    slowest_m_s: float | None
    fastest_m_s: float | None
    pieces: int
    pieces_tried: int
    unknown_because: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EndRide:
    """What one end did on one ride. Travel from topped out, compression positive, speeds at the wheel.

    Speeds are ``None`` where nothing moved that way or no stretch was long enough to differentiate.
    ``found_travel_mm`` is where the stop was found, if before the nominal travel; ``dead_band_mm_s`` the
    speed below which the exceedance curves say nothing, because noise alone gives as much. ``off_ground`` are
    the spans the wheel hung free.
    """

    duration_s: float
    samples: int
    lost_samples: int
    travel_mm: float
    travel_used_mm: float
    travel_used_percent: float
    mean_mm: float
    p50_mm: float
    p95_mm: float
    p99_mm: float
    bottoming: Events
    topping: Events
    compression_speed_mm_s: Speeds | None
    rebound_speed_mm_s: Speeds | None
    bandwidth_hz: float
    grains_mm: tuple[float, ...]
    compression_exceedance: Exceedance
    rebound_exceedance: Exceedance
    masked_samples: int = 0
    cautions: tuple[str, ...] = ()
    found_travel_mm: float | None = None
    faults: tuple[FaultSpan, ...] = ()
    zero_drift: ZeroDrift | None = None
    height: RideHeight | None = None
    strokes: tuple[StrokeClass, ...] = ()
    off_ground: tuple[Span, ...] = ()
    shaft: ShaftSpeeds | None = None
    dead_band_mm_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSummary:
    """One ride, both ends, and both together."""

    log_id: str
    front: EndRide | None
    rear: EndRide | None
    amendments: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    software: str = ""
    attitude: Attitude | None = None
    speed: RideSpeed | None = None

    def end(self, end: End) -> EndRide | None:
        """Give what one end did, ``None`` where it was not measured."""
        return self.front if end is End.FRONT else self.rear
