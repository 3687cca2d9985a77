"""The lowering plan: how much, by which means, and what each of them costs.

Every option is worked out for the bike at correct sag with the part fitted, against the bike as it is. What
cannot be done stays in the list with its reason, because the rider will ask.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from analysis.how_much import WORTH_A_PART_MM, SagNow, Wanted, how_much, vertical_share
from analysis.means import EndNow, Fitted
from analysis.means_plates import measured_leverage
from analysis.means_spring import SpringAtHand, coil_reasons
from analysis.plan_clearance import Ends, standing
from analysis.plan_ends import as_now, end_plan
from analysis.plan_ground import Ground, consequences, ground_of, seat_place
from analysis.plan_limits import mind, too_much
from analysis.plan_reasons import for_and_against, gives_up
from analysis.plan_recipes import INTERVENTION, Recipe, asked_raise, part_recipes, sag_recipes
from analysis.plan_results import EndPlan, HowMuch, Option, Plan
from analysis.propagation import Input, measured, propagate
from analysis.results import Quantity
from analysis.ride_results import RideSummary
from analysis.seat_drop import seat_share
from ingest.errors import UsageError
from ingest.records import Bike, End

ORDER = (
    "What can be done first, what is refused last; within each by how deep the work goes (settings only, "
    "clamps only, parts exchanged, fork or shock opened, something cut), then by the compression travel "
    "given up at ride position, then by the ground clearance given up."
)
UNMEASURED = "rider sag is not known, so what is left for parts cannot be told: measure sag first"
NOT_WANTED = "no board stack or other wanted lowering is given, so there is no amount to plan for"
NOT_NEEDED = "correct sag alone gives what is wanted: nothing is left for this part to do"
TOO_LOW_MM = 10.0
"""Parts that bring the seat down further beyond what is wanted than this do not serve (judgement)."""
MOST_RAISE_MM = 150.0
MOST_HARDWARE_MM = 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What a plan is asked for.

    ``bike`` is the one under its setup. ``fork_tubes_raised_mm`` asks about that one option;
    ``front_room_mm`` and ``rear_room_mm`` replace the bike file's room at full bump. ``hardware_mm`` asks
    what so much from parts would do, instead of what is left for them. ``springs`` are springs one has at
    hand. ``ride`` is a recorded ride of the bike as it is. ``setup`` names the setup that is planned from;
    ``said_before`` is what the book has to say first.
    """

    bike: Bike
    wanted: Wanted | None = None
    sags: Mapping[End, SagNow] = field(default_factory=dict)
    fork_tubes_raised_mm: float | None = None
    front_room_mm: float | None = None
    rear_room_mm: float | None = None
    hardware_mm: float | None = None
    springs: Mapping[End, SpringAtHand] = field(default_factory=dict)
    ride: RideSummary | None = None
    setup: str | None = None
    said_before: tuple[str, ...] = ()
    software: str = ""


def plan(request: PlanRequest) -> Plan:
    """Work out a lowering plan.

    Raises
    ------
    UsageError
        The amount asked about is no raise of fork tubes, or nothing parts can give.
    """
    asked = request.fork_tubes_raised_mm
    if asked is not None and not 0.0 <= asked <= MOST_RAISE_MM:
        raise UsageError(f"fork tubes raised by {asked:g} mm: 0 to {MOST_RAISE_MM:g} mm is allowed")
    if request.hardware_mm is not None and not 0.0 <= request.hardware_mm <= MOST_HARDWARE_MM:
        raise UsageError(f"{request.hardware_mm:g} mm from parts: 0 to {MOST_HARDWARE_MM:g} mm is allowed")
    amounts = how_much(request.bike, request.wanted, request.sags)
    tried = amounts
    if request.hardware_mm is not None and amounts.hardware_mm is not None:
        tried = replace(amounts, hardware_mm=request.hardware_mm)
    ends = {end: _end_now(request, amounts, end) for end in End}
    ground = ground_of(request.bike, ends)

    @cache  # many ways share what they do to one end
    def end_then(end: End, fitted: Fitted) -> EndPlan:
        return end_plan(ends[end], fitted, None if request.ride is None else request.ride.end(end))

    recipes = _recipes(request, tried, ends)
    options = [_option(request.bike, tried, ground, ends, recipe, end_then) for recipe in recipes]
    options.sort(key=_sort_key)
    warnings = (*request.said_before, *amounts.warnings, *ground.missing)
    not_told = dict.fromkeys(text for option in options for text in option.not_told)
    return Plan(
        bike=request.bike.name,
        wanted_lowering_mm=_value(amounts.wanted_mm),
        from_correct_sag_mm=_value(amounts.from_correct_sag_mm),
        hardware_lowering_mm=amounts.hardware_mm,
        warnings=warnings,
        options=tuple(options),
        order=ORDER,
        how_much=amounts,
        from_parts_mm=tried.hardware_mm,
        cautions=(*ground.cautions, *(f"Not told: {text}." for text in not_told)),
        setup=request.setup,
        software=request.software,
    )


def _end_now(request: PlanRequest, amounts: HowMuch, end: End) -> EndNow:
    told = amounts.front if end is End.FRONT else amounts.rear
    given = request.front_room_mm if end is End.FRONT else request.rear_room_mm
    suspension = request.bike.suspension(end)
    if suspension is not None and suspension.leverage is None:
        suspension = replace(suspension, leverage=measured_leverage(suspension))
    room = given if given is not None or suspension is None else suspension.full_bump_room_mm
    now = request.sags.get(end, SagNow())
    return EndNow(
        end=end,
        suspension=suspension,
        vertical=vertical_share(request.bike, end).value,
        rider=told.rider_sag_mm,
        unladen=now.unladen,
        target_mm=told.target_mm,
        room_mm=room,
    )


def _recipes(request: PlanRequest, amounts: HowMuch, ends: Ends) -> list[Recipe]:
    """Give all ways that are worth a line; those without an amount to give carry why."""
    asked = request.fork_tubes_raised_mm
    found = [] if asked is None else [asked_raise(ends, asked)]
    if asked is not None and request.wanted is None:
        return found
    found += sag_recipes(ends, request.springs)
    if amounts.hardware_mm:
        return [*found, *part_recipes(ends, amounts.hardware_mm, request.springs, asked)]
    if request.wanted is None:
        why = NOT_WANTED
    elif amounts.hardware_mm is None:
        why = UNMEASURED
    else:
        why = NOT_NEEDED
    nominal = part_recipes(ends, 1.0, request.springs, asked)
    return [*found, *(replace(recipe, refused=(why, *recipe.refused)) for recipe in nominal)]


def _option(
    bike: Bike,
    amounts: HowMuch,
    ground: Ground,
    ends: Ends,
    recipe: Recipe,
    end_then: Callable[[End, Fitted], EndPlan],
) -> Option:
    refused = (*recipe.refused, *recipe.front.refused, *recipe.rear.refused)
    if recipe.kind not in ("preload", "springs"):  # those have said so themselves
        refused += tuple(text for end, one in recipe.fitting.items() for text in coil_reasons(ends[end], one))
    if recipe.kind in ("preload", "springs") and any(now.rider is None for now in ends.values()):
        refused = (UNMEASURED, *refused)
    front, rear = (
        EndPlan(means=one.means) if _cannot_be(ends[end], one) else end_then(end, one)
        for end, one in recipe.fitting.items()
    )
    amountless = not amounts.hardware_mm and recipe.kind not in ("preload", "springs", "fork tubes")
    option = Option(
        name=recipe.name,
        kind=recipe.kind,
        front=EndPlan(means=_bare(front.means)) if amountless else front,
        rear=EndPlan(means=_bare(rear.means)) if amountless else rear,
        intervention=recipe.intervention,
        intervention_word=INTERVENTION[recipe.intervention],
        reversible=recipe.reversible,
        way_back=recipe.way_back,
        does_not_fix=recipe.does_not_fix,
        allowed=not refused,
    )
    if amountless or not _known(ends, recipe):
        return replace(option, because=tuple(dict.fromkeys(refused)))
    if any(_cannot_be(ends[end], one) for end, one in recipe.fitting.items()):
        return replace(option, because=tuple(dict.fromkeys(refused)))
    drop = _seat_drop(bike, ground, ends, recipe, {End.FRONT: front, End.REAR: rear})
    option = consequences(ground, ends, recipe.fitting, option)
    option = replace(option, seat_drop_mm=drop, falls_short_mm=_falls_short(amounts, drop))
    refused = (*refused, *option.because, *too_much(option))
    notes = (*recipe.front.notes, *recipe.rear.notes)
    option = replace(option, allowed=not refused, mind=() if refused else mind(option))
    reasons = refused or for_and_against(option, notes)
    return replace(
        option,
        gives_up=gives_up(option),
        serves=_serves(option),
        because=tuple(dict.fromkeys(reasons)),
    )


def _cannot_be(now: EndNow, fitted: Fitted) -> bool:
    """Whether this end takes no such means at all: nothing then says where it would come to stand."""
    return bool(fitted.refused) and fitted.sag_mm is None and now.goal_mm is not None


def _known(ends: Ends, recipe: Recipe) -> bool:
    """Whether both ends can be put at one height each: rider sag is known, and the means can be fitted.

    Raised fork tubes alone are told without any sag too: they then count from the state the geometry was
    measured in.
    """
    riders = [now.rider is not None for now in ends.values()]
    return all(riders) or (recipe.kind == "fork tubes" and not any(riders))


def _seat_drop(
    bike: Bike, ground: Ground, ends: Ends, recipe: Recipe, plans: Mapping[End, EndPlan]
) -> Quantity:
    """Give how far the seat comes down at rider sag; by the plane bike where the seat's place is known."""
    fitting = recipe.fitting
    inputs: dict[str, Input] = {"seat": seat_share(bike)}
    for end, one in fitting.items():
        inputs[f"{end} vertical"] = vertical_share(bike, end)
        inputs[f"{end} part"] = Input(value=one.topped_up_mm, u=one.topped_up_u_mm, basis="as fitted")
        rider, then = ends[end].rider, plans[end].rider_sag_mm
        if rider is not None and then is not None and then.value != rider.value:
            inputs[f"{end} now"] = measured(rider, "measured")
            inputs[f"{end} then"] = measured(then, "foretold")

    def drop(values: Mapping[str, float]) -> float:
        total = recipe.seat_mm
        for end, one in fitting.items():
            share = values["seat"] if end is End.FRONT else 1.0 - values["seat"]
            up = values[f"{end} part"] + values.get(f"{end} then", 0.0) - values.get(f"{end} now", 0.0)
            total += share * (values[f"{end} vertical"] * up - one.radius_mm)
        return total

    found = propagate(drop, inputs)[0]
    place = seat_place(bike)
    if ground.plane is None or place is None:
        return found
    try:
        before = standing(ground.plane, ends, {end: as_now(now) for end, now in ends.items()})
        after = standing(ground.plane, ends, fitting)
    except UsageError:
        return found
    return replace(found, value=before.height_mm(*place) - after.height_mm(*place) + recipe.seat_mm)


def _falls_short(amounts: HowMuch, drop: Quantity) -> float | None:
    """Give what is lacking of the lowering wanted, counted from the moment of the boards."""
    if amounts.wanted_mm is None:
        return None
    since = 0.0
    for plan_, share in ((amounts.front, amounts.seat_share), (amounts.rear, 1.0 - amounts.seat_share)):
        if plan_.rider_sag_mm is not None and plan_.at_boards_mm is not None:
            since += share * (plan_.rider_sag_mm.value - plan_.at_boards_mm.value)
    return amounts.wanted_mm.value - drop.value - since


def _serves(option: Option) -> bool:
    return (
        option.allowed
        and option.kind != "rear only"
        and option.falls_short_mm is not None
        and option.falls_short_mm <= WORTH_A_PART_MM
        and (option.kind in ("preload", "springs") or option.falls_short_mm >= -TOO_LOW_MM)
    )


def _sort_key(option: Option) -> tuple[bool, int, float, float]:
    lost = sum(
        (end.travel_left_now_mm or 0.0) - (end.travel_left_mm or 0.0) for end in (option.front, option.rear)
    )
    room = option.clearance
    belly = 0.0 if room.belly_mm is None or room.belly_now_mm is None else room.belly_now_mm - room.belly_mm
    return (not option.allowed, option.intervention, round(lost, 3), round(belly, 3))


def _bare(means: str) -> str:
    """Give a means without the amount that there is none of."""
    return means.split(" of ")[0].split(" raised")[0].split(" for ")[0]


def _value(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.value
