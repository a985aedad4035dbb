"""An asset of an odd size: mostly somebody exported in another unit."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import figure
from reviewbot.measure.placement import unit_factor


def find(subject: Subject) -> Iterator[Finding]:
    """At most one finding; none where the settings give no range.

    Sizes are metres where the file says how many a unit has, else the file's units.
    """
    limits = subject.settings.limits
    per_unit = subject.examination.model.metres_per_unit
    longest = subject.examination.placement.longest * (per_unit or 1.0)
    unit = "m" if per_unit else "units"
    if limits.smallest is not None and longest < limits.smallest:
        limit, side = limits.smallest, "shorter than the smallest"
    elif limits.largest is not None and longest > limits.largest:
        limit, side = limits.largest, "longer than the largest"
    else:
        return
    factor = unit_factor(longest, limits.smallest, limits.largest)
    cause = "" if factor is None else f"; scaled by {figure(1 / factor)} it would fit"
    yield Finding(
        code=RULE.code,
        severity=RULE.severity,
        part="",
        value=longest,
        limit=limit,
        unit=unit,
        message=f"The longest side is {figure(longest)} {unit}, {side} allowed size of "
        f"{figure(limit)}{cause}. Check the unit of the export.",
    )


RULE = Rule(code="odd-unit", severity="look", title="size outside the allowed range", find=find)
