"""Quads with a corner that turns inwards: what their diagonal covers is anybody's guess."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb

# Least scaled Jacobian (Verdict manual, SAND2007-1751) below which a corner turns inwards and is
# not just straight: half a degree between sides of equal length.
TURNED = -0.01


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part; larger faces are n-gons, and said as such."""
    for one in subject.examination.parts:
        jacobian = one.quality.scaled_jacobian
        faces = np.flatnonzero(
            (np.diff(one.part.face_start) == 4) & (jacobian < TURNED) & ~one.topology.collapsed
        )
        if len(faces):
            count = len(faces)
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
                message=f"{counted(count, 'quad')} {verb(count, 'has', 'have')} a corner that "
                "turns inwards or sides that cross; move the corner out or cut the face in two.",
            )


RULE = Rule(
    code="concave-face", severity="look", title="quads with a corner turned inwards", find=find
)
