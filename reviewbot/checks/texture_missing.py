"""A base colour picture that a material asks for and that is not there: the asset stays bare."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.readers.textures import MissingPicture


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a picture, at the part that asks for it where only one does."""
    told: dict[tuple[str, str], list[MissingPicture]] = {}
    for one in subject.examination.textures.missing:
        told.setdefault((one.named_in, one.file), []).append(one)
    for same in told.values():
        parts = list(dict.fromkeys(name for one in same for name in one.parts))
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=parts[0] if len(parts) == 1 else "",
            count=len(parts),
            message=_message(same, PurePath(subject.path).name),
        )


def _message(same: list[MissingPicture], mesh: str) -> str:
    first = same[0]
    materials = list(dict.fromkeys(f"'{one.material}'" for one in same))
    users = materials[0] if len(materials) == 1 else f"{materials[0]} and {len(materials) - 1} more"
    return (
        f"'{first.named_in or mesh}' names the picture '{first.file}' for material {users}, but it "
        f"{first.why}; add the picture, or name it by its path from this file."
    )


RULE = Rule(
    code="texture-missing", severity="look", title="base colour pictures not there", find=find
)
