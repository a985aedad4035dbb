"""A review on the page of the hosted job that made it.

Source: GitHub's docs "Workflow commands", adding a job summary: 1 MiB a step at most.
"""

from __future__ import annotations

from pathlib import Path

from reviewbot.errors import UsageError
from reviewbot.report.markdown import to_markdown
from reviewbot.report.report import Report

SUMMARY_VARIABLE = "GITHUB_STEP_SUMMARY"
LARGEST_SUMMARY = 2**20  # bytes


def add_job_summary(report: Report, file: Path) -> None:
    """Appends the report, without pictures, to the file that the job's page shows.

    Where it would no longer fit nothing is added: a host drops a summary that is too large whole.
    Raises UsageError where the file cannot be written.
    """
    data = f"{to_markdown(_without_pictures(report), picture_url=str)}\n".encode()
    try:
        taken = file.stat().st_size if file.exists() else 0
        if taken + len(data) <= LARGEST_SUMMARY:
            with file.open("ab") as page:
                page.write(data)
    except OSError as error:
        raise UsageError(f"the job's summary cannot be written: {error.strerror}") from error


def _without_pictures(report: Report) -> Report:
    assets = tuple(asset.model_copy(update={"pictures": ()}) for asset in report.assets)
    return report.model_copy(update={"assets": assets, "pictures": ()})
