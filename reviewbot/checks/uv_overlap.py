"""UVs that land on other UVs by accident: both show, and bake, the same pixels."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import Point, worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, percent, verb
from reviewbot.measure.examine import Examination
from reviewbot.measure.overlap import overlap_faces
from reviewbot.mesh import IndexArray
from reviewbot.settings import Severity

# So like each other (IoU) that two shells were meant to be stacked and are just a little off.
NEARLY_STACKED = 0.9
# Square pixels of the texture: what shares less cannot show on it.
SMALLEST = 1.0
# With more of the UV area than this out of its tile, the texture is one that repeats.
REPEATING = 0.5


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part whose charts lie on others; of two, the smaller is said to lie there.

    Identical copies in one place are no overlap. Charts of different materials may have textures
    of their own, and are only noted.
    """
    examination = subject.examination
    overlaps = examination.overlaps
    over = overlaps.share > subject.settings.limits.overlap_share
    over &= overlaps.area * subject.settings.texture.size**2 > SMALLEST
    counted_rows = np.flatnonzero(over).astype(np.int32)
    landed, under = _smaller_and_larger(examination, counted_rows)
    owner = examination.atlas.part[landed]
    for index in np.unique(owner).tolist():
        rows = counted_rows[owner == index]
        yield _finding(subject, rows, landed[owner == index], under[owner == index])


def _smaller_and_larger(
    examination: Examination, rows: IndexArray
) -> tuple[IndexArray, IndexArray]:
    """The smaller and the larger chart of each overlap; of equal ones, by the parts' names."""
    first, second = examination.overlaps.first[rows], examination.overlaps.second[rows]
    area = examination.atlas.area
    names = [one.part.name for one in examination.parts]
    rank = np.argsort(np.argsort(names, kind="stable"), kind="stable")
    of_chart = rank.astype(np.int64)[examination.atlas.part]
    alike = np.abs(area[first] - area[second]) <= 1e-6 * area[first]
    swap = np.where(alike, of_chart[first] < of_chart[second], area[first] > area[second])
    return np.where(swap, second, first), np.where(swap, first, second)


def _finding(subject: Subject, rows: IndexArray, landed: IndexArray, under: IndexArray) -> Finding:
    examination, overlaps = subject.examination, subject.examination.overlaps
    part = examination.parts[int(examination.atlas.part[landed[0]])].part.name
    others = {examination.parts[i].part.name for i in examination.atlas.part[under].tolist()}
    itself = others == {part}
    area = float(overlaps.area[rows].sum())
    worst = int(np.argmax(overlaps.area[rows]))
    severity, cure = _judged(subject, rows)
    count = len(np.unique(landed))
    where = (
        verb(count, "itself or its neighbours", "each other")
        if itself
        else f"those of {', '.join(sorted(others))}"
    )
    return Finding(
        code=RULE.code,
        severity=severity,
        part=part,
        count=count,
        value=float(overlaps.share[rows].max()),
        limit=subject.settings.limits.overlap_share,
        unit="of the shell",
        at=_place(examination, int(landed[worst]), int(under[worst])),
        message=f"In the UVs {counted(count, 'shell')} {verb(count, 'overlaps', 'overlap')} with "
        f"{where}, by {percent(area)} of a tile{' in all' if count > 1 else ''}; {cure}.",
    )


def _judged(subject: Subject, rows: IndexArray) -> tuple[Severity, str]:
    overlaps = subject.examination.overlaps
    if overlaps.apart[rows].all():
        return "note", "right only if the materials have textures of their own"
    certain = rows[~overlaps.apart[rows]]
    if (overlaps.likeness[certain] >= NEARLY_STACKED).all():
        return "look", "they are nearly stacked: snap them onto each other, or move them apart"
    if _repeats(subject.examination):
        return "look", "right only if the texture is one that repeats"
    return RULE.severity, "move them apart"


def _repeats(examination: Examination) -> bool:
    """Whether most of the UV area lies out of its tile."""
    atlas, tiles = examination.atlas, examination.tiles
    out = float(atlas.area[tiles.crosses | tiles.outside].sum())
    return out > REPEATING * float(atlas.area.sum())


def _place(examination: Examination, chart: int, other: int) -> Point | None:
    one = examination.parts[int(examination.atlas.part[chart])]
    faces = overlap_faces(examination.atlas, one.part, chart, other)
    return worst_place(one.surface.face_centre[faces], one.surface.face_area[faces])


RULE = Rule(code="uv-overlap", severity="stop", title="UVs that overlap by accident", find=find)
