"""Faces without UVs on a part that is to be textured.

A stop once unwrapping has begun, that is, where the part had UVs, has some, or others have.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.examine import PartExamination
from reviewbot.mesh import IndexArray
from reviewbot.settings import Severity

_CARRY_NONE = ("stl",)


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with unmapped faces, or one for all where no part has any UVs.

    High parts are baked from and need no UVs.
    """
    textured = [one for one in subject.examination.parts if one.textured]
    begun = any(one.shells.count for one in textured)
    bare = [(one, faces) for one in textured if len(faces := _bare_faces(one))]
    if len(bare) > 1 and not begun:
        yield _without_any(bare, subject)
        return
    for one, faces in bare:
        severity = RULE.severity if begun or _had_uvs(one, subject) else "look"
        severity = "look" if one.importance == "hidden" else severity
        yield _without_some(one, faces, severity, subject)


def _bare_faces(one: PartExamination) -> IndexArray:
    return np.flatnonzero(~one.unwrap.mapped & ~one.topology.collapsed).astype(np.int32)


def _had_uvs(one: PartExamination, subject: Subject) -> bool:
    before = subject.before.parts if subject.before else ()
    return any(old.part.name == one.part.name and old.shells.count for old in before) or any(
        change.code == "uv-lost" and change.part in ("", one.part.name)
        for change in subject.changes
    )


def _without_any(bare: list[tuple[PartExamination, IndexArray]], subject: Subject) -> Finding:
    lost = any(_had_uvs(one, subject) for one, _ in bare)
    largest = max((one for one, _ in bare), key=lambda one: np.nansum(one.surface.face_area))
    return Finding(
        code=RULE.code,
        severity=RULE.severity if lost else "look",
        part="",
        count=sum(len(faces) for _, faces in bare),
        value=1.0,
        limit=0.0,
        unit="of the surface",
        at=worst_place(largest.surface.face_centre, largest.surface.face_area),
        message=f"None of the {len(bare)} parts has UVs; {_advice(subject, 'unwrap them')}.",
    )


def _without_some(
    one: PartExamination, faces: IndexArray, severity: Severity, subject: Subject
) -> Finding:
    count = len(faces)
    return Finding(
        code=RULE.code,
        severity=severity,
        part=one.part.name,
        count=count,
        value=1 - one.unwrap.mapped_share,
        limit=0.0,
        unit="of the surface",
        at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
        message=f"{counted(count, 'face')} {verb(count, 'has', 'have')} no UVs; "
        f"unwrap {verb(count, 'it', 'them')} too."
        if one.shells.count
        else f"This part has no UVs; {_advice(subject, 'unwrap it')}.",
    )


def _advice(subject: Subject, words: str) -> str:
    """What to do; another format first, where this one can carry no UVs."""
    form = subject.examination.model.format
    if form in _CARRY_NONE:
        return f"{form.upper()} files cannot carry any, so export to a format that does"
    return words


RULE = Rule(code="uv-missing", severity="stop", title="faces without UVs", find=find)
