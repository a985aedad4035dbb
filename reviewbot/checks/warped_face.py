"""Quads folded along a diagonal: they shade differently wherever they are cut into triangles."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.concave_face import TURNED
from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, verb
from reviewbot.measure.examine import PartExamination
from reviewbot.measure.surface import diagonal
from reviewbot.mesh import FloatArray, IndexArray

# Of the asset's size: what lies flatter is less than a pixel deep in a picture of 512 pixels, as
# the twists of small bevels are. Common practice, no source.
SHALLOW = 0.002


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with quads warped beyond the limit; concave ones are said as such."""
    limit = subject.settings.limits.warped_degrees
    least = SHALLOW * diagonal(subject.examination.bounds)
    for one in subject.examination.parts:
        angle = warp_degrees(one)
        suspect = (angle > limit) & (one.quality.scaled_jacobian >= TURNED)
        faces = np.flatnonzero(suspect).astype(np.int32)
        faces = faces[_depths(one, faces) > least]
        if len(faces):
            count, worst = len(faces), float(angle[faces].max())
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                value=worst,
                limit=limit,
                unit="degrees",
                at=worst_place(one.surface.face_centre[faces], angle[faces]),
                message=f"{counted(count, 'quad')} {verb(count, 'is', 'are')} folded along a "
                f"diagonal, the worst by {figure(worst)} degrees; flatten or cut it where the fold "
                "is wanted.",
            )


def warp_degrees(one: PartExamination) -> FloatArray:
    """(F,) largest angle between the normals at two opposite corners; nan for all but quads.

    Verdict's warpage is 1 - cos^3 of it (SAND2007-1751).
    """
    return np.asarray(np.degrees(np.arccos(np.clip(np.cbrt(1 - one.quality.warpage), -1, 1))))


def _depths(one: PartExamination, quads: IndexArray) -> FloatArray:
    """(Q,) units: how far the corners of quads lie off the plane through their middle."""
    corner = one.part.face_start[quads][:, None] + np.arange(4)
    off = one.surface.points[one.part.corner_point[corner]] - one.surface.face_centre[quads, None]
    normal = one.surface.face_vector[quads] / one.surface.face_area[quads, None]
    return np.asarray(np.abs(np.einsum("qck,qk->qc", off, normal)).max(axis=1, initial=0))


RULE = Rule(code="warped-face", severity="look", title="quads folded along a diagonal", find=find)
