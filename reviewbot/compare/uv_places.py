"""UVs by value: the same place on the tile is the same UV, whatever its index."""

from __future__ import annotations

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.polygons import Rounds
from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.polygons import corners_of
from reviewbot.geometry.rows import rows_at
from reviewbot.geometry.twins import shared_places
from reviewbot.mesh import FloatArray, IndexArray

UV_SAME = 2e-5  # of a tile: finer differences are rounding


def corner_uvs(body: Body, corners: IndexArray) -> FloatArray:
    """(K, 2) UVs of the given corners, nan where a corner has none."""
    entry = body.part.corner_uv[corners]
    if not len(body.part.uvs):
        return np.full((len(corners), 2), np.nan)
    uvs = rows_at(body.part.uvs, entry)
    uvs[entry < 0] = np.nan
    return uvs


def uv_rounds(
    before: Body, faces_before: IndexArray, after: Body, faces_after: IndexArray
) -> tuple[Rounds, Rounds]:
    """The given faces as rounds of UV places, in one numbering; every corner has a UV."""
    uvs_before = before.part.uvs[_uvs_of(before, faces_before)]
    uvs_after = after.part.uvs[_uvs_of(after, faces_after)]
    own_before, first_before = exact_places(uvs_before)
    own_after, first_after = exact_places(uvs_after)
    nothing = np.empty((0, 2), dtype=np.int32)
    place_before, place_after, _ = shared_places(
        uvs_before[first_before], uvs_after[first_after], UV_SAME, likely=nothing
    )
    return (
        _rounds_of(before, faces_before, place_before[own_before]),
        _rounds_of(after, faces_after, place_after[own_after]),
    )


def _uvs_of(body: Body, faces: IndexArray) -> IndexArray:
    return body.part.corner_uv[corners_of(body.part.face_start, faces)]


def _rounds_of(body: Body, faces: IndexArray, places: IndexArray) -> Rounds:
    sizes = np.diff(body.part.face_start)[faces]
    start = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    return Rounds(places=places, face_start=start, order=np.zeros(len(faces)))
