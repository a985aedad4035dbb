"""report.html: the whole review as one file that needs no network, no script and no colour."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from jinja2 import Environment
from markupsafe import Markup

from reviewbot.report.embedding import embed, embed_solids, file_address
from reviewbot.report.families import Family, change_families, finding_families
from reviewbot.report.kept_templates import environment_of, keep_all
from reviewbot.report.measure_rows import MeasureRow, measure_rows
from reviewbot.report.names import names_in, names_in_report
from reviewbot.report.order import (
    Standings,
    all_findings,
    by_standing,
    needs_telling,
    severity_counts,
    worst_first,
)
from reviewbot.report.pictures import Gallery, gallery, shown_size, spots_of
from reviewbot.report.plain_text import html_name, html_sentence, plain_sentence, visible
from reviewbot.report.plots import distribution_plot, part_plots
from reviewbot.report.report import AssetEntry, FindingEntry, PictureEntry, Report
from reviewbot.report.tints import TINTS
from reviewbot.report.wording import (
    SEVERITY_SYMBOLS,
    STANDING_WORDS,
    STATE_WORDS,
    VERDICT_MEANINGS,
    VERDICT_SYMBOLS,
    counted,
    figure,
    is_in_title,
    measure_label,
    number,
    place,
    revision,
    value_and_limit,
)

PICTURE_LIMIT = 24 << 20  # bytes of pictures, as they lie in the page
_SOLID_LIMIT = 12 << 20  # bytes of versions to turn freely
_ASSETS = 200  # shown whole; the rest is listed
_ROWS = 600  # measures of one asset
_PARTS = 300  # in the filter


@dataclass(frozen=True, slots=True, kw_only=True)
class _AssetView:
    """What the template shows of one asset."""

    anchor: str
    entry: AssetEntry
    names: frozenset[str]
    standings: Standings
    gallery: Gallery
    rows: list[MeasureRow]
    rows_left_out: int
    plots: list[Markup]


def to_html(
    report: Report, pictures: Mapping[str, bytes], *, picture_limit: int = PICTURE_LIMIT
) -> str:
    """The report as one self-contained HTML file.

    pictures       bytes of each picture by its file name; PNG, WebP and JPEG are shown; and of
                   each solid
    picture_limit  bytes of pictures the page may hold; it says what is left out
    """
    told = [asset for asset in worst_first(report.assets) if needs_telling(asset)]
    environment = page_environment()
    style = environment.get_template("page.css").render()
    script = environment.get_template("page.js").render()
    solids = embed_solids(told[:_ASSETS], pictures, limit=_SOLID_LIMIT)
    viewer = environment.get_template("solid.js").render(tints=TINTS) if solids else ""
    parts = _part_numbers(told)
    part_names = [visible(name) for name in list(parts)[:_PARTS]]
    page = environment.get_template("page.html").render(
        report=report,
        names=names_in_report(report),
        style=Markup(style),
        script=Markup(script),
        viewer=Markup(viewer),
        solids=solids,
        policy=security_policy(style, script, viewer),
        assets=[_asset_view(number, asset) for number, asset in enumerate(told[:_ASSETS], 1)],
        listed=told[_ASSETS:],
        quiet=[asset for asset in report.assets if not needs_telling(asset)],
        standings=by_standing(all_findings(report)),
        embedded=embed(report.pictures, told[:_ASSETS], pictures, limit=picture_limit),
        part_numbers=parts,
        part_names=part_names,
    )
    return page + "\n"


def _asset_view(place: int, asset: AssetEntry) -> _AssetView:
    rows = measure_rows(asset)
    plots = [distribution_plot(entry) for entry in asset.distributions]
    return _AssetView(
        anchor=f"asset-{place}",
        entry=asset,
        names=names_in(asset),
        standings=by_standing(asset.findings),
        gallery=gallery(asset.pictures),
        rows=rows[:_ROWS],
        rows_left_out=max(0, len(rows) - _ROWS),
        plots=[Markup(plot) for plot in [*plots, *part_plots(asset)] if plot],
    )


def _spots(family: Family[FindingEntry], spots: Sequence[PictureEntry]) -> list[PictureEntry]:
    """The close-ups of a family's findings, each once."""
    found = [spot for finding in family.entries for spot in spots_of(finding, spots)]
    return list(dict.fromkeys(found))


def _part_numbers(told: list[AssetEntry]) -> dict[str, int]:
    """Each part's name with a number to filter by: names never go into selectors."""
    names = sorted({f.part for asset in told for f in asset.findings} - {""})
    return {name: place for place, name in enumerate(names, 1)}


def security_policy(style: str, *scripts: str) -> str:
    """The content security policy: pictures inside the file, this style, these scripts, no more."""
    sources = " ".join(_source(script) for script in scripts if script)
    return (
        f"default-src 'none'; img-src data:; style-src {_source(style)}; "
        f"script-src {sources}; base-uri 'none'; form-action 'none'"
    )


def _source(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


@lru_cache(maxsize=1)
def page_environment() -> Environment:
    environment = environment_of("reviewbot.report")
    environment.filters |= {
        # Escaped in there.
        "name": lambda text: Markup(html_name(text)),
        "sentence": lambda text, names=(): Markup(html_sentence(text, names)),
        "visible": visible,
        "plain": plain_sentence,
        "beside": file_address,
        "number": number,
        "figure": figure,
        "label": measure_label,
        "revision": revision,
        "counted": counted,
        "severities": severity_counts,
        "limited": value_and_limit,
        "place": place,
        "in_title": is_in_title,
        "families": finding_families,
        "change_families": change_families,
        "spots": _spots,
        "shown": shown_size,
    }
    environment.globals |= {
        "severity_symbols": SEVERITY_SYMBOLS,
        "verdict_symbols": VERDICT_SYMBOLS,
        "verdict_meanings": VERDICT_MEANINGS,
        "standing_words": STANDING_WORDS,
        "state_words": STATE_WORDS,
    }
    return environment


if __name__ == "__main__":  # as the package is installed: see `kept_templates`
    keep_all(page_environment())
