"""Hard edges without support loops on a part to be subdivided: they come out round."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted, percent, verb


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part that is to be subdivided and will lose hard edges."""
    limit = subject.settings.limits.corner_rounds_share
    for one in subject.examination.parts:
        if one.subdivision is None:
            continue
        rounding = one.subdivision.rounding
        lost = np.flatnonzero(rounding.shift > limit)
        if not len(lost):
            continue
        count, worst = len(lost), float(rounding.shift[lost].max())
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=count,
            value=worst,
            limit=limit,
            unit="of the part's size",
            at=worst_place(rounding.segments[lost].mean(axis=1), rounding.shift[lost]),
            message=f"{counted(count, 'hard edge')} {verb(count, 'rounds', 'round')} off by up to "
            f"{percent(worst)} of the part's size when subdivided; put support loops beside them.",
        )


RULE = Rule(code="corner-will-round", severity="look", title="edges that round off", find=find)
