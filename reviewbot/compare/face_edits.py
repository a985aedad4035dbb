"""Faces to which one thing happened, and those that nothing explains yet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.match import Match
from reviewbot.compare.polygons import Rounds, chosen
from reviewbot.geometry.rows import rows_where
from reviewbot.mesh import IndexArray

MOVED = "reshaped"  # as many faces and new places as were lost: the same polygons, moved
CODE_ORDER = (
    MOVED,
    "retopologised",
    "triangulated",
    "subdivided",
    "faces-merged",
    "faces-removed",
    "faces-added",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceEdit:
    """Faces to which one thing happened.

    code          as published
    before        faces concerned before
    after         faces concerned after
    faces_before  rows of them; faces_after likewise
    distance      how far the new surface lies off the old one, in units; None where not measured
    smooth        a subdivision that also smoothed the points
    made          how many faces it gave, where a later edit made others of them; else None
    of            of how many faces before, where they are not those it was compared with; else None
    """

    code: str
    faces_before: IndexArray
    faces_after: IndexArray
    distance: float | None = None
    smooth: bool = False
    made: int | None = None
    of: int | None = None

    @property
    def keeps_surface(self) -> bool:
        """Only the lines on the surface changed."""
        return self.code in ("triangulated", "subdivided", "faces-merged") and not self.smooth


class LeftFaces:
    """Faces that nothing explains yet, and what is known of the others; its arrays are those of
    `FaceStory`."""

    def __init__(self, before: Body, after: Body, match: Match) -> None:
        self.before_bodies, self.after_bodies = before, after
        self.before, self.after = ~match.taken, match.face < 0
        own = match.after_place[after.shells.corner_place]
        self.all_before = rounds_of(match.before_place[before.shells.corner_place], before)
        self.all_after = rounds_of(np.where(match.twin[own] >= 0, match.twin[own], own), after)
        stays = np.arange(len(match.twin))
        self.moved_places = int(((match.twin >= 0) & (match.twin != stays)).sum())
        self.parent, self.corner = match.face.copy(), match.corner.copy()
        self.turned = np.zeros(after.faces, dtype=bool)
        self.solid = match.face >= 0
        self.edits: list[FaceEdit] = []

    @property
    def moving(self) -> bool:
        """More points moved than faces are left: what is left moved too."""
        return self.moved_places > int(self.after.sum())

    @property
    def rows(self) -> tuple[IndexArray, IndexArray]:
        return rows_where(self.before), rows_where(self.after)

    def rounds(self) -> tuple[Rounds, Rounds]:
        rows_before, rows_after = self.rows
        return chosen(self.all_before, rows_before), chosen(self.all_after, rows_after)

    def note(self, edit: FaceEdit) -> None:
        self.edits.append(edit)
        self.before[edit.faces_before] = False
        self.after[edit.faces_after] = False


def rounds_of(places: IndexArray, body: Body) -> Rounds:
    return Rounds(
        places=places.astype(np.int32), face_start=body.part.face_start, order=np.zeros(body.faces)
    )


def summed_up(edits: list[FaceEdit]) -> tuple[FaceEdit, ...]:
    """One edit a code."""
    told = []
    for code in CODE_ORDER:
        own = [edit for edit in edits if edit.code == code]
        if own:
            distances = [edit.distance for edit in own if edit.distance is not None]
            told.append(
                FaceEdit(
                    code=code,
                    faces_before=np.concatenate([edit.faces_before for edit in own]),
                    faces_after=np.concatenate([edit.faces_after for edit in own]),
                    distance=max(distances, default=None),
                    smooth=any(edit.smooth for edit in own),
                    made=sum(
                        len(edit.faces_after) if edit.made is None else edit.made for edit in own
                    )
                    if any(edit.made is not None for edit in own)
                    else None,
                )
            )
    return tuple(told)
