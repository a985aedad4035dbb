"""Texture spent on what nobody sees: what is seen gets less detail than it could have."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from reviewbot.checks.finding import Finding
from reviewbot.checks.place import worst_place
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.checks.words import percent
from reviewbot.measure.examine import PartExamination
from reviewbot.measure.viewing import Viewing


def find(subject: Subject) -> Iterator[Finding]:
    """One finding a part over the limit, or one for the asset where only all parts together are.

    A part that the settings call hidden counts whole, whatever is seen of it.
    """
    limit = subject.settings.limits.hidden_texture_share
    examination = subject.examination
    looked = [
        (one, viewing, wasted_share(one, viewing))
        for one, viewing in zip(examination.parts, examination.viewing, strict=True)
        if viewing is not None and one.textured
    ]
    over = [(one, viewing, share) for one, viewing, share in looked if share > limit]
    for one, viewing, share in over:
        named = one.importance == "hidden"
        cause = "the settings call hidden" if named else unseen(viewing)
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part=one.part.name,
            count=_hidden_faces(one, viewing),
            value=share,
            limit=limit,
            unit="of the texture",
            at=_place(one, viewing),
            message=f"{percent(share)} of the asset's texture lies on faces of this part that "
            f"{cause}; shrink their UVs, or delete the faces.",
        )
    total = float(np.nansum([share for _, _, share in looked]))
    if not over and total > limit:
        yield Finding(
            code=RULE.code,
            severity=RULE.severity,
            part="",
            count=sum(_hidden_faces(one, viewing) for one, viewing, _ in looked),
            value=total,
            limit=limit,
            unit="of the texture",
            at=_place(*max(looked, key=lambda row: np.nan_to_num(row[2]))[:2]),
            message=f"{percent(total)} of the asset's texture lies on faces, over several parts, "
            f"that {unseen(looked[0][1])}; shrink their UVs, or delete the faces.",
        )


def unseen(viewing: Viewing) -> str:
    """Who does not see it."""
    if viewing.cameras:
        return "no camera of the settings sees"
    return "no view from all around shows"


def wasted_share(one: PartExamination, viewing: Viewing) -> float:
    """The part of the asset's texture that is spent on what of this part is hidden; may be nan."""
    budget = viewing.budget
    return budget.texture_share if one.importance == "hidden" else budget.hidden_share


def _hidden_faces(one: PartExamination, viewing: Viewing) -> int:
    if one.importance == "hidden":
        return int(np.count_nonzero(one.unwrap.mapped))
    return int(np.count_nonzero((viewing.exposure.face_hidden == 1) & one.unwrap.mapped))


def _place(one: PartExamination, viewing: Viewing) -> tuple[float, float, float] | None:
    """The largest piece of hidden surface."""
    hidden = np.nan_to_num(viewing.exposure.face_hidden)
    if one.importance == "hidden":
        hidden = np.ones_like(hidden)
    return worst_place(one.surface.face_centre, hidden * np.nan_to_num(one.surface.face_area))


RULE = Rule(
    code="texture-on-hidden", severity="look", title="texture on what is never seen", find=find
)
