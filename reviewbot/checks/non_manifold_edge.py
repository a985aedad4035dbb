"""Edges where three or more faces meet: no inside and outside, no unwrap, no subdivision."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part; faces that lie on another one are not counted as meeting."""
    for one in subject.examination.parts:
        ends = one.surface.points[one.surface.edges.ends[one.manifold.edges]]
        if len(ends):
            count = len(ends)
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                count=count,
                at=worst_place(ends.mean(axis=1)),
                message=f"At {counted(count, 'edge')} more than two faces meet; "
                f"take {verb(count, 'it', 'them')} apart so that every edge joins two faces.",
            )


RULE = Rule(
    code="non-manifold-edge", severity="stop", title="edges of three or more faces", find=find
)
