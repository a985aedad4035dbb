"""report.md: the review as GitHub-flavoured Markdown, fit for a pull-request comment."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterable, Sequence
from itertools import islice
from typing import TypeVar
from urllib.parse import quote

from reviewbot.report.families import Family, change_families, finding_families
from reviewbot.report.measure_rows import MeasureRow, changed_rows, measure_rows
from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import (
    Standings,
    all_findings,
    by_standing,
    needs_telling,
    severity_counts,
    worst_first,
)
from reviewbot.report.pictures import comment_rows, shown_size
from reviewbot.report.plain_text import markdown_name, markdown_sentence, plain_sentence, visible
from reviewbot.report.report import AssetEntry, ChangeEntry, FindingEntry, PictureEntry, Report
from reviewbot.report.wording import (
    SEVERITY_SYMBOLS,
    STANDING_WORDS,
    STATE_WORDS,
    VERDICT_SYMBOLS,
    counted,
    is_in_title,
    measure_label,
    number,
    revision,
    value_and_limit,
)

LIMIT = 60_000  # characters; hosts refuse comments above 65,536
_TABLE_SHARE = 0.4  # of the limit goes to the table of assets at most
_PICTURE_SHARE = 0.2
_REMARK_ROOM = 200  # characters kept free for a sentence that counts what was left out
_IN_CELL = 3  # messages in one cell of the table
_PICTURE_ROWS = 12  # in one comment
_ROWS = 25  # in one table of the details
_MISFITS = 5

Entry = TypeVar("Entry")
PictureUrl = Callable[[str], str]


def to_markdown(report: Report, *, picture_url: PictureUrl) -> str:
    """The report as Markdown of at most LIMIT characters; what does not fit is counted and said.

    picture_url  turns a picture's file name into the address it can be fetched from
    """
    told = [asset for asset in worst_first(report.assets) if needs_telling(asset)]
    head = _head(report, told)
    table = _asset_table(told, int(LIMIT * _TABLE_SHARE))
    pictures = _pictures(told, picture_url, int(LIMIT * _PICTURE_SHARE))
    above = _joined([head, table, pictures])
    details = _details(told, LIMIT - len(above) - _REMARK_ROOM)
    return _joined([above, details]) + "\n"


def _head(report: Report, told: Sequence[AssetEntry]) -> str:
    verdict = f"## {VERDICT_SYMBOLS[report.verdict]} {report.verdict}"
    summary = markdown_sentence(report.summary, names_in_report(report))
    remarks = _limited(report.remarks, lambda remark: f"- {markdown_sentence(remark)}", "remark")
    return _joined([verdict, summary, _scope(report, told), remarks])


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
    rows, misfits = _that_fit(told, _asset_row, room - len(head) - _REMARK_ROOM, gap=1)
    table = "\n".join([head, *rows])
    return _joined([table, _left_out(len(misfits), "asset")])


def _asset_row(asset: AssetEntry) -> str:
    names = names_in(asset)
    leading = by_standing(asset.findings).leading
    title = f"{VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} {markdown_name(asset.path)}"
    changes = _in_cell(change_families(asset.changes), lambda family: _said(family, names))
    findings = _in_cell(finding_families(leading), lambda family: _graded(family, names))
    if asset.state != "changed" or not changes:
        changes = "<br>".join(filter(None, [STATE_WORDS[asset.state], changes]))
    return f"| {title} | {changes} | {findings or 'nothing'} |"


def _graded(family: Family[FindingEntry], names: frozenset[str]) -> str:
    severity = family.first.severity
    return f"{SEVERITY_SYMBOLS[severity]} {severity}: {_said(family, names)}"


def _said(
    family: Family[FindingEntry] | Family[ChangeEntry], names: frozenset[str], parts: int = 3
) -> str:
    """The message after the parts it is about, where it does not name them itself."""
    shown = [markdown_name(part) if part else "whole asset" for part in family.parts[:parts]]
    left = len(family.parts) - len(shown)
    about = ", ".join(shown) + (f" and {left:,} more" if left else "")
    told = _with_acceptance(family.first.message, family.first.accepted, names)
    return f"{about}: {told}" if about else told


def _with_acceptance(message: str, accepted: str | None, names: frozenset[str]) -> str:
    told = markdown_sentence(message, names)
    return told if accepted is None else f"{told} Accepted: {markdown_sentence(accepted, names)}"


def _in_cell(entries: Sequence[Entry], write: Callable[[Entry], str]) -> str:
    shown = [write(entry) for entry in entries[:_IN_CELL]]
    if len(entries) > _IN_CELL:
        shown.append(f"and {len(entries) - _IN_CELL:,} more")
    return "<br>".join(shown)


def _pictures(told: Sequence[AssetEntry], picture_url: PictureUrl, room: int) -> str:
    rows = list(islice((row for asset in told for row in comment_rows(asset)), _PICTURE_ROWS))

    def write(row: tuple[AssetEntry, tuple[PictureEntry, ...]]) -> str:
        return _picture_row(*row, picture_url, with_path=len(told) > 1)

    blocks, misfits = _that_fit(rows, write, room - _REMARK_ROOM, gap=2)
    shown = sum(len(row[1]) for row in rows) - sum(len(row[1]) for row in misfits)
    more = sum(len(asset.pictures) for asset in told) - shown
    remark = f"And {counted(more, 'more picture')}: see the page." if more else ""
    return _joined(["### Pictures" if blocks else "", *blocks, remark])


def _picture_row(
    asset: AssetEntry,
    pictures: Sequence[PictureEntry],
    picture_url: PictureUrl,
    *,
    with_path: bool,
) -> str:
    """One picture under its caption; several small ones as a table of one row."""
    names = names_in(asset)
    captions = [_caption(picture, names) for picture in pictures]
    images = [_image(picture, names, picture_url) for picture in pictures]
    path = markdown_name(asset.path) if with_path else ""
    if len(images) == 1:
        return f"{path}: {captions[0]}\n\n{images[0]}" if path else f"{captions[0]}\n\n{images[0]}"
    rows = [captions, [":--"] * len(images), images]
    return _joined([path, "\n".join(f"| {' | '.join(row)} |" for row in rows)])


def _caption(picture: PictureEntry, names: frozenset[str]) -> str:
    told = markdown_sentence(picture.caption, names)
    unsaid = picture.part and picture.part not in picture.caption
    return f"{markdown_name(picture.part)}: {told}" if unsaid else told


def _image(picture: PictureEntry, names: frozenset[str], picture_url: PictureUrl) -> str:
    """As HTML: Markdown cannot say how wide a picture is shown."""
    address = html.escape(quote(picture_url(picture.file), safe=":/?#@!$&'*+,;=%~"))
    alt = html.escape(plain_sentence(picture.alt, names))
    return f'<img src="{address}" alt="{alt}" width="{shown_size(picture)[0]}">'


def _details(told: Sequence[AssetEntry], room: int) -> str:
    blocks, misfits = _that_fit(told, _asset_details, room, gap=2)
    heading = "### Details" if told else ""
    return _joined([heading, *blocks, _left_out(len(misfits), "asset")])


def _asset_details(asset: AssetEntry) -> str:
    names = names_in(asset)
    standings = by_standing(asset.findings)
    summary = (
        f"{VERDICT_SYMBOLS[asset.verdict]} {asset.verdict} "
        f"<code>{html.escape(visible(asset.path))}</code>: {_counts(asset, standings)}"
    )
    families = change_families(asset.changes)
    changes = _limited(families, lambda family: f"- {_said(family, names, _ROWS)}", "change")
    notes = _limited(asset.notes, lambda note: f"- {markdown_sentence(note, names)}", "note")
    sections = [
        _section("What changed", changes),
        _section("New or worse", _finding_table(standings.leading, names)),
        _section("As before", _finding_table(standings.stood, names)),
        _section("Fixed", _finding_table(standings.fixed, names)),
        _section("Accepted", _finding_table(standings.accepted, names)),
        _section("Measures that changed" if asset.before else "Measures", _measure_table(asset)),
        _section("Notes of the reader", notes),
    ]
    return _joined([f"<details><summary>{summary}</summary>", *sections, "</details>"])


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
    rows = _limited(findings, lambda finding: _finding_row(finding, names), "finding")
    return f"{head}\n{rows}"


def _finding_row(finding: FindingEntry, names: frozenset[str]) -> str:
    message = _with_acceptance(finding.message, finding.accepted, names)
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
    return f"{head}\n{_limited(rows, _measure_row, 'measure')}"


def _measure_row(row: MeasureRow) -> str:
    cells = [
        markdown_name(row.part) if row.part else "whole asset",
        markdown_sentence(measure_label(row.key)),
        markdown_sentence(number(row.before)),
        markdown_sentence(number(row.after)),
        number(row.difference),
    ]
    return f"| {' | '.join(cells)} |"


def _limited(entries: Sequence[Entry], write: Callable[[Entry], str], noun: str) -> str:
    """A line an entry, as many as a table holds, and how many more there are."""
    shown = "\n".join(write(entry) for entry in entries[:_ROWS])
    return _joined([shown, _left_out(len(entries) - _ROWS, noun)])


def _left_out(left: int, noun: str) -> str:
    return f"And {counted(left, f'more {noun}')}: see the page." if left > 0 else ""


def _that_fit(
    entries: Sequence[Entry], write: Callable[[Entry], str], room: int, *, gap: int
) -> tuple[list[str], list[Entry]]:
    """As many entries as `room` characters hold, as text with `gap` between, and the others.

    After a few that do not fit the rest is not tried: it would be written to be thrown away.
    """
    shown: list[str] = []
    misfits: list[Entry] = []
    for entry in entries:
        block = write(entry) if len(misfits) < _MISFITS else ""
        need = len(block) + gap
        if block and need <= room:
            shown.append(block)
            room -= need
        else:
            misfits.append(entry)
    return shown, misfits


def _joined(blocks: Iterable[str]) -> str:
    return "\n\n".join(block for block in blocks if block)
