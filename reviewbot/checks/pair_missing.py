"""A low part without its high part, or the other way round: the bake will leave it out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.measure.names import base_name


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a lone part of this file, and one a name that several of its parts have."""
    pairing, names = subject.examination.pairing, subject.settings.names
    lone_low = pairing.pairs.lone_low if pairing.kind != "high" else ()
    lone_high = pairing.pairs.lone_high if pairing.kind != "low" else ()
    for name in lone_low:
        partner = f"{base_name(name, names.low_suffix) or name}{names.high_suffix}"
        yield _finding(name, f"There is no high part '{partner}' to bake this low part from.")
    for name in lone_high:
        partner = f"{base_name(name, names.high_suffix) or name}{names.low_suffix}"
        yield _finding(name, f"There is no low part '{partner}' to bake this high part onto.")
    own = Counter(one.part.name for one in subject.examination.parts)
    for name in pairing.pairs.twice:
        if own[name] > 1:
            yield _finding(
                name,
                f"{own[name]} parts have this name, so that nobody knows which one is meant for "
                "the bake; give each its own.",
            )


def _finding(part: str, message: str) -> Finding:
    return Finding(code=RULE.code, severity=RULE.severity, part=part, message=message)


RULE = Rule(
    code="pair-missing", severity="look", title="low or high parts without a partner", find=find
)
