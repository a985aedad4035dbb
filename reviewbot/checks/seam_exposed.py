"""Seams in plain sight: where the light runs smoothly over a cut, the join shows."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure, percent
from reviewbot.measure.examine import PartExamination
from reviewbot.measure.seam_exposure import SeamExposure
from reviewbot.measure.seam_runs import SeamRun

WORTH_IT = 0.5  # of what is exposed must go by moving seams: less is not worth the work
RISE = 0.1  # of the seam length: so much more in plain sight than before was hardly meant


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part whose seams mostly lie open on smooth surface without need, or newly do.

    Silent where no better way leads between the same ends: a globe has to be cut somewhere. Only
    a note but for hero parts, since a seam well hidden by its painting is no fault. What was cut in
    the open since the version before is to be looked at on any part: there was a better way.
    """
    limit = subject.settings.limits.seam_exposed_share
    examination, known = subject.examination, _shares_before(subject)
    for one, viewing in zip(examination.parts, examination.viewing, strict=True):
        if viewing is None or not one.textured or one.importance == "hidden":
            continue
        seams, was = viewing.seams, known.get(one.part.name)
        # Without a run that is open for more than half, only half-hidden seams grew.
        if was is not None and seams.runs and seams.exposed_share - was > RISE:
            yield _newly_cut(one, seams, was)
        elif seams.exposed_share > limit and seams.least_share <= WORTH_IT * seams.exposed_share:
            yield _avoidable(one, seams, limit)


def _newly_cut(one: PartExamination, seams: SeamExposure, was: float) -> Finding:
    worst = max(seams.runs, key=lambda run: run.exposed)
    return Finding(
        code=RULE.code,
        severity="look",
        part=one.part.name,
        count=1,
        value=seams.exposed_share,
        limit=was + RISE,
        unit="of the seam length",
        at=worst_place(worst.at[None]),
        message=f"{percent(seams.exposed_share)} of the seam length lies open on smooth surface, "
        f"{percent(was)} before: a seam was cut in plain sight. The most open run is "
        f"{_run(worst)}",
    )


def _avoidable(one: PartExamination, seams: SeamExposure, limit: float) -> Finding:
    movable = [run for run in seams.runs if run.detour < run.exposed]
    return Finding(
        code=RULE.code,
        severity="look" if one.importance == "hero" else "note",
        part=one.part.name,
        count=len(movable),
        value=seams.exposed_share,
        limit=limit,
        unit="of the seam length",
        at=worst_place(movable[0].at[None]),
        message=f"{percent(seams.exposed_share)} of the seam length lies open on smooth surface; "
        f"along sharp or hidden edges it could be {percent(seams.least_share)}. The worst run that "
        f"could move is {_run(movable[0])}",
    )


def _shares_before(subject: Subject) -> dict[str, float]:
    """How much of each part's seams lay in plain sight in the version before, by name."""
    if subject.before is None:
        return {}
    pairs = zip(subject.before.parts, subject.before.viewing, strict=True)
    return {
        one.part.name: viewing.seams.exposed_share
        for one, viewing in pairs
        if viewing is not None and one.textured and viewing.seams.exposed_share >= 0
    }


def _run(run: SeamRun) -> str:
    x, y, z = (figure(round(value, 6)) for value in run.at.tolist())
    return f"{figure(run.length)} long and passes {x}, {y}, {z}."


RULE = Rule(code="seam-exposed", severity="note", title="seams in plain sight", find=find)
