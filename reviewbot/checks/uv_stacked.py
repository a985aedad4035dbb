"""Identical pieces that share one place in the UVs: right, and worth knowing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.uv_mirrored import mirrored_charts
from reviewbot.checks.words import counted

NAMED = 3  # parts in the message; the rest are counted


def find(subject: Subject) -> Iterator[Finding]:
    """One finding for the asset: how many shells cost no texture because a copy has it already."""
    examination = subject.examination
    atlas, overlaps = examination.atlas, examination.overlaps
    saved = overlaps.is_copy | overlaps.is_parked
    count = int(np.count_nonzero(saved))
    if not count:
        return
    places = len(np.unique(overlaps.stack[saved]))
    in_stack = np.isin(overlaps.stack, overlaps.stack[saved])
    names = sorted({examination.parts[i].part.name for i in atlas.part[in_stack].tolist()})
    mirrored = int(np.count_nonzero(mirrored_charts(examination)[in_stack]))
    turned = f", {mirrored} of them mirrored," if 0 < mirrored < count + places else ""
    listed = ", ".join(names[:NAMED]) + (
        f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    )
    yield Finding(
        code=RULE.code,
        severity=RULE.severity,
        part="",
        count=count,
        value=float(atlas.area[saved].sum()),
        unit="tiles saved",
        message=f"{counted(count + places, 'identical shell')}{turned} share "
        f"{counted(places, 'place')} in the UVs ({listed}), which saves texture.",
    )


RULE = Rule(
    code="uv-stacked", severity="note", title="identical shells stacked on purpose", find=find
)
