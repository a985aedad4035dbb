"""Shells that lie face down in the UV plane: lettering reads backwards on them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import BoolArray
from reviewbot.settings import matches


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part, but for those that the settings allow to be mirrored.

    A shell stacked on an upright copy of itself, as for two halves of one thing, is right so.
    Specks count no more than specks that overlap.
    """
    limit = subject.settings.limits.overlap_share
    stacked = stacked_on_upright(subject.examination)
    for index, one in enumerate(subject.examination.parts):
        if not one.textured or matches(one.part.name, subject.settings.parts.mirrored):
            continue
        mirrored = one.unwrap.shell_mirrored & ~stacked[index]
        if one.unwrap.shell_uv_area[mirrored].sum() <= limit * one.unwrap.uv_area:
            mirrored = np.zeros_like(mirrored)
        folded = one.unwrap.folded
        if np.abs(one.unwrap.face_uv_area[folded]).sum() <= limit * one.unwrap.uv_area:
            folded = np.zeros_like(folded)
        if mirrored.any() or folded.any():
            yield _finding(one, mirrored, folded)


def stacked_on_upright(examination: Examination) -> tuple[BoolArray, ...]:
    """For each part (S,) bool: shells that lie on a congruent one which is not mirrored."""
    atlas, stack = examination.atlas, examination.overlaps.stack
    parts, mirrored = examination.parts, mirrored_charts(examination)
    has_upright = np.zeros(atlas.count, dtype=bool)
    has_upright[stack[~mirrored]] = True
    found = []
    for index, one in enumerate(parts):
        stacked = np.zeros(one.shells.count, dtype=bool)
        own = atlas.part == index
        stacked[atlas.shell[own]] = has_upright[stack[own]]
        found.append(stacked)
    return tuple(found)


def mirrored_charts(examination: Examination) -> BoolArray:
    """(K,) bool: the chart's shell lies face down."""
    parts, atlas = examination.parts, examination.atlas
    first_shell = np.cumsum([0, *(one.shells.count for one in parts)])
    of_shell = np.concatenate([np.empty(0, bool), *(one.unwrap.shell_mirrored for one in parts)])
    return np.asarray(of_shell[first_shell[atlas.part] + atlas.shell])


def _finding(one: PartExamination, mirrored: BoolArray, folded: BoolArray) -> Finding:
    faces = folded | np.append(mirrored, False)[one.shells.face_shell]
    shells, folds = int(np.count_nonzero(mirrored)), int(np.count_nonzero(folded))
    said = []
    if shells:
        said.append(f"{counted(shells, 'shell')} {verb(shells, 'lies', 'lie')} mirrored")
    if folds:
        said.append(f"{counted(folds, 'face')} {verb(folds, 'is', 'are')} folded over")
    cure = f"turn {verb(shells or folds, 'it', 'them')} over"
    if mirrored.all() and not one.winding.sheet_closed.any():
        cure += ", or the faces themselves if they look the wrong way"
    uv_area = np.abs(np.nan_to_num(one.unwrap.face_uv_area))
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        count=shells or folds,
        value=float(uv_area[faces].sum() / max(one.unwrap.uv_area, np.finfo(float).tiny)),
        limit=0.0,
        unit="of the part's UVs",
        at=worst_place(one.surface.face_centre[faces], uv_area[faces]),
        message=f"In the UVs {' and '.join(said)}; {cure}.",
    )


RULE = Rule(code="uv-mirrored", severity="look", title="mirrored or folded UVs", find=find)
