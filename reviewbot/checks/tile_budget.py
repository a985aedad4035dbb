"""More texture tiles than were planned."""

from __future__ import annotations

from collections.abc import Iterator

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import counted


def find(subject: Subject) -> Iterator[Finding]:
    """One finding for the asset. Tiles that hold nothing but copies or overhangs do not count."""
    planned = subject.settings.texture.tiles
    used = subject.examination.tiles.homes
    if len(used) > planned:
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part="",
            count=len(used),
            value=float(len(used)),
            limit=float(planned),
            unit="tiles",
            message=f"The UVs lie on {counted(len(used), 'tile')} "
            f"({', '.join(map(str, used[:8]))}{' ...' if len(used) > 8 else ''}), planned "
            f"{'is' if planned == 1 else 'are'} {planned}; move the shells together.",
        )


RULE = Rule(code="tile-budget", severity="look", title="more tiles than planned", find=find)
