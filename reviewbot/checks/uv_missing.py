"""Faces without UVs on a part that is to be textured."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import PartExamination
from reviewbot.settings import Severity


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with unmapped faces; high parts are baked from and need no UVs."""
    for one in subject.examination.parts:
        bare = np.flatnonzero(~one.unwrap.mapped & ~one.topology.collapsed)
        if not one.textured or not len(bare):
            continue
        whole = not one.shells.count
        count = len(bare)
        yield Finding(
            code=RULE.code,
            severity=_severity(one, subject),
            part=one.part.name,
            count=count,
            value=1 - one.unwrap.mapped_share,
            limit=0.0,
            unit="of the surface",
            at=worst_place(one.surface.face_centre[bare], one.surface.face_area[bare]),
            message="This part has no UVs; unwrap it."
            if whole
            else f"{counted(count, 'face')} {verb(count, 'has', 'have')} no UVs; "
            f"unwrap {verb(count, 'it', 'them')} too.",
        )


def _severity(one: PartExamination, subject: Subject) -> Severity:
    """A stop once unwrapping has begun: this part had UVs, has some, or others have."""
    if one.importance == "hidden":
        return "look"
    before = subject.before.parts if subject.before else ()
    had = any(old.part.name == one.part.name and old.shells.count for old in before)
    lost = any(
        change.code == "uv-lost" and change.part in ("", one.part.name)
        for change in subject.changes
    )
    begun = any(other.shells.count for other in subject.examination.parts if other.textured)
    return RULE.severity if had or lost or begun else "look"


RULE = Rule(code="uv-missing", severity="stop", title="faces without UVs", find=find)
