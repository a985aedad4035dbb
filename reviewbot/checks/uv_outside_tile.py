"""UVs that lie over the border of their texture tile, or in no tile at all."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import Examination
from reviewbot.mesh import BoolArray


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part. Copies set aside by whole tiles need no tile of their own."""
    examination = subject.examination
    atlas, tiles = examination.atlas, examination.tiles
    nowhere = tiles.outside & ~_is_set_aside(examination)
    for index, one in enumerate(examination.parts):
        own = atlas.part == index
        wrong = np.flatnonzero(own & (tiles.crosses | nowhere))
        if not len(wrong):
            continue
        faces = np.isin(examination.atlas.face_chart[index], wrong)
        uv_area = np.abs(np.nan_to_num(one.unwrap.face_uv_area))
        count, across = len(wrong), int(np.count_nonzero(tiles.crosses[wrong]))
        said = f"{counted(count, 'shell')} {verb(count, 'lies', 'lie')} "
        said += "across the border of a tile" if across == count else "outside the tiles"
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=count,
            value=float(atlas.area[wrong].sum() / max(one.unwrap.uv_area, np.finfo(float).tiny)),
            limit=0.0,
            unit="of the part's UVs",
            at=worst_place(one.surface.face_centre[faces], uv_area[faces]),
            message=f"In the UVs {said}; move {verb(count, 'it', 'them')} inside one tile.",
        )


def _is_set_aside(examination: Examination) -> BoolArray:
    """(K,) bool: a congruent chart lies in the same place of a tile that has a number."""
    stack = examination.overlaps.stack
    placed = np.zeros(len(stack), dtype=bool)
    placed[stack[~examination.tiles.outside]] = True
    return placed[stack]


RULE = Rule(code="uv-outside-tile", severity="look", title="UVs outside their tile", find=find)
