"""report.html of a period: its progress as one file that needs no network, no script, no colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from reviewbot.report.embedding import embed
from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import Standings, by_standing, worst_first
from reviewbot.report.page import PICTURE_LIMIT, page_environment, security_policy
from reviewbot.report.pictures import Gallery, gallery
from reviewbot.report.progress import (
    AssetProgress,
    Fate,
    Progress,
    TrackedEntry,
    grouped,
    recurring,
    stands_longest,
    ways_of,
    with_fate,
)
from reviewbot.report.progress_words import age_words, gains, open_words, short_day, span_words
from reviewbot.report.report import AssetEntry, Report

_ASSETS = 100  # shown whole; the rest is in the table
_ROWS = 500  # of one table


@dataclass(frozen=True, slots=True, kw_only=True)
class _AssetView:
    """What the template shows of one asset."""

    anchor: str
    entry: AssetEntry
    way: AssetProgress
    names: frozenset[str]
    standings: Standings
    gallery: Gallery
    gains: list[str]


def progress_page(
    report: Report, pictures: Mapping[str, bytes], *, picture_limit: int = PICTURE_LIMIT
) -> str:
    """A period's report as one self-contained HTML file; see `page.to_html` for the arguments.

    Raises ValueError for a report without progress.
    """
    progress = report.progress
    if progress is None:
        raise ValueError("this report is of no period")
    environment = page_environment()
    style = environment.get_template("page.css").render()
    script = environment.get_template("page.js").render()
    ways = ways_of(report.assets, progress)
    order = worst_first(report.assets)
    views = [_asset_view(at, asset, ways[id(asset)]) for at, asset in enumerate(order, 1)]
    page = environment.get_template("progress.html").render(
        report=report,
        progress=progress,
        names=names_in_report(report),
        style=Markup(style),
        script=Markup(script),
        policy=security_policy(style, script),
        views=views,
        whole=_ASSETS,
        rows=_ROWS,
        longest=_groups(stands_longest(progress)),
        mended=_of_fate(progress, "mended"),
        passing=recurring(_of_fate(progress, "passing", "gone")),
        embedded=embed(report.pictures, order[:_ASSETS], pictures, limit=picture_limit),
        age=age_words,
        span=span_words,
        day=short_day,
        open_words=open_words,
    )
    return page + "\n"


def _asset_view(place: int, asset: AssetEntry, way: AssetProgress) -> _AssetView:
    return _AssetView(
        anchor=f"asset-{place}",
        entry=asset,
        way=way,
        names=names_in(asset),
        standings=by_standing(asset.findings),
        gallery=gallery(asset.pictures),
        gains=gains(way),
    )


def _of_fate(progress: Progress, *fates: Fate) -> list[list[TrackedEntry]]:
    return _groups(with_fate(progress, *fates))


def _groups(findings: Sequence[TrackedEntry]) -> list[list[TrackedEntry]]:
    return grouped(findings)[:_ROWS]
