"""``flatfoot plan``: how much lower, by which means, and what each of them costs."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.commands import common
from ingest.errors import CannotAnswer, UsageError
from ingest.records import End

if TYPE_CHECKING:
    from analysis.how_much import SagNow, Wanted
    from analysis.means_spring import SpringAtHand
    from analysis.plan import PlanRequest
    from analysis.plan_results import Plan
    from analysis.results import Quantity
    from dashboard.units import Units
    from ingest.records import Bike, KeptPlan

NAME = "plan"
HELP = "how much lower, by which means, and what each of them costs"
EXAMPLE = """\
  flatfoot plan --job 0001
  flatfoot plan --job 0001 --boards 3 --board-in 0.5
  flatfoot plan --job 0001 --keep "correct sag by other springs"
  flatfoot plan --bike twin.toml --fork-tubes-raised-mm 15 --full-bump-gap-mm 35"""

MM_PER_INCH = 25.4  # exact by definition (international yard and pound agreement, 1959)
SAGS = {
    "rider_sag_mm": "rider sag, feet on the pegs",
    "unladen_sag_mm": "unladen sag",
    "target_sag_mm": "rider sag to aim for (default: from the bike file)",
    "sag_at_boards_mm": "rider sag when the boards were measured, if it was another",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Take a bike or a job, how much is wanted, and what was measured."""
    parser.add_argument("--bike", metavar="BIKE.toml", type=Path, help="the bike file")
    parser.add_argument("--job", metavar="ID", help="a job of the book: bike, rider and newest sag check")
    parser.add_argument(
        "--setup", metavar="SETUP", help="a setup file with --bike; with --job the setup to plan from"
    )
    wanted = parser.add_argument_group("how much")
    wanted.add_argument("--board-stack-mm", metavar="MM", type=_length, help="boards under the feet, in all")
    wanted.add_argument("--boards", metavar="N", type=_number(0.0, 40.0), help="how many boards")
    wanted.add_argument("--board-mm", metavar="MM", type=_length, help="true thickness of one board")
    wanted.add_argument("--board-in", metavar="IN", type=_number(0.0, 4.0), help="the same in inches")
    wanted.add_argument("--reach-mm", metavar="MM", type=_length, help="seat height the rider can reach")
    wanted.add_argument("--inseam-mm", metavar="MM", type=_length, help="floor to crotch, barefoot")
    wanted.add_argument("--stature-mm", metavar="MM", type=_length, help="refused: too loose")
    sag = parser.add_argument_group("sag and targets, mm at the wheel (fork: along it)")
    for end in End:
        for key, text in SAGS.items():
            name = f"--{end}-{key.replace('_', '-')}"
            sag.add_argument(name, metavar="MM", type=_length, help=f"{end}: {text}")
    sag.add_argument("--sag-doubt-mm", metavar="MM", type=_length, help="± of these (default: 4, a tape)")
    room = parser.add_argument_group("the bike")
    room.add_argument("--seat-ahead-of-rear-axle-mm", metavar="MM", type=_length, help="where the rider sits")
    room.add_argument(
        "--full-bump-gap-mm", metavar="MM", type=_length, help="room in front at full bump, along the fork"
    )
    room.add_argument("--rear-full-bump-gap-mm", metavar="MM", type=_length, help="room behind, vertical")
    room.add_argument("--fork-tubes-raised-mm", metavar="MM", type=_length, help="ask about this one option")
    for end in End:
        room.add_argument(
            f"--{end}-spring",
            metavar="RATE[,FREE,SOLID]",
            help=f"{end}: a spring at hand, N/mm of one, its length free and pressed solid",
        )
    room.add_argument("--ride", metavar="LOG", help="a ride of the bike as it is, for bottoming to expect")
    parser.add_argument(
        "--hardware-mm", metavar="MM", type=_length, help="try this much from parts, at the seat"
    )
    parser.add_argument(
        "--keep",
        metavar="NAME",
        help="with --job: write this way of the plan (name or number) into the job file, as agreed",
    )
    common.takes_book(parser)
    common.takes_output(parser)
    parser.add_argument("--all", action="store_true", help="also what refused ones would give up")


def run(args: argparse.Namespace) -> int:
    """Print the plan."""
    from analysis.plan import plan
    from dashboard import plan_words
    from dashboard import units as show
    from dashboard.as_json import dumps

    if (args.bike is None) == (args.job is None):
        raise UsageError("plan needs --bike BIKE.toml, or --job ID of the book; see flatfoot plan --help")
    if args.keep is not None and args.job is None:
        raise UsageError("--keep writes into a job of the book: name it with --job ID")
    found = plan(_request(args))
    kept = None if args.keep is None else _keep(args, found)
    if args.json:
        print(dumps(found))
        return 0
    units = common.units(args)
    common.print_table(plan_words.amount_table(found.how_much, units))
    common.print_section("first", _lines(found.warnings, units))
    if found.setup is not None:
        print()
        common.print_lines([f"planned from setup {found.setup!r} and its newest sag check"])
    print("\nwhat can be done:")
    common.print_table(plan_words.option_table(found, units))
    common.print_lines([plan_words.ORDER_LINE])
    if kept is not None:
        print(f"\nkept in job {args.job}: {kept.option}")
    for title, lines in plan_words.option_texts(found, everything=args.all):
        common.print_section(show.sentence(title, units), _lines(lines, units))
    common.print_section("mind", _lines((*found.cautions, *plan_words.SAFETY_LINES), units))
    return 0


def _keep(args: argparse.Namespace, found: Plan) -> KeptPlan:
    """Write the way that was named into the job."""
    from dashboard.plan_job import keep_plan, sag_log_of

    book = common.open_book(args)
    sag = sag_log_of(book.job(args.job), book.logs(args.job), args.setup)
    return keep_plan(book, args.job, found, args.keep, sag.setup.name if sag and sag.setup else None)


def _lines(lines: Iterable[str], units: Units) -> list[str]:
    """Put the lengths of sentences into the unit shown."""
    from dashboard import units as show

    return [show.sentence(line, units) for line in lines]


# ------------------------------------------------------------------------------------------- the request


def _request(args: argparse.Namespace) -> PlanRequest:
    request = _from_job(args) if args.job is not None else _from_bike(args)
    bike = request.bike
    if args.seat_ahead_of_rear_axle_mm is not None:
        bike = replace(bike, seat_ahead_of_rear_axle_mm=args.seat_ahead_of_rear_axle_mm)
    sags = {end: _sag(args, end, request.sags.get(end)) for end in End}
    wanted = _wanted(args, bike, sags) or request.wanted
    if wanted is None and args.fork_tubes_raised_mm is None:
        raise UsageError(
            "how much lower? Put boards under the rider's feet and give --board-stack-mm (or --boards and "
            "--board-mm), or give --inseam-mm or --reach-mm"
        )
    _insist_on_travel(bike, sags)
    _insist_on_seat(bike)
    springs = {end: spring for end in End if (spring := _spring(args, end)) is not None}
    return replace(
        request,
        bike=bike,
        wanted=wanted,
        sags=sags,
        fork_tubes_raised_mm=args.fork_tubes_raised_mm,
        front_room_mm=args.full_bump_gap_mm,
        rear_room_mm=args.rear_full_bump_gap_mm,
        hardware_mm=args.hardware_mm,
        springs=springs,
    )


def _from_bike(args: argparse.Namespace) -> PlanRequest:
    from analysis.effective import effective_bike
    from analysis.plan import PlanRequest
    from ingest.setup_file import read_setup
    from ingest.version import VERSION

    bike, _ = common.read_bike_text(args.bike)
    if args.setup is not None:
        bike = effective_bike(bike, read_setup(Path(args.setup)))
    ride = None
    if args.ride is not None:
        from analysis.ride import summarise_ride

        ride = summarise_ride(common.load_log(args, args.ride))
    return PlanRequest(bike=bike, ride=ride, software=VERSION)


def _from_job(args: argparse.Namespace) -> PlanRequest:
    from dashboard.plan_job import request_of_job

    book = common.open_book(args)
    if args.setup is not None:
        common.setup_of(book.job(args.job), args.setup)  # a name that is not there is said so
    return request_of_job(book, args.job, setup_name=args.setup, ride_id=args.ride)


def _sag(args: argparse.Namespace, end: End, known: SagNow | None) -> SagNow:
    """Take what was typed before what a log says."""
    from analysis.how_much import SagNow
    from analysis.plan_request import TAPE_MM
    from analysis.results import Quantity

    doubt = TAPE_MM if args.sag_doubt_mm is None else args.sag_doubt_mm
    now = known or SagNow()

    def typed(key: str, otherwise: Quantity | None) -> Quantity | None:
        value = getattr(args, f"{end}_{key}")
        if value is None:
            return otherwise
        return Quantity(value=value, expanded_uncertainty=doubt, coverage_factor=1.96)

    return SagNow(
        unladen=typed("unladen_sag_mm", now.unladen),
        rider=typed("rider_sag_mm", now.rider),
        at_boards=typed("sag_at_boards_mm", now.at_boards),
        target_mm=getattr(args, f"{end}_target_sag_mm"),
    )


def _wanted(args: argparse.Namespace, bike: Bike, sags: dict[End, SagNow]) -> Wanted | None:
    """Take the surest of what was given: boards, then reach, then inseam; a stature alone is refused."""
    from analysis import wanted
    from analysis.plan_request import seat_aboard_mm

    if args.board_mm is not None and args.board_in is not None:
        raise UsageError("give --board-mm or --board-in, not both: the true thickness of one board")
    board_mm = args.board_mm if args.board_in is None else args.board_in * MM_PER_INCH
    if args.board_stack_mm is not None:
        if args.boards is not None:
            raise UsageError("give --board-stack-mm, or --boards with --board-mm, not both")
        return wanted.from_stack(args.board_stack_mm)
    if args.boards is not None or board_mm is not None:
        if args.boards is None or board_mm is None:
            raise UsageError("--boards and --board-mm (or --board-in) go together: count × true thickness")
        return wanted.from_boards(args.boards, board_mm)
    if args.reach_mm is not None:
        return wanted.from_reach(seat_aboard_mm(bike, sags), args.reach_mm)
    if args.inseam_mm is not None:
        return wanted.from_inseam(seat_aboard_mm(bike, sags), args.inseam_mm)
    if args.stature_mm is not None:
        raise CannotAnswer(wanted.STATURE_REFUSED)
    return None


def _insist_on_travel(bike: Bike, sags: dict[End, SagNow]) -> None:
    """Sag beyond the travel is a slip, and so is a target, or a rider that lifts the bike."""
    for end, now in sags.items():
        if now.unladen is not None and now.rider is not None and now.unladen.value > now.rider.value:
            raise UsageError(
                f"{end} unladen sag of {now.unladen.value:g} mm is more than rider sag, "
                f"{now.rider.value:g} mm: a rider sinks the bike; measure again, or swap the two"
            )
        suspension = bike.suspension(end)
        if suspension is None:
            continue
        for name, value in (
            ("rider sag", None if now.rider is None else now.rider.value),
            ("target sag", now.target_mm),
        ):
            if value is not None and not 0.0 <= value < suspension.travel_mm:
                raise UsageError(
                    f"{end} {name} of {value:g} mm: it lies between 0 and the travel, "
                    f"{suspension.travel_mm:g} mm"
                )


def _insist_on_seat(bike: Bike) -> None:
    ahead, wheelbase = bike.seat_ahead_of_rear_axle_mm, bike.wheelbase_mm
    if ahead is not None and wheelbase is not None and ahead > wheelbase:
        raise UsageError(
            f"seat {ahead:g} mm ahead of the rear axle: the rider sits between the axles, 0 to "
            f"{wheelbase:g} mm; give --seat-ahead-of-rear-axle-mm, or mend the bike file"
        )


def _spring(args: argparse.Namespace, end: End) -> SpringAtHand | None:
    from analysis.means_spring import SpringAtHand

    text = getattr(args, f"{end}_spring")
    if text is None:
        return None
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) not in (1, 3) or not all(0.5 <= number <= 1000 for number in numbers):
        raise UsageError(
            f"--{end}-spring {text!r}: give the rate in N/mm, or rate and both lengths in mm, 85,210,96"
        )
    if len(numbers) == 3 and numbers[1] <= numbers[2]:
        raise UsageError(f"--{end}-spring {text!r}: a spring is longer free than pressed solid")
    return SpringAtHand(
        rate_n_mm=numbers[0],
        free_length_mm=numbers[1] if len(numbers) == 3 else None,
        solid_length_mm=numbers[2] if len(numbers) == 3 else None,
    )


def _number(low: float, high: float) -> Callable[[str], float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r}: a plain number, {low:g} to {high:g}")
        return value

    return read


_length = _number(0.0, 3000.0)
