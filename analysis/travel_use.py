"""Does the bike use its travel? One stated rule, with its reasons in plain words.

The limits are common practice, no source: a hard test ride should take most of the travel, and meet the stop
only once in a while.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.change import poisson_limits
from analysis.ride_results import EndRide
from ingest.records import End

YES, NO, CANNOT_TELL = "yes", "no", "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelRule:
    """What using the travel means. Common practice, no source; change it where the shop thinks otherwise.

    ``deepest_percent``: the deepest moment of a test ride takes at least so much of the travel.
    ``hard_stops_per_10_min``: hard stops come no more often. ``bumps_mm_s``: a ride whose wheels sink in no
    faster (for 99 % of the time in compression) had no bumps worth the name, so unused travel says nothing.
    ``least_s``: a shorter ride cannot show that travel stays unused.
    """

    deepest_percent: float = 85.0
    hard_stops_per_10_min: float = 1.0
    bumps_mm_s: float = 500.0
    least_s: float = 60.0

    def in_words(self) -> str:
        """State the rule in one sentence, as it stands beside every answer.

        >>> TravelRule(deepest_percent=80.0).in_words().split(" and ")[0]
        'It uses its travel when its deepest moment takes 80 % or more'
        """
        return (
            f"It uses its travel when its deepest moment takes {self.deepest_percent:g} % or more and it "
            f"meets a hard stop at most {self.hard_stops_per_10_min:g} "
            f"time{'' if self.hard_stops_per_10_min == 1 else 's'} in 10 min; travel left over counts only "
            f"after {self.least_s:g} s on bumps that push a wheel in at {self.bumps_mm_s:g} mm/s (common "
            "practice, no source; a shop may set its own)."
        )


TRAVEL_RULE = TravelRule()


def uses_its_travel(
    rides: Sequence[tuple[EndRide | None, EndRide | None]], rule: TravelRule = TRAVEL_RULE
) -> tuple[str, tuple[str, ...]]:
    """Answer yes, no or cannot tell for the rides of one setup, with a reason for each end.

    Parameters
    ----------
    rides : sequence of (front, rear)
        ``None`` where an end was not measured.
    rule : TravelRule
    """
    answers: list[str] = []
    because: list[str] = []
    for end, of_end in zip(End, zip(*rides, strict=True), strict=True):
        measured = [ride for ride in of_end if ride is not None]
        if not measured:
            because.append(f"{str(end).capitalize()}: not measured, so this says nothing about it.")
            continue
        answer, reasons = _one_end(measured, rule)
        answers.append(answer)
        because += [f"{str(end).capitalize()}: {reason}" for reason in reasons]
    if NO in answers:
        return NO, tuple(because)
    if answers and all(answer == YES for answer in answers):
        return YES, tuple(because)
    return CANNOT_TELL, tuple(because)


def _one_end(rides: Sequence[EndRide], rule: TravelRule) -> tuple[str, list[str]]:
    depth, depth_reason = _depth(rides, rule)
    stops, stops_reason = _stops(rides, rule)
    answer = NO if NO in (depth, stops) else CANNOT_TELL if CANNOT_TELL in (depth, stops) else YES
    return answer, [depth_reason, stops_reason]


def _depth(rides: Sequence[EndRide], rule: TravelRule) -> tuple[str, str]:
    deepest = max(ride.travel_used_percent for ride in rides)
    found = f"deepest {deepest:.0f} % of travel; the rule asks for {rule.deepest_percent:.0f} % or more"
    if deepest >= rule.deepest_percent:
        return YES, f"{found}."
    seconds = sum(ride.duration_s for ride in rides)
    if seconds < rule.least_s:
        return CANNOT_TELL, f"{found}, but {seconds:.0f} s of riding are too short to show what stays unused."
    speeds = [ride.compression_speed_mm_s.p99 for ride in rides if ride.compression_speed_mm_s is not None]
    if not speeds or max(speeds) < rule.bumps_mm_s:
        return CANNOT_TELL, f"{found}, but the road had no bumps hard enough to ask for it."
    return NO, f"{found}, and the road had bumps hard enough to ask for it."


def _stops(rides: Sequence[EndRide], rule: TravelRule) -> tuple[str, str]:
    minutes = sum(ride.duration_s for ride in rides) / 60
    count = sum(event.grade == "hard stop" for ride in rides for event in ride.bottoming.events)
    allowed = rule.hard_stops_per_10_min
    word = "no hard stop" if count == 0 else f"{count} hard stop{'s' if count > 1 else ''}"
    found = f"{word} in {minutes:.1f} min; the rule allows {allowed:g} in 10 min"
    if count * 10 <= allowed * minutes:
        return YES, f"{found}."
    # One knock in a short ride may be chance: only a rate that is surely too high is called so.
    if poisson_limits(count)[0] * 10 > allowed * minutes:
        return NO, f"{found}."
    return CANNOT_TELL, f"{found}, but so few may be chance; ride longer."
