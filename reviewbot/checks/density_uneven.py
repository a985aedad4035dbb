"""Shells of one part, or parts of one importance, with very different texture density."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, verb
from reviewbot.measure.density import middle_of
from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import BoolArray, FloatArray

SMALLEST = 1e-3  # of the part's surface: shells of less are not judged
SEEN = 0.05  # of all directions: faces seen from fewer may well have less texture


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with uneven shells; else a note on a normal part unlike the others.

    Less texture on what hardly anybody sees is no fault.
    """
    limit = subject.settings.limits.density_ratio
    middle = _density_of_normal_parts(subject.examination)
    for index, one in enumerate(subject.examination.parts):
        if not one.textured or not one.shells.count or one.importance == "hidden":
            continue
        ratio = _against(one.density.of_shell, one.density.middle)
        uneven = (ratio > limit) & _judged(subject.examination, index)
        if uneven.any():
            yield _uneven_shells(one, uneven, ratio, limit)
        elif one.importance == "normal" and _against(one.density.middle, middle) > limit:
            yield _unlike_others(one, middle, limit)


def _against(density: FloatArray | float, middle: float) -> FloatArray:
    """By how many times a density is above or below the middle one; 0 where there is none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.maximum(density / np.float64(middle), np.float64(middle) / density)
    return np.where(np.isfinite(ratio), ratio, 0.0)


def _judged(examination: Examination, index: int) -> BoolArray:
    """(S,) bool: shells of some size, and dense ones or ones that are seen."""
    one, viewing = examination.parts[index], examination.viewing[index]
    large = one.unwrap.shell_area >= SMALLEST * one.unwrap.shell_area.sum()
    if viewing is None:
        return np.asarray(large)
    mapped = one.shells.face_shell >= 0
    seen = np.nan_to_num(viewing.exposure.face_seen * one.surface.face_area)[mapped]
    of_shell = np.bincount(one.shells.face_shell[mapped], weights=seen, minlength=one.shells.count)
    is_seen = of_shell > SEEN * one.unwrap.shell_area
    return np.asarray(large & (is_seen | (one.density.of_shell > one.density.middle)))


def _density_of_normal_parts(examination: Examination) -> float:
    """Of the middle surface of all normal textured parts."""
    parts = [one for one in examination.parts if one.textured and one.importance == "normal"]
    densities = np.array([one.density.middle for one in parts])
    areas = np.array([one.unwrap.shell_area.sum() for one in parts])
    return middle_of(densities, areas)


def _uneven_shells(
    one: PartExamination, uneven: BoolArray, ratio: FloatArray, limit: float
) -> Finding:
    count, worst = int(np.count_nonzero(uneven)), float(ratio[uneven].max())
    shell = int(np.flatnonzero(uneven)[np.argmax(ratio[uneven])])
    faces = one.shells.face_shell == shell
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        count=count,
        value=worst,
        limit=limit,
        unit="times",
        at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
        message=f"{counted(count, 'shell')} {verb(count, 'has', 'have')} up to {figure(worst)} "
        f"times more or less texture for {verb(count, 'its', 'their')} size than the rest of the "
        "part; scale the shells alike.",
    )


def _unlike_others(one: PartExamination, middle: float, limit: float) -> Finding:
    own = one.density.middle
    return Finding(
        code=RULE.code,
        severity="note",
        part=one.part.name,
        value=float(_against(own, middle)),
        limit=limit,
        unit="times",
        at=worst_place(one.surface.box.mean(axis=0)[None]),
        message=f"This part has {figure(own)} pixels a unit where most have {figure(middle)}; "
        "scale its UVs, or set its importance in the settings if it is meant so.",
    )


RULE = Rule(code="density-uneven", severity="look", title="uneven texture density", find=find)
