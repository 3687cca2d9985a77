"""What people write down: sensors, bike, rider, setup, job. Plain records, no files and no arithmetic.

Units are in the field names. What is not known is ``None``, never a likely value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from ingest.chassis import Chain, Headlight, Lean, LinkagePoints, Plates, Stands


class End(StrEnum):
    """One end of the bike."""

    FRONT = "front"
    REAR = "rear"


class Measures(StrEnum):
    """What a sensor follows."""

    WHEEL_TRAVEL = "wheel travel"
    SHOCK_STROKE = "shock stroke"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorLine:
    """How a sensor lies that does not run along the stroke: three lengths, measured topped out.

    The sensor and the stroke meet at the end that moves; each has its own fixed end on the same part (fork
    leg, shock body). ``fixed_ends_apart_mm`` is between the two fixed ends, ``stroke_line_mm`` from the
    stroke's fixed end to the moving end, ``sensor_mm`` from the sensor's fixed end to the moving end. Each is
    good to ``give_or_take_mm``, at the most.
    """

    fixed_ends_apart_mm: float
    stroke_line_mm: float
    sensor_mm: float
    give_or_take_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One potentiometer: where its counts come from and what they stand for.

    ``calibration`` holds the reference points ``(counts, mm)`` as they were taken, two or more; the fit is
    `analysis`'s work: a straight line, or the ``curve`` (quadratic, cubic) a calibration showed to be needed.
    ``zero_count`` is the reading with the wheel hanging free in this mounting. With ``line``, the mm of the
    calibration are along the sensor itself; without, the sensor runs along what it measures.
    """

    end: End
    channel: int
    measures: Measures = Measures.WHEEL_TRAVEL
    calibration: tuple[tuple[float, float], ...]
    zero_count: float | None = None
    name: str | None = None
    curve: str | None = None
    line: SensorLine | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leverage:
    """Wheel travel against shock stroke: a table ``(wheel mm, stroke mm)`` or one constant ratio.

    Exactly one of the two is given. ``ratio`` is d(wheel travel) / d(shock stroke).
    """

    table: tuple[tuple[float, float], ...] | None = None
    ratio: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspension:
    """One end of a bike in one state. Travel and positions at the wheel, preload and spring at the spring.

    ``spring_rate_n_mm`` is one spring's; ``springs`` of them work side by side (``None``: the rate is that of
    all together). ``spring_free_length_mm`` and ``spring_solid_length_mm`` are of the spring on the bench,
    unloaded and pressed until the coils touch. ``preload_mm`` is the free length less the length of the
    spring with the wheel hanging; the adjuster goes from ``preload_min_mm`` to ``preload_max_mm``, and one
    turn of it is ``thread_pitch_mm``. ``axle_load_kg`` is what a scale under this wheel shows with nobody
    aboard, ``unsprung_mass_kg`` the part of it that no spring carries. ``air_area_mm2`` and ``air_column_mm``
    are area and height, both legs together and topped out, of the air above the oil.
    """

    kind: str
    travel_mm: float
    leverage: Leverage | None = None
    spring_rate_n_mm: float | None = None
    springs: int | None = None
    springs_available_n_mm: tuple[float, ...] | None = None
    spring_free_length_mm: float | None = None
    spring_solid_length_mm: float | None = None
    preload_mm: float | None = None
    preload_min_mm: float | None = None
    preload_max_mm: float | None = None
    thread_pitch_mm: float | None = None
    axle_load_kg: float | None = None
    unsprung_mass_kg: float | None = None
    air_area_mm2: float | None = None
    air_column_mm: float | None = None
    target_sag_percent: tuple[float, float] | None = None
    compression_clicks: int | None = None
    rebound_clicks: int | None = None
    oil_level_mm: float | None = None
    raised_in_clamps_mm: float | None = None
    full_bump_room_mm: float | None = None
    clamp_parallel_mm: float | None = None
    shock_length_mm: float | None = None
    shock_stroke_mm: float | None = None
    fork_spacer_mm: float | None = None
    plates_fitted: str | None = None
    plates: tuple[Plates, ...] = ()
    linkage: LinkagePoints | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bike:
    """One motorcycle in one state: as its file says, or as `analysis.effective` makes it from a setup.

    ``measured_state`` is the state in which rake and wheelbase were measured: ``topped out``, ``unladen`` or
    ``rider aboard``. ``seat_height_mm`` is from the ground to where the rider sits, in ``seat_height_state``,
    one of the same three. ``belly_height_mm`` is of the lowest part under the bike, in the state of the
    geometry.
    """

    name: str
    id: str | None = None
    use: str | None = None
    wheelbase_mm: float | None = None
    rake_deg: float | None = None
    fork_offset_mm: float | None = None
    front_wheel_radius_mm: float | None = None
    rear_wheel_radius_mm: float | None = None
    measured_state: str | None = None
    mass_kg: float | None = None
    seat_ahead_of_rear_axle_mm: float | None = None
    seat_height_mm: float | None = None
    seat_height_state: str | None = None
    belly_height_mm: float | None = None
    belly_ahead_of_rear_axle_mm: float | None = None
    stands: Stands | None = None
    lean: Lean | None = None
    chain: Chain | None = None
    headlight: Headlight | None = None
    front: Suspension | None = None
    rear: Suspension | None = None
    sensors: Mapping[End, Sensor] = field(default_factory=dict)

    @property
    def identity(self) -> str:
        """What tells two bikes apart: the frame number or the shop's own, else the name."""
        return self.id if self.id is not None else self.name

    def suspension(self, end: End) -> Suspension | None:
        """Give the suspension of one end, ``None`` where the file has none."""
        return self.front if end is End.FRONT else self.rear


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Who sits on the bike; the mass is the one in riding gear.

    ``front_axle_load_kg`` and ``rear_axle_load_kg`` are what scales under the wheels show with the rider
    aboard, feet on the pegs. ``front_share_percent`` of the rider's weight rests on the front wheel, give or
    take ``front_share_doubt_percent`` at the most. ``inseam_mm`` is from floor to crotch, barefoot.
    """

    name: str
    mass_kg: float | None = None
    front_axle_load_kg: float | None = None
    rear_axle_load_kg: float | None = None
    front_share_percent: float | None = None
    front_share_doubt_percent: float | None = None
    inseam_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EndSetup:
    """What a setup says about one end. ``None`` means: as the bike file has it."""

    travel_mm: float | None = None
    leverage: Leverage | None = None
    spring_rate_n_mm: float | None = None
    spring_free_length_mm: float | None = None
    spring_solid_length_mm: float | None = None
    preload_mm: float | None = None
    preload_min_mm: float | None = None
    preload_max_mm: float | None = None
    thread_pitch_mm: float | None = None
    axle_load_kg: float | None = None
    unsprung_mass_kg: float | None = None
    air_area_mm2: float | None = None
    air_column_mm: float | None = None
    target_sag_percent: tuple[float, float] | None = None
    compression_clicks: int | None = None
    rebound_clicks: int | None = None
    oil_level_mm: float | None = None
    raised_in_clamps_mm: float | None = None
    full_bump_room_mm: float | None = None
    clamp_parallel_mm: float | None = None
    shock_length_mm: float | None = None
    shock_stroke_mm: float | None = None
    fork_spacer_mm: float | None = None
    plates_fitted: str | None = None
    sensor_calibration: tuple[tuple[float, float], ...] | None = None
    sensor_zero_count: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """The state of everything adjustable or exchangeable at one time.

    ``seat_lowering_mm`` is what was taken off the seat of the bike file; a stand length replaces that file's.
    """

    name: str
    notes: str | None = None
    seat_lowering_mm: float | None = None
    side_stand_length_mm: float | None = None
    centre_stand_length_mm: float | None = None
    front: EndSetup = field(default_factory=EndSetup)
    rear: EndSetup = field(default_factory=EndSetup)

    def end(self, end: End) -> EndSetup:
        """Give what the setup says about one end."""
        return self.front if end is End.FRONT else self.rear

    def parts_alone(self) -> Setup:
        """Give what it says about the bike: a zero or a calibration measured anew is no other setup."""
        return replace(
            self,
            notes=None,
            front=replace(self.front, sensor_calibration=None, sensor_zero_count=None),
            rear=replace(self.rear, sensor_calibration=None, sensor_zero_count=None),
        )


ValueAndDoubt = tuple[float, float]
"""A number and its ± (95 in 100), in the same unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """The way of a lowering plan that was agreed on, and what it promised when it was.

    ``option`` is its name in the plan, ``hardware_mm`` what parts are to give at the seat, ``setup`` the name
    of the setup it was planned from. Promised are the drop of the seat and rider sag, each with its ±, and
    the travels.
    """

    option: str
    kept: str
    hardware_mm: float | None = None
    setup: str | None = None
    seat_drop_mm: ValueAndDoubt | None = None
    front_rider_sag_mm: ValueAndDoubt | None = None
    rear_rider_sag_mm: ValueAndDoubt | None = None
    front_travel_mm: float | None = None
    rear_travel_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The work for one rider on one bike. Logs point to their job; a job does not list its logs.

    ``boards`` of ``board_mm`` under the feet make the wanted lowering, where it was found that way.
    ``front_sag_at_boards_mm`` and ``rear_sag_at_boards_mm`` are rider sag at the moment it was, if it was
    another than was measured since.
    """

    id: str
    bike: Bike
    rider: Rider
    wanted_lowering_mm: float | None = None
    boards: float | None = None
    board_mm: float | None = None
    front_sag_at_boards_mm: float | None = None
    rear_sag_at_boards_mm: float | None = None
    setups: tuple[Setup, ...] = ()
    opened: str | None = None
    notes: str | None = None
    kept: KeptPlan | None = None
