"""The outline is what a viewer knows a prop by: it seldom changes on purpose late in the work."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, percent


def find(subject: Subject) -> Iterator[Finding]:
    """One finding for the asset where the outlines of some view overlap too little."""
    seen = {v.name: v.silhouette_iou for v in subject.views if v.silhouette_iou is not None}
    limit = subject.settings.limits.silhouette_iou
    changed = {name: overlap for name, overlap in seen.items() if overlap < limit}
    if not changed:
        return
    worst = min(changed, key=lambda name: changed[name])
    yield Finding(
        code=RULE.code,
        severity=RULE.severity,
        part="",
        count=len(changed),
        value=changed[worst],
        limit=limit,
        unit="of both outlines",
        message=f"The outline changed in {counted(len(changed), 'view')} of {len(seen)}: in "
        f"{worst}, {percent(1 - changed[worst])} of the two outlines' area belongs to one of them "
        f"only (limit {figure(100 * (1 - limit))}%); where that was not meant, go back to the "
        f"shape before.",
    )


RULE = Rule(code="silhouette-change", severity="look", title="another outline", find=find)
