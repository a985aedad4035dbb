"""The table of rules, and the one place where settings change a severity."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from reviewbot.checks import ngon
from reviewbot.checks.finding import Finding
from reviewbot.checks.subject import Subject
from reviewbot.settings import RuleSettings, Severity, importance_of, matches


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One thing to look for.

    code      of its findings
    severity  unless the settings or the finding's own circumstances say otherwise
    title     what is wrong, in a few words
    find      the findings of a subject, in the order of its parts
    """

    code: str
    severity: Severity
    title: str
    find: Callable[[Subject], Iterator[Finding]]


RULES: tuple[Rule, ...] = (
    Rule(code=ngon.CODE, severity=ngon.SEVERITY, title=ngon.TITLE, find=ngon.find),
)


def run_rules(subject: Subject) -> tuple[Finding, ...]:
    """All findings of a subject, in the table's order, at the severities the settings ask."""
    found = (finding for rule in RULES for finding in rule.find(subject))
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
