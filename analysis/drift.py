"""Before, after, before again: did the day itself change anything?"""

from __future__ import annotations

from collections.abc import Sequence

from analysis.compare_results import Metric
from analysis.judging import judge, of_end
from analysis.measured_ride import MeasuredRide
from analysis.metrics import in_words
from analysis.repeats import started_s
from ingest.log import Log
from ingest.records import End


def drift(
    before: Sequence[Log], after: Sequence[Log], measured: Sequence[MeasuredRide], ends: Sequence[End]
) -> tuple[str, ...]:
    """Compare the rides before that came first with those that came after the others, if there are both.

    Parameters
    ----------
    before, after : sequence of Log
        Both sides; the times they started decide.
    measured : sequence of MeasuredRide
        Those of ``before``, in the same order.
    ends : sequence of End
        What is compared.

    Returns
    -------
    tuple of str
        One sentence, or none where the setup before was not ridden on both sides in time.
    """
    others = [start for log in after if (start := started_s(log)) is not None]
    timed = [
        (start, ride)
        for log, ride in zip(before, measured, strict=True)
        if (start := started_s(log)) is not None
    ]
    if not others or not timed:
        return ()
    first = [ride for start, ride in timed if start < min(others)]
    again = [ride for start, ride in timed if start > max(others)]
    common = [end for end in ends if of_end(first, end) and of_end(again, end)]
    if not common:
        return ()
    return (_said(judge(first, again, common)),)


def _said(metrics: Sequence[Metric]) -> str:
    drifted = [in_words(metric.name) for metric in metrics if metric.changed]
    if drifted:
        return (
            f"before and before again differ by more than chance explains ({', '.join(drifted)}): the day "
            "itself changed something, as oil, tyres or the road; part of any change may be that"
        )
    return "before and before again agree within chance: no sign that the day itself changed anything"
