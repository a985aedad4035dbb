"""Small plots as inline SVG: drawn by class, so that the page's style colours them.

The version before is an outline or a hollow dot, the version after a filled one: the two can be
told apart without colour.
"""

from __future__ import annotations

import html
import itertools
import math
from collections.abc import Sequence

from reviewbot.report.plain_text import visible
from reviewbot.report.report import AssetEntry, DistributionEntry, PartEntry
from reviewbot.report.wording import measure_label, number

_WIDTH, _HEIGHT = 440, 200
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 428, 16, 158
_LABELS = 7  # along an axis
_PLOTTED = ("density", "stretch_l2", "seam_length")  # measures worth comparing between parts
_PARTS = 24
_ROW = 22
_NAME_WIDTH = 150


def distribution_plot(entry: DistributionEntry) -> str:
    """A histogram of both versions, one column a bin; "" where a figure lacks."""
    bins = len(entry.edges) - 1
    before, after = _shares(entry.before, bins), _shares(entry.after, bins)
    edges = [edge for edge in entry.edges if edge is not None and math.isfinite(edge)]
    if bins < 1 or len(edges) != bins + 1 or not (before or after):
        return ""
    top = max([*before, *after, 1e-9])
    title = _title(entry.name, entry.part)
    body = [
        _axis(edges, entry.unit),
        _share_axis(top),
        *(_bar(place, share / top, bins) for place, share in enumerate(after)),
        _steps([share / top for share in before]) if before else "",
    ]
    return _svg(title, _told(edges, before, after), "".join(body), _HEIGHT)


def part_plots(asset: AssetEntry) -> list[str]:
    """For each measure worth comparing: a line a part, the version before and after as dots."""
    parts = [part for part in asset.parts if part.name or part.before_name]
    plots = (_part_plot(parts, key) for key in _PLOTTED)
    return [plot for plot in plots if plot]


def _shares(shares: Sequence[float | None] | None, bins: int) -> list[float]:
    """All shares, or none where one of them is no figure."""
    if shares is None or len(shares) != bins:
        return []
    figures = [share for share in shares if share is not None and math.isfinite(share)]
    return [max(0.0, share) for share in figures] if len(figures) == bins else []


def _title(name: str, part: str) -> str:
    return f"{visible(measure_label(name))}, {visible(part) if part else 'whole asset'}"


def _told(edges: Sequence[float], before: Sequence[float], after: Sequence[float]) -> str:
    """The plot in words, for those who do not see it."""
    lines = []
    for place, (low, high) in enumerate(itertools.pairwise(edges)):
        versions = [
            f"{word} {shares[place]:.1%}"
            for word, shares in (("before", before), ("after", after))
            if shares
        ]
        lines.append(f"{number(low)} to {number(high)}: {', '.join(versions)}")
    return "; ".join(lines)


def _axis(edges: Sequence[float], unit: str) -> str:
    step = max(1, math.ceil(len(edges) / _LABELS))
    width = (_RIGHT - _LEFT) / (len(edges) - 1)
    labels = [
        _text(_LEFT + place * width, _BOTTOM + 16, number(float(f"{edges[place]:.3g}")), "middle")
        for place in range(0, len(edges), step)
    ]
    line = f'<path class="rule" d="M{_LEFT} {_BOTTOM}H{_RIGHT}"/>'
    name = _text(_RIGHT, _BOTTOM + 34, visible(unit), "end") if unit else ""
    return line + "".join(labels) + name


def _share_axis(top: float) -> str:
    return _text(_LEFT - 6, _TOP + 4, f"{top:.0%}", "end") + _text(
        _LEFT - 6, _BOTTOM + 4, "0%", "end"
    )


def _bar(place: int, height: float, bins: int) -> str:
    width = (_RIGHT - _LEFT) / bins
    tall = height * (_BOTTOM - _TOP)
    return (
        f'<rect class="after" x="{_LEFT + place * width + 1:.1f}" y="{_BOTTOM - tall:.1f}" '
        f'width="{max(0.5, width - 2):.1f}" height="{tall:.1f}"/>'
    )


def _steps(heights: Sequence[float]) -> str:
    width = (_RIGHT - _LEFT) / len(heights)
    path = [f"M{_LEFT} {_BOTTOM}"]
    for place, height in enumerate(heights):
        path.append(f"V{_BOTTOM - height * (_BOTTOM - _TOP):.1f}H{_LEFT + (place + 1) * width:.1f}")
    return f'<path class="before" d="{"".join(path)}V{_BOTTOM}"/>'


def _part_plot(parts: Sequence[PartEntry], key: str) -> str:
    rows = [(part.name or part.before_name or "", *_pair(part, key)) for part in parts]
    rows = [row for row in rows if row[1] is not None or row[2] is not None]
    figures = [figure for row in rows for figure in row[1:] if figure is not None]
    if len(rows) < 2 or max(figures) <= min(figures):
        return ""
    shown = sorted(rows, key=_movement, reverse=True)[:_PARTS]
    low, high = _span(figures)
    lines = [_part_line(place, row, low, high) for place, row in enumerate(shown)]
    height = _TOP + len(shown) * _ROW + 30
    ends = _text(_NAME_WIDTH, height - 8, number(float(f"{low:.4g}")), "middle") + _text(
        _RIGHT, height - 8, number(float(f"{high:.4g}")), "end"
    )
    left = len(rows) - len(shown)
    title = f"{measure_label(key)} by part" + (f", {left} more in the table" if left else "")
    told = "; ".join(
        f"{visible(name)}: before {number(before)}, after {number(after)}"
        for name, before, after in shown
    )
    return _svg(title, told, "".join(lines) + ends, height)


def _span(figures: Sequence[float]) -> tuple[float, float]:
    """What the line shows: from 0 on, unless all figures lie in the upper half of that."""
    low, high = min(figures), max(figures)
    return (low if low > high / 2 else min(0.0, low)), high


def _pair(part: PartEntry, key: str) -> tuple[float | None, float | None]:
    return _finite(part.before or {}, key), _finite(part.after or {}, key)


def _finite(measures: dict[str, float | int | str | None], key: str) -> float | None:
    value = measures.get(key)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None


def _movement(row: tuple[str, float | None, float | None]) -> float:
    _, before, after = row
    return math.inf if before is None or after is None else abs(after - before)


def _part_line(
    place: int, row: tuple[str, float | None, float | None], low: float, high: float
) -> str:
    name, before, after = row
    y = _TOP + place * _ROW + 8
    shown = visible(name)
    short = shown if len(shown) <= 20 else f"{shown[:19]}…"

    def x(value: float) -> float:
        return _NAME_WIDTH + (value - low) / (high - low) * (_RIGHT - _NAME_WIDTH)

    marks = [
        f'<path class="rule" d="M{_NAME_WIDTH} {y}H{_RIGHT}"/>',
        _text(_NAME_WIDTH - 10, y + 4, short, "end"),
    ]
    if before is not None and after is not None:
        marks.append(f'<path class="move" d="M{x(before):.1f} {y}H{x(after):.1f}"/>')
    if after is not None:
        marks.append(f'<circle class="after" cx="{x(after):.1f}" cy="{y}" r="4.5"/>')
    if before is not None:
        marks.append(f'<circle class="before" cx="{x(before):.1f}" cy="{y}" r="6"/>')
    return "".join(marks)


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{html.escape(text)}</text>'


def _svg(title: str, told: str, body: str, height: int) -> str:
    said = html.escape(f"{title}. {told}")
    return (
        f'<figure class="plot"><svg viewBox="0 0 {_WIDTH} {height}" role="img" '
        f'aria-label="{said}">{body}</svg>'
        f"<figcaption>{html.escape(title)}</figcaption></figure>"
    )
