"""Faces of more than four sides."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.subject import Subject
from reviewbot.settings import Severity

CODE: Final = "ngon"
SEVERITY: Final[Severity] = "look"
TITLE: Final = "faces with more than four sides"


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that holds n-gons."""
    for one in subject.examination.parts:
        faces = np.flatnonzero(np.diff(one.part.face_start) > 4)
        if len(faces):
            x, y, z = one.surface.face_centre[faces[0]].tolist()
            yield Finding(
                code=CODE,
                severity=SEVERITY,
                part=one.part.name,
                count=len(faces),
                at=(x, y, z),
                message=f"{len(faces)} faces have more than four sides; cut them into quads.",
            )
