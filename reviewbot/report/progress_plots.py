"""Plots of a period: one asset's measures from version to version, and the open findings by day.

Each measure has a panel of its own with its unit: panels are read one by one, and no two scales
share an axis. Colours are Okabe and Ito's; a mark's shape says the same as its colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter

from reviewbot.render.colours import BLUE, INK, MUTED, ORANGE, PAPER, VERMILLION
from reviewbot.render.picture import Picture
from reviewbot.report.plain_text import visible
from reviewbot.report.plot_style import TEXT, TITLE, blank, colour_of, dress, finished, font
from reviewbot.report.progress import AssetProgress, Progress, TrackedEntry, VersionEntry
from reviewbot.report.progress_words import short_day
from reviewbot.report.wording import number

_LOG_FROM = 20.0  # largest over smallest from which on a scale is logarithmic
_MOST_TICKS = 4
_STOP, _LOOK = "must be mended", "want a look"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    """One measure's panel.

    factor  from the measure to what is shown
    least   the least range shown: what changes by less is no news
    floor   below which nothing can lie
    """

    key: str
    title: str
    factor: float = 1.0
    least: float = 0.0
    floor: float = 0.0


_PANELS = (
    _Panel(key="faces", title="Faces", least=20),
    _Panel(key="stretch_l2", title="Stretch (L2, 1 is none)", least=0.2, floor=0.95),
    _Panel(key="seam_length", title="Seam length (units)"),
    _Panel(key="tile_use", title="Used texture (%)", factor=100, least=10),
)
_LEAST_SHARE = 0.1  # of the figure itself: the least range of any panel


def asset_plot(way: AssetProgress) -> list[Picture]:
    """Faces, stretch, seam length, used texture and open findings over the versions of an asset.

    Nothing for fewer than two versions that could be measured.
    """
    versions = [one for one in way.versions if one.stops is not None]
    if sum(one.measures is not None for one in versions) < 2:
        return []
    name = visible(way.path.rsplit("/", 1)[-1])
    figure = blank(4.9, f"Measures of {name}, version by version")
    grid = figure.add_gridspec(
        2, 3, left=0.07, right=0.985, bottom=0.09, top=0.86, hspace=0.62, wspace=0.32
    )
    places = [figure.add_subplot(grid[at // 3, at % 3]) for at in range(5)]
    for axes, panel in zip(places, _PANELS, strict=False):
        _measure_panel(axes, versions, panel)
    _open_panel(places[4], versions)
    _day_ticks(places, versions)
    told = "; ".join(filter(None, (_first_and_last(versions, panel) for panel in _PANELS)))
    return [
        finished(
            figure,
            name="measures",
            caption=f"The measures over {len(versions)} versions: {told}.",
            alt=f"Plots over {len(versions)} versions: {told}",
        )
    ]


def findings_plot(progress: Progress) -> list[Picture]:
    """Findings open at each moment of the period; nothing where none ever was."""
    if not progress.findings:
        return []
    since, until = map(datetime.fromisoformat, (progress.since, progress.until))
    figure = blank(2.3, "Open findings")
    axes = figure.add_axes((0.07, 0.2, 0.915, 0.56))
    dress(axes, "")
    _open_area(axes, progress.findings, since, until)
    ticks = _midnights(since, until, ZoneInfo(progress.zone))
    axes.set_xticks(
        [_days(tick - since) for tick in ticks], [short_day(tick.isoformat()) for tick in ticks]
    )
    ends = f"{_open_at(progress.findings, since)} at the start, "
    ends += f"{_open_at(progress.findings, until)} at the end"
    return [
        finished(
            figure,
            name="open-findings",
            caption=f"Open findings over the period: {ends}.",
            alt=f"Plot of open findings: {ends}",
        )
    ]


def _open_area(
    axes: Axes, findings: Sequence[TrackedEntry], since: datetime, until: datetime
) -> None:
    moments, stops, both = _open_counts(findings, since, until)
    days = [_days(moment - since) for moment in moments]
    axes.fill_between(
        days, [0] * len(days), stops, step="post", color=colour_of(VERMILLION), linewidth=0,
        label=_STOP,
    )  # fmt: skip
    axes.fill_between(
        days, stops, both, step="post", facecolor=colour_of(ORANGE), hatch="////",
        edgecolor=colour_of(PAPER), linewidth=0, label=_LOOK,
    )  # fmt: skip
    axes.set_ylim(0, 1.15 * max(1, *both))
    axes.set_xlim(0, max(days[-1], 1e-3))
    axes.yaxis.set_major_locator(MaxNLocator(4, integer=True))
    axes.legend(
        loc="lower right", bbox_to_anchor=(1, 1.02), ncols=2, frameon=False, prop=font(TEXT)
    )


def _measure_panel(axes: Axes, versions: Sequence[VersionEntry], panel: _Panel) -> None:
    known = [
        (at, value * panel.factor)
        for at, one in enumerate(versions)
        if isinstance(value := (one.measures or {}).get(panel.key), int | float)
    ]
    dress(axes, panel.title)
    axes.set_xlim(-0.4, len(versions) - 0.6)
    if not known:
        axes.set_yticks([])
        axes.text(
            0.5,
            0.5,
            "none yet",
            transform=axes.transAxes,
            ha="center",
            fontproperties=font(TEXT),
            color=colour_of(MUTED),
        )
        return
    places, values = zip(*known, strict=True)
    axes.plot(places, values, color=colour_of(BLUE), linewidth=2, marker="o", markersize=4.5)
    low, high = min(values), max(values)
    if low > 0 and high / low > _LOG_FROM:
        axes.set_yscale("log")
        axes.set_ylim(low / 1.6, high * 1.6)
        axes.yaxis.set_minor_formatter(NullFormatter())
        axes.set_title(
            f"{panel.title}, log scale",
            loc="left",
            fontproperties=font(TITLE),
            color=colour_of(INK),
        )
    else:
        span = 1.3 * max(high - low, panel.least, _LEAST_SHARE * abs(high)) or 1.0
        bottom = max(panel.floor, 0.5 * (low + high) - 0.5 * span)
        axes.set_ylim(bottom, bottom + span)
        axes.yaxis.set_major_locator(MaxNLocator(3, integer=panel.key == "faces"))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number(float(f"{value:.4g}"))))


def _open_panel(axes: Axes, versions: Sequence[VersionEntry]) -> None:
    dress(axes, "Open findings")
    axes.set_xlim(-0.4, len(versions) - 0.6)
    places = range(len(versions))
    looks = [one.looks or 0 for one in versions]
    stops = [one.stops or 0 for one in versions]
    axes.bar(places, stops, width=0.7, color=colour_of(VERMILLION), label=_STOP)
    axes.bar(
        places, looks, width=0.7, bottom=stops, label=_LOOK,
        color=colour_of(ORANGE), hatch="////", edgecolor=colour_of(PAPER), linewidth=0,
    )  # fmt: skip
    highest = max(one + other for one, other in zip(stops, looks, strict=True))
    axes.set_ylim(0, max(1, highest) * 1.15)
    axes.yaxis.set_major_locator(MaxNLocator(4, integer=True))
    axes.legend(loc="center left", bbox_to_anchor=(1.08, 0.5), frameon=False, prop=font(TEXT))


def _day_ticks(places: Iterable[Axes], versions: Sequence[VersionEntry]) -> None:
    """A few days under every panel, evenly among the versions."""
    last = len(versions) - 1
    shown = sorted({round(k * last / (_MOST_TICKS - 1)) for k in range(_MOST_TICKS)})
    for axes in places:
        axes.set_xticks(shown, [short_day(versions[at].when) for at in shown])


def _open_counts(
    findings: Sequence[TrackedEntry], since: datetime, until: datetime
) -> tuple[list[datetime], list[int], list[int]]:
    """Moments at which something opens or ends; from each on, open stops, and all that is open."""
    spans = [
        (
            one.severity == "stop",
            _within(one.opened, since, until, since),
            until if one.ended is None else _within(one.ended, since, until, until),
            one.ended is None,
        )
        for one in findings
    ]
    moments = sorted({since, until, *(span[1] for span in spans), *(span[2] for span in spans)})

    def count(moment: datetime, *, stops_only: bool) -> int:
        return sum(
            begins <= moment and (moment < ends or is_open)
            for is_stop, begins, ends, is_open in spans
            if is_stop or not stops_only
        )

    return (
        moments,
        [count(moment, stops_only=True) for moment in moments],
        [count(moment, stops_only=False) for moment in moments],
    )


def _midnights(since: datetime, until: datetime, zone: ZoneInfo) -> list[datetime]:
    """Where the days of a zone begin, at most eight of them, evenly spaced."""
    first = since.astimezone(zone).replace(tzinfo=None)
    day = first.replace(hour=0, minute=0, second=0, microsecond=0)
    step = max(1, math.ceil(_days(until - since) / 8))
    if day < first:
        day += timedelta(days=1)
    found = []
    # The last label needs room to its right.
    while (tick := day.replace(tzinfo=zone)) < until - (until - since) * 0.03:
        found.append(tick)
        day += timedelta(days=step)
    return found


def _days(span: timedelta) -> float:
    return span.total_seconds() / 86400


def _within(when: str | None, since: datetime, until: datetime, usual: datetime) -> datetime:
    return usual if when is None else min(max(datetime.fromisoformat(when), since), until)


def _open_at(findings: Iterable[TrackedEntry], moment: datetime) -> int:
    """How many are open at a moment; what is older than the period was open at its start."""
    return sum(
        (one.opened is None or datetime.fromisoformat(one.opened) < moment)
        and (one.ended is None or datetime.fromisoformat(one.ended) >= moment)
        for one in findings
    )


def _first_and_last(versions: Sequence[VersionEntry], panel: _Panel) -> str:
    known = [
        value * panel.factor
        for one in versions
        if isinstance(value := (one.measures or {}).get(panel.key), int | float)
    ]
    if not known:
        return ""
    noun = panel.title.split(" (")[0].lower()
    unit = "%" if panel.factor == 100 else ""
    first, last = (number(float(f"{value:.3g}")) + unit for value in (known[0], known[-1]))
    return f"{noun} {first}, as before" if first == last else f"{noun} {first} to {last}"
