"""A part whose name does not follow the repository's pattern: tools that go by name miss it."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.measure.names import fits_pattern


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part; none where the settings give no pattern."""
    pattern = subject.settings.names.pattern
    for one in subject.examination.parts:
        if not fits_pattern(one.part.name, pattern):
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                message=f"The part's name does not follow the pattern {pattern}; rename it.",
            )


RULE = Rule(
    code="name-pattern", severity="look", title="names that do not follow the pattern", find=find
)
