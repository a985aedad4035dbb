"""The story of a part that is the very same in both versions: nothing needs to be looked for."""

from __future__ import annotations

import numpy as np

from reviewbot.compare.attributes import NormalStory, Welding
from reviewbot.compare.body import Body
from reviewbot.compare.faces import FaceStory
from reviewbot.compare.match import Match
from reviewbot.compare.part_story import PartStory, Reshape
from reviewbot.compare.seams import SeamStory
from reviewbot.compare.unwrap import UnwrapStory
from reviewbot.geometry.rows import rows_where


def tell_untouched(body: Body) -> PartStory:
    """What `tell_part` says of a part and its equal that lies where it lay."""
    nothing = np.empty(0, dtype=np.int32)
    normals = int((body.part.corner_normal >= 0).sum())
    return PartStory(
        before=body,
        after=body,
        base=body,
        pose=np.eye(4),
        match=_match(body),
        reshape=Reshape(
            places=nothing,
            distance=np.empty(0),
            compared=len(body.used_spots),
            lost=nothing,
            lost_by=0.0,
        ),
        faces=FaceStory(
            edits=(),
            moved=None,
            parent=np.arange(body.faces, dtype=np.int32),
            corner=np.arange(len(body.corner_face), dtype=np.int32),
            turned=np.zeros(body.faces, dtype=bool),
            solid=np.ones(body.faces, dtype=bool),
        ),
        seams=_seams(body),
        unwrap=_unwrap(body),
        uvs_fit=None,
        welding=Welding(unwelded=nothing, welded=nothing),
        flipped=np.zeros(body.faces, dtype=bool),
        normals=NormalStory(lost=False, added=False, corners=nothing, compared=normals),
        smoothing=nothing,
        materials=(),
    )


def _match(body: Body) -> Match:
    places, faces, corners = (
        np.arange(count, dtype=np.int32)
        for count in (len(body.spots), body.faces, len(body.corner_face))
    )
    return Match(
        before_place=places,
        after_place=places,
        twin=places,
        face=faces,
        corner=corners,
        reversed=np.zeros(body.faces, dtype=bool),
        taken=np.ones(body.faces, dtype=bool),
        distinct=np.ones(body.faces, dtype=bool),  # of faces back to back, too, each is itself
    )


def _seams(body: Body) -> SeamStory:
    nothing = np.empty(0, dtype=np.int32)
    is_seam = body.shells.is_seam
    return SeamStory(
        cut=nothing,
        sewn=nothing,
        kept=rows_where(is_seam),
        cut_before=0.0,
        sewn_before=0.0,
        length_before=float(body.shells.lengths[is_seam].sum()),
    )


def _unwrap(body: Body) -> UnwrapStory:
    nothing = np.empty(0, dtype=np.int32)
    return UnwrapStory(
        lost=nothing,
        added=nothing,
        all_lost=False,
        all_added=False,
        flipped="",
        mirrored=None,
        moved=None,
        tiled=None,
        reshaped=nothing,
        reshaped_by=0.0,
        compared=int(body.mapped[body.corner_face].sum()),
    )
