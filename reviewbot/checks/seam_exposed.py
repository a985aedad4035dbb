"""Seams in plain sight: where the light runs smoothly over a cut, the join shows."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure, percent
from reviewbot.measure.seam_exposure import SeamExposure
from reviewbot.settings import Severity


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part whose seams mostly lie open on smooth surface without need.

    Silent where there is no better place for them: a globe has to be cut somewhere. Only a note
    but for hero parts, since a seam well hidden by its painting is no fault.
    """
    limit = subject.settings.limits.seam_exposed_share
    examination = subject.examination
    for one, viewing in zip(examination.parts, examination.viewing, strict=True):
        if viewing is None or not one.textured or one.importance == "hidden":
            continue
        seams = viewing.seams
        if not seams.exposed_share > limit or not _could_move(seams):
            continue
        severity: Severity = "look" if one.importance == "hero" else "note"
        yield Finding(
            code=RULE.code,
            severity=severity,
            part=one.part.name,
            count=len(seams.runs),
            value=seams.exposed_share,
            limit=limit,
            unit="of the seam length",
            at=worst_place(seams.runs[0].at[None]),
            message=f"{percent(seams.exposed_share)} of the seam length lies open on smooth "
            f"surface, the longest run {figure(max(run.length for run in seams.runs))} units; "
            f"{figure(seams.better_length)} units of sharp or hidden edges could take it.",
        )


def _could_move(seams: SeamExposure) -> bool:
    """Whether edges that would hide a seam are as long as what is exposed in the worst runs."""
    return bool(seams.runs) and seams.better_length >= sum(run.exposed for run in seams.runs)


RULE = Rule(code="seam-exposed", severity="note", title="seams in plain sight", find=find)
