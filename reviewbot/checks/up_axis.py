"""An asset whose file says another axis is up than the repository does."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject


def find(subject: Subject) -> Iterator[Finding]:
    """At most one finding; none for formats that do not say which axis is up."""
    said, meant = subject.examination.model.up_axis, subject.settings.placement.up
    if said is not None and said != meant:
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part="",
            message=f"The file says that {said} is up, the settings say {meant}; "
            f"export it with {meant} up.",
        )


RULE = Rule(code="up-axis", severity="note", title="another axis is up", find=find)
