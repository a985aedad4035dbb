"""The outcome of a review as a few lines for a terminal."""

from __future__ import annotations

from pathlib import Path

from reviewbot.report.families import Family, change_families, finding_families
from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import (
    all_findings,
    by_standing,
    needs_telling,
    severity_counts,
    worst_first,
)
from reviewbot.report.plain_text import plain_sentence, visible
from reviewbot.report.report import AssetEntry, ChangeEntry, FindingEntry, Report
from reviewbot.report.wording import SEVERITY_SYMBOLS, VERDICT_SYMBOLS, counted

_ASSETS = 20
_CHANGES = 5
_FINDINGS = 5
_PARTS = 3


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
    changes = change_families(asset.changes)
    findings = finding_families(by_standing(asset.findings).leading)
    return [
        f"  {VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} {visible(asset.path)}",
        *(f"      {_said(family, names)}" for family in changes[:_CHANGES]),
        *_and_more(len(changes) - _CHANGES, "change"),
        *(
            f"    {SEVERITY_SYMBOLS[family.first.severity]} {_said(family, names)}"
            for family in findings[:_FINDINGS]
        ),
        *_and_more(len(findings) - _FINDINGS, "finding"),
    ]


def _said(family: Family[ChangeEntry] | Family[FindingEntry], names: frozenset[str]) -> str:
    message = plain_sentence(family.first.message, names)
    about = ", ".join(visible(part) if part else "whole asset" for part in family.parts[:_PARTS])
    left = len(family.parts) - _PARTS
    return (about + (f" and {left:,} more" if left > 0 else "") + ": " if about else "") + message


def _and_more(left: int, noun: str) -> list[str]:
    return [f"      and {counted(left, f'more {noun}')}"] if left > 0 else []
