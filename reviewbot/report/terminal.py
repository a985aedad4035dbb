"""The outcome of a review as a few lines for a terminal."""

from __future__ import annotations

from pathlib import Path

from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import (
    all_findings,
    by_standing,
    needs_telling,
    severity_counts,
    worst_first,
)
from reviewbot.report.plain_text import plain_sentence, visible
from reviewbot.report.report import AssetEntry, Report
from reviewbot.report.wording import SEVERITY_SYMBOLS, VERDICT_SYMBOLS, counted

_ASSETS = 20
_FINDINGS = 3


def to_text(report: Report, folder: Path | None) -> str:
    """The verdict, each asset's changes and gravest new findings, and where the page lies.

    folder  where the reports were written; None where they were not
    """
    told = [asset for asset in worst_first(report.assets) if needs_telling(asset)]
    lines = [
        f"{VERDICT_SYMBOLS[report.verdict]} {report.verdict}: "
        f"{plain_sentence(report.summary, names_in_report(report))}"
    ]
    for asset in told[:_ASSETS]:
        lines += _asset_lines(asset)
    if len(told) > _ASSETS:
        lines.append(f"and {counted(len(told) - _ASSETS, 'more asset')}")
    leading = severity_counts(by_standing(all_findings(report)).leading) or "nothing"
    lines.append(f"{plain_sentence(report.title)}; new or worse: {leading}")
    if folder is not None:
        lines.append(f"page: {folder / 'report.html'}")
    return "\n".join(lines)


def _asset_lines(asset: AssetEntry) -> list[str]:
    names = names_in(asset)
    leading = by_standing(asset.findings).leading
    lines = [f"  {VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} {visible(asset.path)}"]
    lines += [f"      {plain_sentence(change.message, names)}" for change in asset.changes]
    lines += [
        f"    {SEVERITY_SYMBOLS[finding.severity]} {plain_sentence(finding.message, names)}"
        for finding in leading[:_FINDINGS]
    ]
    if len(leading) > _FINDINGS:
        lines.append(f"    and {counted(len(leading) - _FINDINGS, 'more finding')}")
    return lines
