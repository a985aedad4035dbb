"""Faces of uneven size or shape on a part to be sculpted: detail comes out where nobody put it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, percent
from reviewbot.measure.examine import PartExamination
from reviewbot.measure.subdivision import SOUND_JACOBIAN, Subdivision

POOR = 0.1  # of the surface: a few pinched quads at poles are usual


def find(subject: Subject) -> Iterator[Finding]:
    """At most one finding a part that is to be subdivided: for sizes, else for shapes."""
    limit = subject.settings.limits.size_ratio
    for one in subject.examination.parts:
        if one.subdivision is None:
            continue
        if one.subdivision.reach_spread > limit:
            yield _sizes(one, one.subdivision, limit)
        elif one.subdivision.poor_share > POOR:
            yield _shapes(one, one.subdivision)


def _sizes(one: PartExamination, cage: Subdivision, limit: float) -> Finding:
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        value=cage.reach_spread,
        limit=limit,
        unit="times",
        at=worst_place(one.surface.face_centre, cage.face_reach),
        message=f"A quarter of the surface lies in faces {figure(cage.reach_spread)} times the "
        "size of those on another quarter; even them out before sculpting.",
    )


def _shapes(one: PartExamination, cage: Subdivision) -> Finding:
    jacobian = one.quality.scaled_jacobian
    poor = (jacobian < SOUND_JACOBIAN) & (np.diff(one.part.face_start) == 4)
    count = int(np.count_nonzero(poor))
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        count=count,
        value=cage.poor_share,
        limit=POOR,
        unit="of the surface",
        at=worst_place(one.surface.face_centre[poor], -jacobian[poor]),
        message=f"{counted(count, 'quad')}, {percent(cage.poor_share)} of the surface, are slanted "
        "or folded (scaled Jacobian below 0.3); square them up before sculpting.",
    )


RULE = Rule(code="uneven-quads", severity="look", title="uneven faces to be sculpted", find=find)
