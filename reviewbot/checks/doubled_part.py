"""Parts or pieces that lie exactly on identical ones, as left behind by copying."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb
from reviewbot.measure.doubles import Double
from reviewbot.measure.examine import Examination, PartExamination


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that lies on others, and one that holds pieces twice.

    A low part and a high one may be alike; of two equal parts the later by name is the copy.
    """
    examination = subject.examination
    for index, one in enumerate(examination.parts):
        on = [d for d in examination.doubles if d.part == index and _is_copy(d, examination)]
        if on:
            yield _on_others(one, on, examination)
        pieces = int(np.count_nonzero(one.twins.piece_extra))
        if pieces:
            yield _on_itself(one, pieces)


def _is_copy(double: Double, examination: Examination) -> bool:
    part, other = examination.parts[double.part], examination.parts[double.other]
    if part.textured != other.textured:
        return False
    back = next(d for d in examination.doubles if (d.part, d.other) == (double.other, double.part))
    if double.whole != back.whole:
        return double.whole
    return _order(part.part.name, double.part) > _order(other.part.name, double.other)


def _order(name: str, index: int) -> tuple[int, str, int]:
    return len(name), name, index


def _on_others(one: PartExamination, doubles: list[Double], examination: Examination) -> Finding:
    names = sorted(examination.parts[d.other].part.name for d in doubles)
    pieces = max(d.pieces for d in doubles)
    if any(d.whole for d in doubles):
        said = f"This part lies exactly on {verb(len(names), 'an identical one', 'identical ones')}"
    else:
        said = f"{counted(pieces, 'piece')} of this part {verb(pieces, 'lies', 'lie')} exactly on "
        said += verb(pieces, "an identical one", "identical ones")
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        count=pieces,
        at=worst_place(one.surface.box.mean(axis=0)[None]),
        message=f"{said} ({', '.join(names)}); delete the copy.",
    )


def _on_itself(one: PartExamination, pieces: int) -> Finding:
    faces = np.append(one.twins.piece_extra, False)[one.topology.face_piece]
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part=one.part.name,
        count=pieces,
        at=worst_place(one.surface.face_centre[faces], one.surface.face_area[faces]),
        message=f"{counted(pieces, 'piece')} of this part {verb(pieces, 'lies', 'lie')} exactly on "
        f"{verb(pieces, 'an identical one', 'identical ones')}; delete the copies.",
    )


RULE = Rule(
    code="doubled-part", severity="stop", title="a part lying on an identical one", find=find
)
