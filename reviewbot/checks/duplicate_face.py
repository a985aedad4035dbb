"""Two faces on the same points: they flicker, and no unwrap or bake can tell them apart."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import PartExamination
from reviewbot.mesh import BoolArray


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part; pieces that are there twice whole are doubled parts.

    Where two solids stand on each other face to face, that is only worth a look.
    """
    for one in subject.examination.parts:
        extra = extra_faces(one)
        faces = np.flatnonzero(extra)
        if not len(faces):
            continue
        count = len(faces)
        inner = bool(one.twins.touching[faces].all())
        yield Finding(
            code=RULE.code,
            severity="look" if inner else RULE.severity,
            part=one.part.name,
            count=count,
            at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
            message=f"{counted(count, 'face')} {verb(count, 'lies', 'lie')} on a face of another "
            "piece, back to back, where nobody sees them; delete both."
            if inner
            else f"{counted(count, 'face')} {verb(count, 'lies', 'lie')} exactly on another one; "
            "delete the doubles.",
        )


def extra_faces(one: PartExamination) -> BoolArray:
    """(F,) bool: faces that lie on another one, but for those of whole doubled pieces."""
    of_piece = np.append(one.twins.piece_extra, False)[one.topology.face_piece]
    return np.asarray((one.twins.face_twin >= 0) & ~of_piece & ~one.topology.collapsed)


RULE = Rule(code="duplicate-face", severity="stop", title="two faces on the same points", find=find)
