"""What happened to the polygons of a part that was subdivided besides: the edits on either side of
the step, told of the faces that were there before it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.face_edits import CODE_ORDER, MOVED, FaceEdit
from reviewbot.compare.faces import NOISE, FaceStory
from reviewbot.compare.stepped import Stepped
from reviewbot.geometry.rows import rows_where

UNEXPLAINED = 0.4  # of the faces after may be new or laid anew beside the step


def explains(faces: FaceStory, after: Body) -> bool:
    """Whether most faces after are those of the step, or were cut or merged from them."""
    strange = sum(
        len(edit.faces_after)
        for edit in faces.edits
        if edit.code in ("faces-added", "retopologised")
    )
    return strange <= UNEXPLAINED * after.faces


def with_step(faces: FaceStory, step: Stepped, before: Body, after: Body) -> FaceStory:
    """The story with the step itself, and with what was done before it.

    Corners of new points are known no more: how a program lays their UVs is its own affair.
    """
    corner = np.where(step.corner[faces.corner] >= 0, faces.corner, -1)
    fresh = np.concatenate(
        [
            np.empty(0, dtype=np.int32),
            *(e.faces_after for e in faces.edits if e.code == "faces-added"),
        ]
    )
    subdivided = FaceEdit(
        code="subdivided",
        faces_before=step.done,
        faces_after=rows_where(~np.isin(np.arange(after.faces), fresh)),
        smooth=step.smooth,
        made=step.body.faces - (before.faces - len(step.done)),
        of=before.faces,
    )
    edits = [*(e for e in faces.edits if e.code != "subdivided"), subdivided]
    if step.recut is not None:
        edits += _before_the_step(step, before)
    first: dict[str, FaceEdit] = {}
    for edit in edits:
        first.setdefault(edit.code, edit)
    return replace(
        faces,
        edits=tuple(first[code] for code in CODE_ORDER if code in first),
        moved=_moved(faces, step, before) or faces.moved,
        corner=corner.astype(np.int32),
    )


def _before_the_step(step: Stepped, before: Body) -> list[FaceEdit]:
    """Faces cut or merged before they were subdivided; what is left of them is in smaller faces."""
    assert step.recut is not None
    nothing = np.empty(0, dtype=np.int32)
    kinds = (("triangulated", step.recut.cut), ("faces-merged", step.recut.merged))
    return [
        FaceEdit(code=code, faces_before=rows, faces_after=nothing, made=made, of=before.faces)
        for (code, rows), made in zip(kinds, step.recut.pieces, strict=True)
        if len(rows)
    ]


def _moved(faces: FaceStory, step: Stepped, before: Body) -> FaceEdit | None:
    """Points moved before the step; None where they lie so near that they may be other points."""
    if step.moved_by <= NOISE * float(np.linalg.norm(np.ptp(before.used_spots, axis=0))):
        return None
    known = rows_where(faces.parent >= 0)
    return FaceEdit(
        code=MOVED,
        faces_before=rows_where(step.moved),
        faces_after=known[step.moved[faces.parent[known]]],
        distance=step.moved_by,
    )
