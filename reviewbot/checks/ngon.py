"""Faces of more than four sides: they unwrap, subdivide and triangulate as nobody planned."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that holds n-gons."""
    for one in subject.examination.parts:
        sizes = np.diff(one.part.face_start)
        faces = np.flatnonzero(sizes > 4)
        if not len(faces):
            continue
        count = len(faces)
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=count,
            value=float(sizes.max()),
            limit=4.0,
            unit="sides",
            at=worst_place(one.surface.face_centre[faces], sizes[faces].astype(float)),
            message=f"{counted(count, 'face')} {verb(count, 'has', 'have')} more than four sides "
            f"(up to {sizes.max()}); cut {verb(count, 'it', 'them')} into quads and triangles.",
        )


RULE = Rule(code="ngon", severity="look", title="faces with more than four sides", find=find)
