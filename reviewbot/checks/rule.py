"""What a rule is. Each lies in a file of its own and is listed in `checks.rules`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reviewbot.checks.finding import Finding
from reviewbot.checks.subject import Subject
from reviewbot.settings import Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One thing to look for.

    code      of its findings
    severity  unless the settings or a finding's own circumstances say otherwise
    title     what is wrong, in a few words
    find      the findings of a subject, in the order of its parts
    """

    code: str
    severity: Severity
    title: str
    find: Callable[[Subject], Iterator[Finding]]
