"""A hero part with less texture for its size than ordinary ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure
from reviewbot.measure.examine import PartExamination

SLACK = 0.95  # of the normal parts' density: less than this is meant, not left over from packing


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a hero part below the density of all normal parts together."""
    normal = density_of(subject.examination.parts, texture_size=subject.settings.texture.size)
    for one in subject.examination.parts:
        density = one.density.of_part
        if one.importance == "hero" and one.textured and 0 < density < SLACK * normal:
            yield Finding(
                code=RULE.code,
                severity=RULE.severity,
                part=one.part.name,
                value=density,
                limit=normal,
                unit="px/unit",
                message=f"This hero part has {figure(density)} pixels of texture a unit, the "
                f"normal parts have {figure(normal)}; what is looked at most should get the most.",
            )


def density_of(parts: Sequence[PartExamination], *, texture_size: int) -> float:
    """Pixels per unit over all normal textured parts, by their areas; nan without any."""
    normal = [one for one in parts if one.importance == "normal" and one.textured]
    uv_area = sum(one.unwrap.uv_area for one in normal)
    area = sum(float(one.unwrap.shell_area.sum()) for one in normal)
    return texture_size * float(np.sqrt(uv_area / area)) if area > 0 else float("nan")


RULE = Rule(code="density-uneven", severity="look", title="less texture on a hero part", find=find)
