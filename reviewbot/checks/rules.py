"""The table of rules, and the one place where settings change a severity."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from reviewbot.checks import ngon
from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.settings import RuleSettings, Severity, importance_of, matches

RULES: tuple[Rule, ...] = (ngon.RULE,)


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
