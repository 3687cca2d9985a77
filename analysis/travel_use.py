"""Does the bike use its travel? One stated rule, with its reasons in plain words.

The limits are common practice, no source: a hard test ride should take most of the travel, and meet the stop
only once in a while. The deepest moment is chance: yes takes two bumps past the limit or one clearly past it,
no takes bumps that thin out well before it (`_reach`), and between the two nobody can tell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.change import poisson_limits
from analysis.measured_ride import MeasuredEnd
from analysis.ride_results import EndRide
from ingest.records import End

YES, NO, CANNOT_TELL = "yes", "no", "cannot tell"

DEEPEST_BUMPS = 10
"""How deep another ride would go is read from so many of the deepest bumps."""

STAYS_UNDER = 0.95
"""Share of rides as long that stay under the depth `_reach` gives."""

SURER = "ride longer, or three times with this setup"


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelRule:
    """What using the travel means. Common practice, no source; change it where the shop thinks otherwise.

    ``deepest_percent``: the deepest moment of a test ride takes at least so much of the travel: once where
    that is ``clearly_past`` it, as a share of it, else on ``bumps_past`` separate bumps.
    ``hard_stops_per_10_min``: hard stops come no more often. ``bumps_mm_s``: a ride whose wheels sink in no
    faster (for 99 % of the time in compression) had no bumps worth the name, so unused travel says nothing.
    ``least_s``: less riding cannot show that travel stays unused. Less than ``sure_s`` shows it only where
    the bumps thin out before ``short_share`` of the limit: of a minute the ten deepest bumps are half
    ordinary swings, and like rides said yes and no by turns.
    """

    deepest_percent: float = 85.0
    clearly_past: float = 0.10
    bumps_past: int = 2
    hard_stops_per_10_min: float = 1.0
    bumps_mm_s: float = 500.0
    least_s: float = 60.0
    sure_s: float = 180.0
    short_share: float = 0.8

    def in_words(self) -> str:
        """State the rule in one sentence, as it stands beside every answer.

        >>> TravelRule(deepest_percent=80.0).in_words().split(" and ")[0]
        'It uses its travel when its deepest moment takes 80 % or more, on 2 bumps or once past 88 %,'
        """
        return (
            f"It uses its travel when its deepest moment takes {self.deepest_percent:g} % or more, on "
            f"{self.bumps_past} bumps or once past {self.clear_percent:g} %, and it "
            f"meets a hard stop at most {self.hard_stops_per_10_min:g} "
            f"time{'' if self.hard_stops_per_10_min == 1 else 's'} in 10 min; travel left over counts only "
            f"after {self.sure_s:g} s on bumps that push a wheel in at {self.bumps_mm_s:g} mm/s, and where "
            f"the deepest bumps thin out well before the limit, after {self.least_s:g} s if they do so by "
            "far (common practice, no source; a shop may set its own)."
        )

    @property
    def clear_percent(self) -> float:
        """Share of travel from where on one bump is enough."""
        return self.deepest_percent * (1.0 + self.clearly_past)


TRAVEL_RULE = TravelRule()


def uses_its_travel(
    rides: Sequence[tuple[MeasuredEnd | None, MeasuredEnd | None]], rule: TravelRule = TRAVEL_RULE
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


def _one_end(rides: Sequence[MeasuredEnd], rule: TravelRule) -> tuple[str, list[str]]:
    depth, depth_reason = _depth(rides, rule)
    stops, stops_reason = _stops([one.ride for one in rides], rule)
    answer = NO if NO in (depth, stops) else CANNOT_TELL if CANNOT_TELL in (depth, stops) else YES
    return answer, [depth_reason, stops_reason]


def _depth(rides: Sequence[MeasuredEnd], rule: TravelRule) -> tuple[str, str]:
    deepest = max(one.ride.travel_used_percent for one in rides)
    found = f"deepest {deepest:.0f} % of travel; the rule asks for {rule.deepest_percent:.0f} % or more"
    if deepest < rule.deepest_percent:
        return _left_over(rides, found, rule)
    past = sum(percent >= rule.deepest_percent for percent in _bumps_percent(rides))
    if past >= rule.bumps_past:
        return YES, f"{found}, and {past} bumps went past that."
    if deepest >= rule.clear_percent:
        return YES, f"{found}, and it went clearly past that."
    return CANNOT_TELL, f"{found}, but one bump a little past that may be chance; {SURER}."


def _left_over(rides: Sequence[MeasuredEnd], found: str, rule: TravelRule) -> tuple[str, str]:
    """Say whether travel stays unused by the setup, or merely did so this time."""
    seconds = sum(one.ride.duration_s for one in rides)
    speeds = [one.ride.compression_speed_mm_s for one in rides]
    fastest = max((speed.p99 for speed in speeds if speed is not None), default=0.0)
    if fastest < rule.bumps_mm_s:
        return CANNOT_TELL, f"{found}, but the road had no bumps hard enough to ask for it."
    if seconds < rule.least_s:
        return CANNOT_TELL, (
            f"{found}, but {seconds:.0f} s of riding are too short to show what stays unused; ride "
            f"{rule.sure_s:g} s or more with this setup."
        )
    reach = _reach(_bumps_percent(rides))
    if reach is None:
        return CANNOT_TELL, f"{found}, but so few bumps do not say how deep another ride would go; {SURER}."
    if reach >= rule.deepest_percent:
        to = f"{reach:.0f} %" if reach < 100 else "the stop"
        return CANNOT_TELL, f"{found}, but by its deepest bumps another ride may well come to {to}; {SURER}."
    if seconds < rule.sure_s and reach >= rule.short_share * rule.deepest_percent:
        return CANNOT_TELL, (
            f"{found}, but in {seconds:.0f} s of riding it is by chance whether it goes deeper; ride "
            f"{rule.sure_s:g} s or more with this setup."
        )
    return NO, (
        f"{found}, and by its deepest bumps another ride would hardly come past {reach:.0f} %, though the "
        "road had bumps hard enough to ask for it."
    )


def _bumps_percent(rides: Sequence[MeasuredEnd]) -> list[float]:
    """Deepest bumps of all rides in shares of the travel of each, the deepest first."""
    return sorted((100 * mm / one.ride.travel_mm for one in rides for mm in one.deepest_mm), reverse=True)


def _reach(deepest: Sequence[float]) -> float | None:
    """Give the depth that 19 of 20 further rides as long stay under, by how the deepest bumps thin out.

    Bumps over the eleventh deepest are taken as exponential, as many as a Poisson number of ten: their mean
    excess is the one unknown, and the depth counts in how badly ten know it (predictive distribution of an
    exponential sample, derived here). A bump rubber only makes another ride shallower than that. ``None`` for
    fewer bumps.
    """
    n = DEEPEST_BUMPS
    if len(deepest) <= n:
        return None
    over = deepest[n]
    excess = sum(deepest[:n]) / n - over
    return over + excess * n * (math.pow(n / -math.log(STAYS_UNDER), 1 / n) - 1)


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
