"""Faces whose UVs have collapsed: they get one streak of colour, and no tangents."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, percent, verb

FEW = 0.01  # of the surface: less is a leftover, more is an unwrap gone wrong


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with faces that have area in space and none in the UV plane."""
    for one in subject.examination.parts:
        collapsed = one.unwrap.collapsed & ~one.topology.collapsed
        faces = np.flatnonzero(collapsed)
        if not one.textured or not len(faces):
            continue
        area = np.nan_to_num(one.surface.face_area)
        share = float(area[faces].sum() / area.sum())
        count = len(faces)
        yield Finding(
            code=RULE.code,
            severity=RULE.severity if share > FEW else "look",
            part=one.part.name,
            count=count,
            value=share,
            limit=0.0,
            unit="of the surface",
            at=worst_place(one.surface.face_centre[faces], area[faces]),
            message=f"The UVs of {counted(count, 'face')} ({percent(share)} of the surface) have "
            f"collapsed to a line or a point; unwrap {verb(count, 'it', 'them')} again.",
        )


RULE = Rule(code="uv-zero-area", severity="stop", title="collapsed UVs", find=find)
