"""report.md of a period: its progress as GitHub-flavoured Markdown, fit for an issue's comment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reviewbot.report.families import change_families
from reviewbot.report.markdown import LIMIT
from reviewbot.report.markdown_blocks import ROWS, joined, left_out, said, that_fit
from reviewbot.report.markdown_pictures import PictureUrl, caption_of, image_of, overview_blocks
from reviewbot.report.names import names_in
from reviewbot.report.order import worst_first
from reviewbot.report.plain_text import markdown_name, markdown_sentence
from reviewbot.report.progress import (
    AssetProgress,
    PersonEntry,
    Progress,
    TrackedEntry,
    grouped,
    recurring,
    stands_longest,
    ways_of,
    with_fate,
)
from reviewbot.report.progress_words import age_words, gains, open_words, short_day, span_words
from reviewbot.report.report import AssetEntry, PictureEntry, Report
from reviewbot.report.wording import (
    SEVERITY_SYMBOLS,
    STATE_WORDS,
    VERDICT_SYMBOLS,
    counted,
    revision,
)

FILM = "film"
SHOWN_KINDS = ("film-strip", "strip", "progress", FILM)
_LONGEST = 10  # findings that stand longest
_PARTS = 3
_CHANGES = 6

Names = dict[str, frozenset[str]]


def progress_markdown(report: Report, *, picture_url: PictureUrl) -> str:
    """A period's report as Markdown of at most LIMIT characters; a quiet one is one line.

    picture_url  turns a picture's file name into the address it can be fetched from

    Raises ValueError for a report without progress.
    """
    progress = report.progress
    if progress is None:
        raise ValueError("this report is of no period")
    if not report.assets:
        return markdown_sentence(report.summary) + "\n"
    names = {asset.path: names_in(asset) for asset in report.assets}
    ways = ways_of(report.assets, progress)
    order = worst_first(report.assets)
    above = joined(
        [
            *_head(report, progress),
            overview_blocks(report.pictures, picture_url),
            _asset_table([(asset, ways[id(asset)]) for asset in order], names),
            *_findings(progress, names),
            _people(progress.people),
        ]
    )

    def details(asset: AssetEntry) -> str:
        return _details(asset, picture_url)

    blocks, misfits = that_fit(order, details, LIMIT - len(above) - 200, gap=2)
    return joined([above, *blocks, left_out(len(misfits), "asset")]) + "\n"


def _head(report: Report, progress: Progress) -> Iterator[str]:
    yield f"## Progress, {report.title}"
    yield markdown_sentence(report.summary)
    ends = [markdown_name(revision(name)) for name in (report.base, report.head) if name]
    between = " to ".join(ends) if report.base else f"the first commit to {ends[-1]}"
    yield f"{between} · days of {markdown_name(progress.zone)}"
    yield "\n".join(f"- {markdown_sentence(remark)}" for remark in report.remarks)


def _asset_table(order: Sequence[tuple[AssetEntry, AssetProgress]], names: Names) -> str:
    rows = ["| Asset | Versions | From start to end | Open at the end |", "|:--|--:|:--|:--|"]
    for asset, way in order[:ROWS]:
        made = sum(one.state != "start" for one in way.versions)
        rows.append(
            f"| {VERDICT_SYMBOLS[asset.verdict]} {markdown_name(asset.path)} | {made} "
            f"| {markdown_sentence(asset.summary, names[asset.path])} "
            f"| {open_words(way.versions[-1])} |"
        )
    return joined(["### Assets", "\n".join(rows), left_out(len(order) - ROWS, "asset")])


def _findings(progress: Progress, names: Names) -> Iterator[str]:
    longest = grouped(stands_longest(progress))
    lines = [_tracked(group, names, age_words(group[0])) for group in longest[:_LONGEST]]
    yield _list("Open, the oldest first", lines, len(longest) - _LONGEST)
    mended = grouped(with_fate(progress, "mended"))
    better = [_tracked(group, names, _ended(group[0])) for group in mended[:_LONGEST]]
    better += [
        f"- {markdown_name(way.path)}: {', '.join(told)}"
        for way in progress.assets
        if (told := gains(way))
    ]
    yield _list("Better than at the start", better, len(mended) - _LONGEST)
    passing = recurring(grouped(with_fate(progress, "passing", "gone")))
    went = [_tracked(times[-1], names, span_words(times)) for times in passing[:_LONGEST]]
    yield _list("Came and went", went, len(passing) - _LONGEST)


def _list(title: str, lines: Sequence[str], left: int) -> str:
    if not lines:
        return ""
    return joined([f"### {title}", "\n".join(lines), left_out(left, "finding")])


def _tracked(group: Sequence[TrackedEntry], names: Names, time: str) -> str:
    first = group[0]
    parts = [markdown_name(one.part) for one in group[:_PARTS] if one.part]
    more = f" and {len(group) - _PARTS} more" if len(group) > _PARTS else ""
    about = f" {', '.join(parts)}{more}:" if parts else ""
    message = markdown_sentence(first.message, names.get(first.path, frozenset()))
    return (
        f"- {SEVERITY_SYMBOLS[first.severity]} {first.severity} {markdown_name(first.path)}"
        f"{about} {message} ({time})"
    )


def _ended(one: TrackedEntry) -> str:
    return f"mended {short_day(one.ended)}" if one.ended else "mended"


def _people(people: Sequence[PersonEntry]) -> str:
    rows = ["| Who | Commits | Assets |", "|:--|--:|--:|"]
    rows += [
        f"| {markdown_sentence(one.name)} | {one.commits} | {one.assets} |" for one in people[:ROWS]
    ]
    left = len(people) - ROWS
    more = f"And {counted(left, 'more person', 'more people')}." if left > 0 else ""
    return joined(["### People", "\n".join(rows), more]) if people else ""


def _shown(picture: PictureEntry, names: frozenset[str], picture_url: PictureUrl) -> str:
    """A picture under its caption; what moves is folded away until it is asked for."""
    shown = joined([caption_of(picture, names), image_of(picture, names, picture_url)])
    if picture.kind != FILM:
        return shown
    return joined(["<details><summary>In motion</summary>", shown, "</details>"])


def _details(asset: AssetEntry, picture_url: PictureUrl) -> str:
    names = names_in(asset)
    families = change_families(asset.changes)
    changes = [f"- {said(family, names)}" for family in families[:_CHANGES]]
    pictures = [
        _shown(picture, names, picture_url)
        for kind in SHOWN_KINDS
        for picture in asset.pictures
        if picture.kind == kind
    ]
    if not changes and not pictures:
        return ""
    path = asset.before_path
    moved = f"before: {markdown_name(path)}" if path and path != asset.path else ""
    state = STATE_WORDS[asset.state] if asset.state != "changed" else ""
    return joined(
        [
            f"### {VERDICT_SYMBOLS[asset.verdict]} {markdown_name(asset.path)}",
            ", ".join(filter(None, [state, moved])),
            "\n".join(changes),
            left_out(len(families) - _CHANGES, "change"),
            *pictures,
        ]
    )
