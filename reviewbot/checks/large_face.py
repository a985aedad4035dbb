"""A face far larger than its neighbours on a part to be subdivided: it stays coarse and bulges."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that is to be subdivided and holds such faces."""
    limit = subject.settings.limits.size_ratio
    for one in subject.examination.parts:
        if one.subdivision is None:
            continue
        ratio = one.subdivision.against_around
        faces = np.flatnonzero(ratio > limit)
        if not len(faces):
            continue
        count, worst = len(faces), float(ratio[faces].max())
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=count,
            value=worst,
            limit=limit,
            unit="times",
            at=worst_place(one.surface.face_centre[faces], ratio[faces]),
            message=f"{counted(count, 'face')} {verb(count, 'is', 'are')} up to {figure(worst)} "
            "times the size of the faces around; divide them before subdividing the part.",
        )


RULE = Rule(code="large-face", severity="look", title="large undivided faces", find=find)
