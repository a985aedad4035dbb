"""Faces without area: they have no normal, and break tangents and subdivision."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with faces that have collapsed to a line or a point."""
    for one in subject.examination.parts:
        faces = np.flatnonzero(one.topology.collapsed)
        if len(faces):
            count = len(faces)
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                at=worst_place(one.surface.face_centre[faces]),
                message=f"{counted(count, 'face')} {verb(count, 'has', 'have')} no area; merge the "
                "points that lie on each other and delete what is left of them.",
            )


RULE = Rule(code="zero-area-face", severity="look", title="faces without area", find=find)
