"""A transform left on a part: normals, scales and bakes come out wrong in the next program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure
from reviewbot.measure.examine import PartExamination
from reviewbot.measure.placement import TransformLeft
from reviewbot.settings import Severity


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part, or one for all where each carries the very same turn and scale.

    The same on every part is what an exporter does to change axes or units, so it is only noted;
    so is a part that is merely moved.
    """
    parts = [one for one in subject.examination.parts if one.part.face_count]
    common = _common(parts)
    if common is not None:
        yield _finding("", "note", common, f"Every part still carries {_words(common)}; apply it.")
        return
    for one in parts:
        left = one.transform
        if left.is_nothing:
            continue
        moved_only = left.is_rigid and not _is_turned(left)
        severity: Severity = "note" if moved_only else "look"
        message = f"The part's transform is not applied: it still carries {_words(left)}."
        yield _finding(one.part.name, severity, left, message)


def _common(parts: Sequence[PartExamination]) -> TransformLeft | None:
    """What all of several parts carry alike, where it is more than a move."""
    first = parts[0] if len(parts) > 1 else None
    if first is None or (first.transform.is_rigid and not _is_turned(first.transform)):
        return None
    linear = first.part.transform[:3, :3]
    alike = all(np.allclose(one.part.transform[:3, :3], linear) for one in parts)
    return first.transform if alike else None


def _is_turned(left: TransformLeft) -> bool:
    return not left.degrees <= 1e-4


def _words(left: TransformLeft) -> str:
    parts = []
    if left.mirrored:
        parts.append("a mirroring")
    if _is_turned(left):
        parts.append(f"a turn of {figure(left.degrees)}°")
    low, high = float(left.scale.min()), float(left.scale.max())
    if not left.is_rigid and (abs(low - 1) > 1e-6 or abs(high - 1) > 1e-6):
        even = high - low <= 1e-6 * high
        parts.append(
            f"a scale of {figure(high)}" if even else f"scales of {figure(low)} to {figure(high)}"
        )
    if left.shift:
        parts.append(f"a move by {figure(left.shift)} units")
    return " and ".join(parts)


def _finding(part: str, severity: Severity, left: TransformLeft, message: str) -> Finding:
    worst = float(left.scale[np.argmax(np.abs(np.log(np.maximum(left.scale, 1e-12))))])
    if not left.is_rigid:
        value, limit, unit = worst, 1.0, "times"
    elif _is_turned(left):
        value, limit, unit = left.degrees, 0.0, "degrees"
    else:
        value, limit, unit = left.shift, 0.0, "units"
    return Finding(
        code=RULE.code,
        severity=severity,
        part=part,
        value=value,
        limit=limit,
        unit=unit,
        message=message,
    )


RULE = Rule(
    code="transform-left", severity="look", title="transforms that were not applied", find=find
)
