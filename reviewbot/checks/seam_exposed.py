"""Seams in plain sight: where the light runs smoothly over a cut, the join shows."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure, percent
from reviewbot.measure.seam_runs import SeamRun
from reviewbot.settings import Severity

WORTH_IT = 0.5  # of what is exposed must go by moving seams: less is not worth the work


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part whose seams mostly lie open on smooth surface without need.

    Silent where no better way leads between the same ends: a globe has to be cut somewhere. Only
    a note but for hero parts, since a seam well hidden by its painting is no fault.
    """
    limit = subject.settings.limits.seam_exposed_share
    examination = subject.examination
    for one, viewing in zip(examination.parts, examination.viewing, strict=True):
        if viewing is None or not one.textured or one.importance == "hidden":
            continue
        seams = viewing.seams
        share, least = seams.exposed_share, seams.least_share
        if not share > limit or not least <= WORTH_IT * share:
            continue
        severity: Severity = "look" if one.importance == "hero" else "note"
        movable = [run for run in seams.runs if run.detour < run.exposed]
        yield Finding(
            code=RULE.code,
            severity=severity,
            part=one.part.name,
            count=len(movable),
            value=share,
            limit=limit,
            unit="of the seam length",
            at=worst_place(movable[0].at[None]),
            message=f"{percent(share)} of the seam length lies open on smooth surface; along sharp "
            f"or hidden edges it could be {percent(least)}. {_worst(movable[0])}",
        )


def _worst(run: SeamRun) -> str:
    x, y, z = (figure(round(value, 6)) for value in run.at.tolist())
    return f"The worst run that could move is {figure(run.length)} long and passes {x}, {y}, {z}."


RULE = Rule(code="seam-exposed", severity="note", title="seams in plain sight", find=find)
