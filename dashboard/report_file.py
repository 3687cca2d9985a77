"""The customer's report as one file: styles and drawings inside, no script, nothing asked from outside."""

from __future__ import annotations

import re
from pathlib import Path

from dashboard.drawings.svg import escape
from dashboard.pages.report_sheet import sheet
from dashboard.report_job import Reported
from dashboard.static_html import html_text
from dashboard.units import Units

ASSETS = Path(__file__).parent / "assets"
STYLES = ("look.css", "report.css")
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""Whatever a file says, a browser that opens it runs no script and asks nobody for anything."""

PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="referrer" content="no-referrer">
<title>{title}</title>
<style>
{styles}
</style>
</head>
<body class="ff-report-file">
{body}
</body>
</html>
"""


def report_html(reported: Reported, units: Units) -> str:
    """Write the report as a file of HTML, the same as the page shows."""
    return PAGE.format(
        policy=escape(POLICY),
        title=escape(f"Job {reported.job.id}, {reported.job.rider.name}: report"),
        styles="\n".join((ASSETS / name).read_text(encoding="utf-8") for name in STYLES),
        body=html_text(sheet(reported, units)),
    )


def file_name(job_id: str) -> str:
    """Give the name of the file: the job's number, without what a file system may not like.

    >>> file_name("0001")
    'report-0001.html'
    """
    return f"report-{re.sub(r'[^A-Za-z0-9_-]', '_', job_id)[:60]}.html"
