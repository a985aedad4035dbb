"""Shells too close for the texture's padding: colours bleed from one to the other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, figure, verb
from reviewbot.measure.gaps import segment_ends


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part, and of two parts for the first by name."""
    examination, texture = subject.examination, subject.settings.texture
    atlas, gaps = examination.atlas, examination.gaps
    names = [one.part.name for one in examination.parts]
    pairs = np.stack([atlas.part[gaps.first], atlas.part[gaps.second]], axis=1).tolist()
    owner = np.array([min(pair, key=lambda i: names[i]) for pair in pairs], dtype=np.int64)
    for index in np.unique(owner).tolist():
        rows = np.flatnonzero(owner == index)
        least = float(gaps.pixels[rows].min())
        spot = segment_ends(atlas, examination.parts, gaps.segment[rows[:1]]).mean(axis=1)
        count = len(rows)
        others = {names[i] for row in rows.tolist() for i in pairs[row]} - {names[index]}
        beside = f" ({', '.join(sorted(others))})" if others else ""
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=names[index],
            count=count,
            value=least,
            limit=float(texture.padding),
            unit="px",
            at=worst_place(spot),
            message=f"{counted(count, 'pair')} of shells{beside} {verb(count, 'lies', 'lie')} "
            f"closer than {texture.padding} pixels at {texture.size}, the closest "
            f"{figure(least)}; move them apart.",
        )


RULE = Rule(code="shell-gap", severity="look", title="shells too close to each other", find=find)
