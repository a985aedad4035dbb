"""The table of rules, and the one place where settings change a severity."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from reviewbot.checks import (
    corner_will_round,
    hero_density,
    large_face,
    name_pattern,
    ngon,
    odd_unit,
    off_origin,
    pair_gap,
    pair_missing,
    seam_exposed,
    texture_on_hidden,
    transform_left,
    uneven_quads,
    up_axis,
)
from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.settings import RuleSettings, Severity, importance_of, matches

RULES: tuple[Rule, ...] = (
    ngon.RULE,
    hero_density.RULE,
    seam_exposed.RULE,
    texture_on_hidden.RULE,
    uneven_quads.RULE,
    large_face.RULE,
    corner_will_round.RULE,
    transform_left.RULE,
    off_origin.RULE,
    odd_unit.RULE,
    up_axis.RULE,
    name_pattern.RULE,
    pair_missing.RULE,
    pair_gap.RULE,
)


def run_rules(subject: Subject) -> tuple[Finding, ...]:
    """All findings of a subject, in the table's order, at the severities the settings ask."""
    with np.errstate(all="ignore"):  # nan and infinity in a mesh are findings, not warnings
        found = [finding for rule in RULES for finding in rule.find(subject)]
    judged = (judge(finding, subject) for finding in found)
    return tuple(finding for finding in judged if finding is not None)


def judge(finding: Finding, subject: Subject) -> Finding | None:
    """A finding at its severity under the settings, None where it is off; the last match counts."""
    severity: Severity | Literal["off"] = finding.severity
    for rule in subject.settings.rules:
        if _applies(rule, finding, subject):
            severity = rule.severity
    if severity == "off":
        return None
    return replace(finding, severity=severity)


def _applies(rule: RuleSettings, finding: Finding, subject: Subject) -> bool:
    return (
        rule.code in (finding.code, "*")
        and matches(subject.path, rule.paths)
        and matches(finding.part, rule.parts)
        and importance_of(finding.part, subject.settings) in rule.importance
    )
