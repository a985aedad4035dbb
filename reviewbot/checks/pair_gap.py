"""A high part too far from its low one: rays of the bake miss it and leave holes in the maps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure, percent
from reviewbot.measure.bake import Bake

ALL_MISS = 0.9  # of the surface of every part: the two files do not stand in one place


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a pair of which more rays miss than the settings allow.

    One for all where nearly every ray of every pair misses: that has one cause.
    """
    limit = subject.settings.limits.bake_miss_share
    bakes = subject.examination.pairing.bakes
    if len(bakes) > 1 and all(bake.miss_share > ALL_MISS for bake in bakes):
        yield _all_miss(bakes, limit)
        return
    for bake in bakes:
        if not bake.miss_share > limit:
            continue
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=bake.low,
            value=bake.miss_share,
            limit=limit,
            unit="of the surface",
            at=worst_place(bake.point[np.isnan(bake.gap)]),
            message=_message(bake),
        )


def _all_miss(bakes: Sequence[Bake], limit: float) -> Finding:
    ratios = np.array([bake.size_ratio for bake in bakes])
    ratio = float(np.median(ratios))
    cause = "they do not stand in the same place"
    if abs(ratio - 1) > 0.05 and np.all(np.abs(ratios / ratio - 1) < 0.05):
        cause = f"the high ones are about {figure(float(f'{ratio:.2g}'))} times as large"
    return Finding(
        code=RULE.code,
        severity=RULE.severity,
        part="",
        count=len(bakes),
        value=float(np.median([bake.miss_share for bake in bakes])),
        limit=limit,
        unit="of the surface",
        message=f"None of the {len(bakes)} low parts meets its high part: {cause}. "
        "Bring both to the same size and place.",
    )


def _message(bake: Bake) -> str:
    text = (
        f"Rays from {percent(bake.miss_share)} of the surface meet nothing of '{bake.high}' within "
        f"{figure(bake.reach)} units"
    )
    if bake.caught_share > 0:
        text += f", and {percent(bake.caught_share)} are caught by another part"
    largest = max(bake.low_to_high[1], bake.high_to_low[1])
    if np.isfinite(largest):
        text += f"; the two lie up to {figure(largest)} units apart"
    return text + ". Fit the low part to the high one."


RULE = Rule(code="pair-gap", severity="look", title="bake rays that miss the high part", find=find)
