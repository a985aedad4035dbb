"""Parts without a face, as left behind by merging and separating."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that has no faces."""
    for one in subject.examination.parts:
        if not one.part.face_count:
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                at=worst_place(one.surface.points),
                message="This part holds no faces; delete it.",
            )


RULE = Rule(code="empty-part", severity="look", title="parts without a face", find=find)
