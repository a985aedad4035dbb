"""Faces that look the other way than their neighbours."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.geometry.polygons import corner_faces
from reviewbot.measure.examine import PartExamination


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part. Where the faces only lie side by side, unjoined, it is worth a look."""
    for one in subject.examination.parts:
        sides = one.winding.odd_sides
        if not len(sides):
            continue
        turned = np.flatnonzero(one.winding.turned)
        faces = turned if len(turned) else corner_faces(one.part.face_start)[sides]
        count = len(turned) or len(sides)
        yield Finding(
            code=RULE.code,
            severity=RULE.severity if len(turned) and _are_joined(one) else "look",
            part=one.part.name,
            count=count,
            at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
            message=f"{counted(count, 'face')} {verb(count, 'looks', 'look')} the other way than "
            f"{verb(count, 'its', 'their')} neighbours; turn {verb(count, 'it', 'them')} over."
            if len(turned)
            else f"Along {counted(count, 'edge')} neighbours look opposite ways, and turning faces "
            "over cannot mend it: the surface has only one side. Cut it there.",
        )


def _are_joined(one: PartExamination) -> bool:
    """Whether faces that share points disagree, or the part shares no points at all."""
    count = one.surface.edges.side_count
    by_index = count[one.surface.edges.corner_edge[one.winding.odd_sides]] > 1
    return bool(by_index.any()) or not (count > 1).any()


RULE = Rule(
    code="mixed-winding", severity="stop", title="faces turned against their neighbours", find=find
)
