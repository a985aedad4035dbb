"""Points that no face uses."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that has faces and points beside them."""
    for one in subject.examination.parts:
        count = len(one.topology.loose_points)
        if count and one.part.face_count:
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                at=worst_place(one.surface.points[one.topology.loose_points]),
                message=f"{counted(count, 'point')} {verb(count, 'belongs', 'belong')} to no face; "
                f"delete {verb(count, 'it', 'them')}.",
            )


RULE = Rule(code="loose-vertex", severity="note", title="points without a face", find=find)
