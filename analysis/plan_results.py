"""What a lowering plan answers: frozen results, units in the field names, doubt beside the number.

The field names of `Plan` are the JSON contract of the command line.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.results import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class EndSagPlan:
    """Sag of one end now, at the moment of the boards, and where it belongs; mm along the wheel's travel.

    ``at_boards_mm`` is the rider sag when the boards were measured; ``seat_mm`` how much lower the seat is
    once this end alone is at its target.
    """

    rider_sag_mm: Quantity | None
    at_boards_mm: Quantity | None
    target_mm: float | None
    target_percent: float | None
    target_origin: str | None
    change_mm: float | None
    seat_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HowMuch:
    """How much lower the seat has to come, and what of it is left for parts once sag is right.

    ``wanted_mm`` counts at the seat, rider aboard. ``from_correct_sag_mm`` may be negative: a bike that sits
    too low now comes up. ``left_over_mm`` is wanted less that, with its doubt; ``hardware_mm`` is what parts
    have to give: never below zero, and zero where less than a part is worth is left. ``trap_mm`` is how far
    the seat would come down if a part for all that is wanted were ordered without measuring sag.
    """

    wanted_mm: Quantity | None
    wanted_from: str | None
    seat_share: float
    seat_share_basis: str
    front: EndSagPlan
    rear: EndSagPlan
    from_correct_sag_mm: Quantity | None
    left_over_mm: Quantity | None
    hardware_mm: float | None
    trap_mm: float | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndPlan:
    """One end once an option is done, against how it is now. ``None`` is what is not known.

    Along the wheel's travel: the fork axis for a telescopic fork, else vertical. ``amount_mm`` is what the
    part itself is set to (tube raised, length of the spacer, shock shorter by); ``axle_up_mm`` how far the
    wheel sits further up in the bike at rider sag, from sag and parts together; ``drop_mm`` the same
    vertically, and ``parts_drop_mm`` the share of it that the parts give. ``full_bump_up_mm`` is how far
    the wheel goes further up at full bump. ``travel_left_mm`` is from ride position to full bump.
    ``travel_doubt_mm`` is the ± of the travel; ``deepest_expected_mm`` the deepest moment of a recorded ride
    carried over, ± ``deepest_doubt_mm``, and ``bottoming_word`` what that means (``expected``, ``not
    expected``, ``cannot tell``). Preload is
    that which puts sag at ``rider_sag_mm``; ``spring_word`` says whether the spring of now can.
    """

    means: str
    amount_mm: float | None = None
    axle_up_mm: float | None = None
    drop_mm: float | None = None
    parts_drop_mm: float | None = None
    travel_now_mm: float | None = None
    travel_mm: float | None = None
    travel_doubt_mm: float | None = None
    rider_sag_now_mm: float | None = None
    rider_sag_mm: Quantity | None = None
    rider_sag_percent: float | None = None
    travel_left_now_mm: float | None = None
    travel_left_mm: float | None = None
    full_bump_up_mm: float | None = None
    full_bump_room_mm: float | None = None
    leverage_now: float | None = None
    leverage: float | None = None
    wheel_rate_now_n_mm: float | None = None
    wheel_rate_n_mm: float | None = None
    spring_rate_n_mm: float | None = None
    preload_now_mm: float | None = None
    preload_mm: Quantity | None = None
    spring_word: str | None = None
    deepest_expected_mm: float | None = None
    deepest_doubt_mm: float | None = None
    bottoming_word: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """Room under and around the bike, now and once an option is done. ``None`` is what was not measured.

    ``lean_deg`` is the lean at the first contact, ``lean_by`` what touches.
    """

    belly_now_mm: float | None = None
    belly_mm: float | None = None
    belly_at_full_bump_now_mm: float | None = None
    belly_at_full_bump_mm: float | None = None
    lean_now_deg: float | None = None
    lean_deg: float | None = None
    lean_by: str | None = None
    front_full_bump_room_mm: float | None = None
    rear_full_bump_room_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StandPlan:
    """Lengths of the stands now and what serves the lowered bike; cut only when the rider has agreed.

    They are for the parked bike, nobody aboard. ``side_stand_lean_now_deg`` is its lean on the side stand as
    measured, ``side_stand_lean_uncut_deg`` the lean of the lowered bike on that stand as it is: at or below
    zero it stands upright or leans to the other side. ``side_stand_tips``: it may tip over that way.
    """

    side_stand_now_mm: float | None = None
    side_stand_mm: float | None = None
    side_stand_lean_now_deg: float | None = None
    side_stand_lean_uncut_deg: float | None = None
    side_stand_tips: bool = False
    centre_stand_now_mm: float | None = None
    centre_stand_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to lower the bike. ``because`` says why it is refused, or what speaks for and against it.

    ``kind`` is one word a program can go by, ``intervention`` from 0 (a setting) to 4 (something is cut);
    ``gives_up`` says what the rider loses, ``does_not_fix`` what stays as it was. ``rake_deg``, ``trail_mm``
    and ``wheelbase_mm`` are with the rider aboard; the ``now`` values are of the bike as it is. ``pitch_deg``
    is against now, nose down positive. ``matching_front_mm`` is the front drop along its travel that would
    leave rake as it is. ``falls_short_mm`` is what the seat lacks of the lowering that is wanted, negative
    where it comes down further; ``serves`` that it is allowed, gives what is wanted, not much more, and
    keeps front and rear matched; ``mind`` what it costs beyond what is usual (`analysis.plan_limits`).
    ``rake_from_parts_deg`` and ``trail_from_parts_mm`` are what the parts change
    on top of correct sag. Chain slack is to be set on the parked bike, nobody aboard. ``not_told`` says what
    around the bike could not be worked out although something of it was measured, and why.
    """

    name: str
    kind: str
    front: EndPlan
    rear: EndPlan
    seat_drop_mm: Quantity | None = None
    falls_short_mm: float | None = None
    rake_now_deg: float | None = None
    rake_deg: float | None = None
    trail_now_mm: float | None = None
    trail_mm: float | None = None
    wheelbase_now_mm: float | None = None
    wheelbase_mm: float | None = None
    pitch_deg: float | None = None
    matching_front_mm: float | None = None
    clearance: Clearance = field(default_factory=Clearance)
    stand: StandPlan = field(default_factory=StandPlan)
    rake_from_parts_deg: float | None = None
    trail_from_parts_mm: float | None = None
    chain_slack_now_mm: float | None = None
    chain_slack_mm: float | None = None
    headlight_drop_at_wall_mm: float | None = None
    intervention: int = 0
    intervention_word: str = ""
    reversible: bool = True
    way_back: str = ""
    gives_up: tuple[str, ...] = ()
    does_not_fix: tuple[str, ...] = ()
    allowed: bool = True
    serves: bool = False
    because: tuple[str, ...] = ()
    mind: tuple[str, ...] = ()
    not_told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How much, by which means, and what each of them costs. Options stand in the order of ``order``.

    ``hardware_lowering_mm`` is ``None`` where it cannot be told; ``warnings`` then say what to measure.
    ``from_parts_mm`` is what the options are worked out for: the same, unless another amount was asked for.
    ``setup`` is the one that is planned from, where a job of the book says it.
    """

    bike: str
    wanted_lowering_mm: float | None
    from_correct_sag_mm: float | None
    hardware_lowering_mm: float | None
    warnings: tuple[str, ...]
    options: tuple[Option, ...]
    order: str
    how_much: HowMuch
    from_parts_mm: float | None = None
    cautions: tuple[str, ...] = ()
    setup: str | None = None
    software: str = ""
