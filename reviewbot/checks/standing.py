"""How findings stand against the version before: new, worse, the same, better, fixed.

Findings are the same by rule, by part (through renames, joins and splits) and by place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

from reviewbot.checks.finding import Finding, Standing
from reviewbot.compare.comparison import Comparison
from reviewbot.geometry.groups import joined_labels
from reviewbot.geometry.rigid import inverse, moved, scale_of
from reviewbot.measure.examine import Examination
from reviewbot.mesh import FloatArray, IndexArray

NOISE = 0.02  # a figure that differs by less is the same

# How figures grow with the asset: a file written in another unit makes nothing better or worse.
_POWER_OF_SIZE = {"units": 1, "square units": 2, "px/unit": -1}

_HANGS_ON_CUTS = frozenset({"uv-stretch"})
_CUTS = frozenset({"triangulated", "faces-merged"})
_MAY_STRETCH = frozenset(
    {
        *("reshaped", "subdivided", "retopologised", "faces-added", "faces-removed"),
        *("uv-lost", "uv-added", "uv-reshaped", "seams-cut", "seams-sewn"),
        *("part-added", "part-removed", "parts-joined", "part-split"),
    }
)

Names = tuple[str | None, str | None]


@dataclass(slots=True, kw_only=True)
class _Group:
    """Findings of one rule on parts that belong together; `after` by row."""

    before: list[Finding] = field(default_factory=list)
    after: list[int] = field(default_factory=list)
    one_part: bool = True


def with_standings(
    found_before: Sequence[Finding],
    found_after: Sequence[Finding],
    before: Examination,
    after: Examination,
    comparison: Comparison,
) -> tuple[Finding, ...]:
    """Findings of two compared versions: see `stand`."""
    parts = [
        (
            None if match.before is None else before.parts[match.before].part.name,
            None if match.after is None else after.parts[match.after].part.name,
        )
        for match in comparison.matches
    ]
    stood = stand(found_before, found_after, parts, comparison.undo)
    return tuple(_but_for_cuts(finding, comparison) for finding in stood)


def _but_for_cuts(finding: Finding, comparison: Comparison) -> Finding:
    """A figure that moved only because the same faces were cut, or merged again, is the same.

    A quad is stretched as the mean over its middle, its two halves each in their own way: so every
    export to a format of triangles moves the share of surface beyond a limit.
    """
    if finding.code not in _HANGS_ON_CUTS or finding.standing not in ("worse", "better"):
        return finding
    happened = {one.code for one in comparison.changes if one.part in ("", finding.part)}
    only_cut = happened & _CUTS and not happened & _MAY_STRETCH
    return replace(finding, standing="same") if only_cut else finding


def stand(
    before: Sequence[Finding], after: Sequence[Finding], parts: Sequence[Names], undo: FloatArray
) -> tuple[Finding, ...]:
    """Findings of the version after with their standing, then those that are fixed.

    parts  names of parts that belong together, before and after; None on a side where a part is
           not there
    undo   (4, 4) carries the version after onto the version before
    """
    forward = inverse(undo)
    known = _families(parts)
    groups: dict[tuple[str, int | str], _Group] = defaultdict(_Group)
    for finding in before:
        family, crowded, name = known.of(finding.part, 0)
        group = groups[finding.code, family]
        group.before.append(replace(_carried(finding, forward), part=name))
        group.one_part &= not crowded
    for row, finding in enumerate(after):
        family, crowded, _ = known.of(finding.part, 1)
        group = groups[finding.code, family]
        group.after.append(row)
        group.one_part &= not crowded
    standing: dict[int, Standing] = {}
    fixed: list[Finding] = []
    for group in groups.values():
        fixed += _settle(group, after, standing)
    now = [replace(finding, standing=standing[row]) for row, finding in enumerate(after)]
    return (*now, *(replace(finding, standing="fixed") for finding in fixed))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Families:
    """Parts that belong together.

    number   (name, side) to the number of its family
    crowded  families with several parts on one side
    after    family to the name of its first part after
    """

    number: dict[tuple[str, int], int]
    crowded: frozenset[int]
    after: dict[int, str]

    def of(self, name: str, side: int) -> tuple[int | str, bool, str]:
        """Family, whether it is crowded, and the name that findings of it go by now."""
        family = self.number.get((name, side))
        if family is None:
            return name, False, name
        return family, family in self.crowded, self.after.get(family, name)


def _families(parts: Sequence[Names]) -> _Families:
    keys = {(n, side): None for pair in parts for side, n in enumerate(pair) if n is not None}
    row = {key: number for number, key in enumerate(keys)}
    links = [
        (row[old, 0], row[new, 1]) for old, new in parts if old is not None and new is not None
    ]
    pairs = np.array(links, dtype=np.int32).reshape(-1, 2)
    label = joined_labels(len(row), pairs[:, 0], pairs[:, 1]).tolist()
    number = {key: label[at] for key, at in row.items()}
    after: dict[int, str] = {}
    sides: dict[tuple[int, int], int] = defaultdict(int)
    for (name, side), family in number.items():
        sides[family, side] += 1
        if side == 1:
            after.setdefault(family, name)
    crowded = frozenset(family for (family, _), count in sides.items() if count > 1)
    return _Families(number=number, crowded=crowded, after=after)


def _carried(finding: Finding, forward: FloatArray) -> Finding:
    """A finding of the version before as it reads in the space and unit of the version after."""
    factor = scale_of(forward) ** _POWER_OF_SIZE.get(finding.unit, 0)
    at = finding.at
    if at is not None:
        x, y, z = moved(np.array([at]), forward)[0].tolist()
        at = (x, y, z)
    return replace(
        finding,
        at=at,
        value=None if finding.value is None else finding.value * factor,
    )


def _settle(
    group: _Group, after: Sequence[Finding], standing: dict[int, Standing]
) -> list[Finding]:
    """Note the standing of a group's findings; returns those that are fixed."""
    now = [after[row] for row in group.after]
    if not group.before or not now:
        standing.update(dict.fromkeys(group.after, "new"))
        return group.before
    if len(now) != len(group.before) and not group.one_part:
        all_alike = judged(_together(group.before), _together(now))
        standing.update(dict.fromkeys(group.after, all_alike))
        return []
    old_rows, new_rows = _by_place(group.before, now)
    standing.update(dict.fromkeys(group.after, "new"))
    for old, new in zip(old_rows.tolist(), new_rows.tolist(), strict=True):
        standing[group.after[new]] = judged(group.before[old], now[new])
    return [one for row, one in enumerate(group.before) if row not in old_rows]


def _together(findings: Sequence[Finding]) -> Finding:
    """Several findings of parts that were joined or split as one: counts added, worst figure."""
    counts = [one.count for one in findings if one.count is not None]
    worst = findings[0]
    for one in findings[1:]:
        if _worse_by(worst, one) > 0:
            worst = one
    return replace(worst, count=sum(counts) if counts else None)


def _by_place(before: Sequence[Finding], after: Sequence[Finding]) -> tuple[IndexArray, IndexArray]:
    """Rows of findings that lie nearest to each other, as many pairs as there can be; of those
    that lie alike, in their order."""
    away = np.zeros((len(before), len(after)))
    for i, old in enumerate(before):
        for j, new in enumerate(after):
            if old.at is not None and new.at is not None:
                away[i, j] = float(np.linalg.norm(np.subtract(old.at, new.at)))
    away = np.nan_to_num(away, posinf=0.0)
    out_of_order = np.subtract.outer(
        np.linspace(0, 1, len(before), endpoint=False),
        np.linspace(0, 1, len(after), endpoint=False),
    )
    cost = 1 + away / (away.max() or 1.0) + 1e-6 * out_of_order**2  # a cost of 0 would be no pair
    rows, columns = min_weight_full_bipartite_matching(csr_array(cost))
    return rows.astype(np.int32), columns.astype(np.int32)


def judged(before: Finding, after: Finding) -> Standing:
    """How one finding stands against the same one before, both in one unit.

    The figure that stands against a limit decides; where it is the same, or there is none, the
    count does.
    """
    step = _worse_by(before, after)
    if step == 0:
        step = _step(before.count, after.count)
    if step == 0:
        return "same"
    return "worse" if step > 0 else "better"


def _worse_by(before: Finding, after: Finding) -> int:
    """1 where the figure went farther beyond its limit, -1 where it came nearer, 0 for neither."""
    if before.value is None or after.value is None or after.limit is None:
        return 0
    step = _step(before.value, after.value)
    return step if after.value >= after.limit else -step


def _step(before: float | None, after: float | None) -> int:
    """1 where a figure grew beyond noise, -1 where it fell, else 0."""
    if before is None or after is None:
        return 0
    if abs(after - before) <= NOISE * max(abs(before), abs(after)):
        return 0
    return 1 if after > before else -1
