"""Coordinates that are no numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import PartExamination


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with points or UVs that are not finite."""
    for one in subject.examination.parts:
        points, uvs = len(one.topology.bad_points), one.topology.bad_uvs
        if points or uvs:
            of = [counted(points, "point")] * bool(points) + [counted(uvs, "UV")] * bool(uvs)
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=points + uvs,
                at=_place(one),
                message=f"{' and '.join(of)} {verb(points + uvs, 'has', 'have')} a coordinate "
                "that is infinite or no number at all, and nothing that touches it can be drawn; "
                "export the part again.",
            )


def _place(one: PartExamination) -> tuple[float, float, float] | None:
    """The middle of what is known of the first spoilt face, else of the part."""
    bad = np.zeros(len(one.surface.points), dtype=bool)
    bad[one.topology.bad_points] = True
    spoilt = np.add.reduceat(
        np.append(bad[one.part.corner_point], False),
        np.minimum(one.part.face_start[:-1], len(one.part.corner_point)),
    )
    faces = np.flatnonzero(spoilt)
    corners = [
        one.part.corner_point[one.part.face_start[f] : one.part.face_start[f + 1]]
        for f in faces[:64].tolist()
    ]
    near = one.surface.points[np.concatenate([np.empty(0, np.int32), *corners])]
    return worst_place(near) or worst_place(one.surface.box.mean(axis=0)[None])


RULE = Rule(
    code="bad-coordinate", severity="stop", title="coordinates that are no numbers", find=find
)
