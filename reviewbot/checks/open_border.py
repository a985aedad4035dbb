"""Holes: borders where a surface just ends."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure
from reviewbot.measure.borders import Borders
from reviewbot.mesh import BoolArray
from reviewbot.settings import matches

# A border that a flat cap of less than a third of the surface would close is a hole in something
# solid; a wider one is the rim of a sheet, and may well be meant. Common practice, no source.
HOLE = 1 / 3


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with open borders, but for those the settings call open sheets."""
    examination = subject.examination
    for one, borders in zip(examination.parts, examination.borders, strict=True):
        known = np.isfinite(borders.loop_length) & (borders.loop_length > 0)
        if known.any() and not matches(one.part.name, subject.settings.parts.open_sheets):
            yield _finding(one.part.name, borders, known)


def _finding(name: str, borders: Borders, known: BoolArray) -> Finding:
    holes = known & (borders.loop_opening < HOLE)
    solid = bool(holes.any())
    loops = holes if solid else known
    count, length = int(np.count_nonzero(loops)), float(borders.loop_length[loops].sum())
    if solid:
        said, cure = counted(count, "hole"), "close what is not meant to be open"
    else:
        said = counted(count, "open border")
        cure = "if it is meant so, name the part in the settings under open_sheets"
    return Finding(
        code=RULE.code,
        severity=RULE.severity if solid else "note",
        part=name,
        count=count,
        value=length,
        unit="units",
        at=worst_place(borders.loop_middle[loops], borders.loop_length[loops]),
        message=f"{said}, {figure(length)} units round{' in all' if count > 1 else ''}; {cure}.",
    )


RULE = Rule(code="open-border", severity="look", title="holes and open borders", find=find)
