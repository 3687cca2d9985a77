"""After the work: what the plan promised beside what was measured, on the page of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import proof_words
from dashboard.answers import Answers
from dashboard.parts import Look, card, text_table
from dashboard.plan_measures import on_a_page
from dashboard.proof_job import proof_of_job, sides
from ingest.errors import FlatfootError, UsageError
from ingest.log import Log
from ingest.records import Job

TITLE = "Promised and measured"
NOT_KEPT = (
    "No plan was kept for this job, so nothing was promised: choose the way that was carried out, with its"
    " amount, and keep it."
)


def to_prove(job: Job, logs: Sequence[Log]) -> bool:
    """Tell whether anything was recorded after the work."""
    try:
        _, after = sides(job, None, None)
    except UsageError:
        return False
    return any(log.setup is not None and log.setup.name == after for log in logs)


def proof_card(answers: Answers, job: Job, look: Look) -> Any:
    """Hold the plan against the logs; where that cannot be done, say why."""
    try:
        found = proof_of_job(answers.book, job.id, worked=answers)
    except FlatfootError as problem:
        unkept = job.kept is None and isinstance(problem, UsageError)
        return card(TITLE, html.P(NOT_KEPT if unkept else on_a_page(str(problem), look.units)))
    proof = found.proof
    differs = proof_words.proof_differences(proof, look.units)
    said = [html.H3("Differs by more than its doubt"), _lines(differs)] if differs else []
    mind = [html.H3("Mind"), _lines(on_a_page(one, look.units) for one in proof.cautions)]
    made = text_table(proof_words.proof_table(proof, look.units), numbers=(1, 2, 3, 4), stack=True)
    return card(
        TITLE,
        html.P(html.B(proof_words.proof_verdict(proof))),
        html.Div(made, className="ff-cells ff-proof"),
        html.P("(…) or ±: 95 times in 100 the true value lies inside.", className="ff-quiet ff-small"),
        *said,
        *(mind if proof.cautions else []),
        sub=f"{found.before} → {found.after}: {proof.option}",
    )


def _lines(lines: Any) -> Any:
    return html.Ul([html.Li(f"{one[:1].upper()}{one[1:]}") for one in lines])
