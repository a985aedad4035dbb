"""Points where surfaces touch without sharing an edge."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part with points whose faces do not hang together."""
    for one in subject.examination.parts:
        points = one.surface.points[one.manifold.points]
        if len(points):
            count = len(points)
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                at=worst_place(points),
                message=f"{counted(count, 'point')} {verb(count, 'holds', 'hold')} surfaces "
                "together that share no edge there; split the point, or join the faces.",
            )


RULE = Rule(
    code="non-manifold-vertex", severity="look", title="surfaces joined by a point", find=find
)
