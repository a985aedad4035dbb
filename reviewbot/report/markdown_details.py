"""The folded details of one asset in the Markdown report."""

from __future__ import annotations

import html
from collections.abc import Sequence

from reviewbot.report.families import change_families
from reviewbot.report.markdown_blocks import ROWS, joined, limited, said, with_acceptance
from reviewbot.report.measure_rows import MeasureRow, changed_rows, measure_rows
from reviewbot.report.names import names_in
from reviewbot.report.order import Standings, by_standing
from reviewbot.report.plain_text import markdown_name, markdown_sentence, visible
from reviewbot.report.report import AssetEntry, FindingEntry
from reviewbot.report.wording import (
    SEVERITY_SYMBOLS,
    STANDING_WORDS,
    STATE_WORDS,
    VERDICT_SYMBOLS,
    counted,
    measure_label,
    number,
    value_and_limit,
)


def asset_details(asset: AssetEntry) -> str:
    names = names_in(asset)
    standings = by_standing(asset.findings)
    summary = (
        f"{VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} "
        f"<code>{html.escape(visible(asset.path))}</code>: {_counts(asset, standings)}"
    )
    families = change_families(asset.changes)
    changes = limited(families, lambda family: f"- {said(family, names, ROWS)}", "change")
    notes = limited(asset.notes, lambda note: f"- {markdown_sentence(note, names)}", "note")
    sections = [
        _section("What changed", changes),
        _section("New or worse", _finding_table(standings.leading, names)),
        _section("As before", _finding_table(standings.stood, names)),
        _section("Fixed", _finding_table(standings.fixed, names)),
        _section("Accepted", _finding_table(standings.accepted, names)),
        _section("Measures that changed" if asset.before else "Measures", _measure_table(asset)),
        _section("Notes of the reader", notes),
    ]
    return joined([f"<details><summary>{summary}</summary>", *sections, "</details>"])


def _counts(asset: AssetEntry, standings: Standings) -> str:
    counts = [
        (len(asset.changes), counted(len(asset.changes), "change")),
        (len(standings.leading), f"{len(standings.leading):,} new or worse"),
        (len(standings.stood), f"{len(standings.stood):,} as before"),
        (len(standings.fixed), f"{len(standings.fixed):,} fixed"),
    ]
    return ", ".join(words for count, words in counts if count) or STATE_WORDS[asset.state]


def _section(title: str, body: str) -> str:
    return f"**{title}**\n\n{body}" if body else ""


def _finding_table(findings: Sequence[FindingEntry], names: frozenset[str]) -> str:
    if not findings:
        return ""
    head = "| Severity | Standing | Part | Finding | Figure |\n|:--|:--|:--|:--|:--|"
    rows = limited(findings, lambda finding: _finding_row(finding, names), "finding")
    return f"{head}\n{rows}"


def _finding_row(finding: FindingEntry, names: frozenset[str]) -> str:
    message = with_acceptance(finding.message, finding.accepted, names)
    cells = [
        f"{SEVERITY_SYMBOLS[finding.severity]} {finding.severity}",
        STANDING_WORDS[finding.standing],
        markdown_name(finding.part) if finding.part else "whole asset",
        f"{message} ({markdown_name(finding.code)})",
        markdown_sentence(value_and_limit(finding)),
    ]
    return f"| {' | '.join(cells)} |"


def _measure_table(asset: AssetEntry) -> str:
    rows = changed_rows(measure_rows(asset))
    if not rows:
        return ""
    head = "| Part | Measure | Before | After | Difference |\n|:--|:--|--:|--:|--:|"
    return f"{head}\n{limited(rows, _measure_row, 'measure')}"


def _measure_row(row: MeasureRow) -> str:
    cells = [
        markdown_name(row.part) if row.part else "whole asset",
        markdown_sentence(measure_label(row.key)),
        markdown_sentence(number(row.before)),
        markdown_sentence(number(row.after)),
        number(row.difference),
    ]
    return f"| {' | '.join(cells)} |"
