"""An asset that does not stand on the origin: it lands elsewhere in every scene that uses it."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import percent
from reviewbot.settings import Severity

NEAR = 0.02  # of the longest side: nobody sees less
FAR = 1.0  # its own length away: it was left somewhere in a scene


def find(subject: Subject) -> Iterator[Finding]:
    """At most one finding; none where the settings let an asset stand anywhere."""
    placed = subject.examination.placement
    if subject.settings.placement.origin == "any" or not placed.off_origin > NEAR:
        return
    severity: Severity = "look" if placed.off_origin > FAR else "note"
    yield Finding(
        code=RULE.code,
        severity=severity,
        part="",
        value=placed.off_origin,
        limit=NEAR,
        unit="of the longest side",
        at=worst_place(placed.bottom_centre[None]),
        message=f"The middle of the bottom lies {percent(placed.off_origin)} of the longest side "
        f"away from the origin ({placed.up} is up); move the asset there and apply it.",
    )


RULE = Rule(code="off-origin", severity="look", title="does not stand on the origin", find=find)
