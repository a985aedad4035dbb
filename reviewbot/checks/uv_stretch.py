"""Faces that the UV map draws out or squeezes: a texture smears on them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, percent


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part where too much surface is stretched or squeezed beyond the limit.

    Every shell is judged by its own scale: how large it is beside others is a matter of density.
    """
    limits = subject.settings.limits
    for one in subject.examination.parts:
        if not one.textured or not one.shells.count:
            continue
        area = np.where(one.unwrap.mapped, np.nan_to_num(one.surface.face_area), 0.0)
        bad = (one.stretch.face_worst > limits.stretch) & ~one.unwrap.collapsed & (area > 0)
        share = float(area[bad].sum() / max(area.sum(), np.finfo(float).tiny))
        if share <= limits.stretch_share:
            continue
        worst = one.stretch.face_worst[bad]
        yield Finding(
            code=RULE.code,
            severity="note" if one.importance == "hidden" else RULE.severity,
            part=one.part.name,
            count=int(np.count_nonzero(bad)),
            value=share,
            limit=limits.stretch_share,
            unit="of the surface",
            at=worst_place(one.surface.face_centre[bad], np.log(worst) * area[bad]),
            message=f"On {percent(share)} of the surface ({counted(len(worst), 'face')}) the UVs "
            f"are off by more than {figure(limits.stretch)} times in some direction; relax "
            "the shells there, or cut them.",
        )


RULE = Rule(code="uv-stretch", severity="look", title="stretched UVs", find=find)
