"""report.md: the review as GitHub-flavoured Markdown, fit for a pull-request comment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from reviewbot.report.families import Family, change_families, finding_families
from reviewbot.report.markdown_blocks import REMARK_ROOM, joined, left_out, said, that_fit
from reviewbot.report.markdown_details import asset_details
from reviewbot.report.markdown_pictures import PictureUrl, overview_blocks, picture_blocks
from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import (
    all_findings,
    by_standing,
    needs_telling,
    severity_counts,
    worst_first,
)
from reviewbot.report.plain_text import markdown_name, markdown_sentence
from reviewbot.report.report import AssetEntry, FindingEntry, Report
from reviewbot.report.wording import (
    SEVERITY_SYMBOLS,
    STATE_WORDS,
    VERDICT_SYMBOLS,
    counted,
    is_in_title,
    revision,
)

# Characters; hosts refuse comments above 65,536. A marker and a link are added to it: with both a
# comment stays under 60,000.
LIMIT = 59_000
_TABLE_SHARE = 0.4  # of the limit goes to the table of assets at most
_PICTURE_SHARE = 0.2
_REMARK_SHARE = 0.1
_IN_CELL = 3  # messages in one cell of the table

Entry = TypeVar("Entry")


def to_markdown(report: Report, *, picture_url: PictureUrl) -> str:
    """The report as Markdown of at most LIMIT characters; what does not fit is counted and said.

    picture_url  turns a picture's file name into the address it can be fetched from
    """
    told = [asset for asset in worst_first(report.assets) if needs_telling(asset)]
    head = _head(report, told)
    table = _asset_table(told, int(LIMIT * _TABLE_SHARE))
    pictures = picture_blocks(told, picture_url, int(LIMIT * _PICTURE_SHARE))
    above = joined([head, overview_blocks(report.pictures, picture_url), table, pictures])
    details = _details(told, LIMIT - len(above) - REMARK_ROOM)
    return joined([above, details]) + "\n"


def _head(report: Report, told: Sequence[AssetEntry]) -> str:
    verdict = f"## {VERDICT_SYMBOLS[report.verdict]} {report.verdict}"
    summary = markdown_sentence(report.summary, names_in_report(report))
    remarks, misfits = that_fit(report.remarks, _remark, int(LIMIT * _REMARK_SHARE), gap=1)
    lists = joined(["\n".join(remarks), left_out(len(misfits), "remark")])
    return joined([verdict, summary, _scope(report, told), lists])


def _remark(remark: str) -> str:
    return f"- {markdown_sentence(remark)}"


def _scope(report: Report, told: Sequence[AssetEntry]) -> str:
    standings = by_standing(all_findings(report))
    quiet = len(report.assets) - len(told)
    facts = [
        markdown_sentence(report.title),
        _revisions(report),
        f"new or worse: {severity_counts(standings.leading) or 'nothing'}",
        f"{len(standings.stood):,} as before" if standings.stood else "",
        f"{len(standings.fixed):,} fixed" if standings.fixed else "",
        f"{len(standings.accepted):,} accepted" if standings.accepted else "",
        f"{counted(quiet, 'asset')} without change" if quiet else "",
    ]
    return " · ".join(fact for fact in facts if fact)


def _revisions(report: Report) -> str:
    if is_in_title(report):
        return ""
    names = [markdown_name(revision(name)) for name in (report.base, report.head) if name]
    return " to ".join(names)


def _asset_table(told: Sequence[AssetEntry], room: int) -> str:
    if not told:
        return ""
    head = "| Asset | What changed | New or worse |\n|:--|:--|:--|"
    rows, misfits = that_fit(told, _asset_row, room - len(head) - REMARK_ROOM, gap=1)
    table = "\n".join([head, *rows])
    return joined([table, left_out(len(misfits), "asset")])


def _asset_row(asset: AssetEntry) -> str:
    names = names_in(asset)
    leading = by_standing(asset.findings).leading
    title = f"{VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} {markdown_name(asset.path)}"
    changes = _in_cell(change_families(asset.changes), lambda family: said(family, names))
    findings = _in_cell(finding_families(leading), lambda family: _graded(family, names))
    if asset.state != "changed" or not changes:
        changes = "<br>".join(filter(None, [STATE_WORDS[asset.state], changes]))
    return f"| {title} | {changes} | {findings or 'nothing'} |"


def _graded(family: Family[FindingEntry], names: frozenset[str]) -> str:
    severity = family.first.severity
    return f"{SEVERITY_SYMBOLS[severity]} {severity}: {said(family, names)}"


def _in_cell(entries: Sequence[Entry], write: Callable[[Entry], str]) -> str:
    shown = [write(entry) for entry in entries[:_IN_CELL]]
    if len(entries) > _IN_CELL:
        shown.append(f"and {len(entries) - _IN_CELL:,} more")
    return "<br>".join(shown)


def _details(told: Sequence[AssetEntry], room: int) -> str:
    blocks, misfits = that_fit(told, asset_details, room, gap=2)
    heading = "### Details" if told else ""
    return joined([heading, *blocks, left_out(len(misfits), "asset")])
