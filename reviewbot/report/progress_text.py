"""A period's progress as a few lines for a terminal."""

from __future__ import annotations

from pathlib import Path

from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import worst_first
from reviewbot.report.plain_text import plain_sentence, visible
from reviewbot.report.progress import TrackedEntry, grouped, stands_longest
from reviewbot.report.progress_words import age_words
from reviewbot.report.report import Report
from reviewbot.report.wording import SEVERITY_SYMBOLS, VERDICT_SYMBOLS, counted

_ASSETS = 20
_FINDINGS = 5


def progress_text(report: Report, folder: Path | None) -> str:
    """The period, each asset's sentence, and what stands longest; a quiet period in one line.

    folder  where the report was written; None where it was not
    """
    progress = report.progress
    if progress is None or not report.assets:
        return plain_sentence(report.summary)
    names = names_in_report(report)
    lines = [f"{plain_sentence(report.title)}: {plain_sentence(report.summary)}"]
    order = worst_first(report.assets)
    for asset in order[:_ASSETS]:
        told = plain_sentence(asset.summary, names_in(asset))
        lines.append(f"  {VERDICT_SYMBOLS[asset.verdict]} {visible(asset.path)}: {told}")
    if len(order) > _ASSETS:
        lines.append(f"  and {counted(len(order) - _ASSETS, 'more asset')}")
    longest = grouped(stands_longest(progress))
    if longest:
        lines.append("open, the oldest first:")
        lines += [_finding(group, names) for group in longest[:_FINDINGS]]
    if folder is not None:
        lines.append(f"page: {folder / 'report.html'}")
    return "\n".join(lines)


def _finding(group: list[TrackedEntry], names: frozenset[str]) -> str:
    first = group[0]
    parts = ", ".join(visible(one.part) for one in group[:3] if one.part)
    about = f" {parts}" if parts else ""
    return (
        f"  {SEVERITY_SYMBOLS[first.severity]} {visible(first.path)}{about}: "
        f"{plain_sentence(first.message, names)} ({age_words(first)})"
    )
