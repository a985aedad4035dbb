"""Solids whose faces look inwards: they are drawn inside out, or not at all."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with closed pieces turned inside out; walls of hollows are right so."""
    for one in subject.examination.parts:
        inverted = one.winding.sheet_inverted
        count = int(np.count_nonzero(inverted))
        if not count:
            continue
        faces = inverted[one.winding.face_sheet]
        whole = bool(faces.all())
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=count,
            value=float(np.abs(one.winding.sheet_volume[inverted]).sum()),
            unit="cubic units",
            at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
            message="This part is inside out: all its faces look inwards. Turn them over."
            if whole
            else f"{counted(count, 'closed piece')} of this part "
            f"{verb(count, 'is', 'are')} inside out: the faces look inwards. Turn them over.",
        )


RULE = Rule(code="inside-out", severity="stop", title="solids turned inside out", find=find)
