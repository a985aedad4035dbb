"""Measures before and after, side by side."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from reviewbot.report.record import Measures
from reviewbot.report.report import AssetEntry

Measure = float | int | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    """One measure of one part ("" for the whole asset); None where a version has no such figure."""

    part: str
    key: str
    before: Measure
    after: Measure

    @property
    def difference(self) -> float | int | None:
        """After minus before; None unless both are finite figures."""
        if not (_is_figure(self.before) and _is_figure(self.after)):
            return None
        return self.after - self.before  # type: ignore[operator]

    @property
    def is_changed(self) -> bool:
        """Whether the versions differ by more than rounding."""
        before, after = self.before, self.after
        if _is_figure(before) and _is_figure(after):
            return not math.isclose(before, after, rel_tol=1e-6, abs_tol=1e-12)  # type: ignore[arg-type]
        return before != after


def measure_rows(asset: AssetEntry) -> list[MeasureRow]:
    """All measures of an asset and its parts, changed ones first within each."""
    rows = _rows("", asset.before, asset.after)
    for part in asset.parts:
        rows += _rows(part.name or part.before_name or "", part.before, part.after)
    return rows


def changed_rows(rows: Iterable[MeasureRow]) -> list[MeasureRow]:
    """The rows whose two versions differ."""
    return [row for row in rows if row.is_changed]


def _rows(part: str, before: Measures | None, after: Measures | None) -> list[MeasureRow]:
    before, after = before or {}, after or {}
    rows = [
        MeasureRow(part=part, key=key, before=before.get(key), after=after.get(key))
        for key in dict.fromkeys([*after, *before])
    ]
    return sorted(rows, key=lambda row: not row.is_changed)


def _is_figure(value: Measure) -> bool:
    return isinstance(value, int | float) and math.isfinite(value)
