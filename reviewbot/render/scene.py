"""A model as one set of triangles, ready to be seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.rows import lowest_and_highest, rows_at, rows_finite
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Model, Part, world_points
from reviewbot.render.normals import shading_normals
from reviewbot.render.samples import Floats32, Scene

TWIN_TOLERANCE = 1e-6  # of the asset's size: finer gaps are lost to single precision
_NO_UNDO = np.eye(4)
_CHUNK = 1 << 16  # triangles at a time
_FORM_FIELDS = (
    "points",
    "triangles",
    "part",
    "hidden_twin",
    "two_sided",
    "normals",
    "normal",
    "part_colour",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """One part's share of a scene; indices count within the part."""

    points: FloatArray
    triangles: IndexArray
    face: IndexArray
    corner: IndexArray
    is_drawn_edge: BoolArray
    normals: Floats32
    normal: IndexArray
    uvs: FloatArray
    uv: IndexArray
    chart: IndexArray


def build_scene(
    model: Model,
    *,
    undo: FloatArray = _NO_UNDO,
    charts: Sequence[IndexArray] | None = None,
) -> Scene:
    """All parts as triangles.

    undo    (4, 4) applied to the whole asset: brings it back to where another version of it
            stands, so that a scaled or turned export is seen as the same
    charts  per part the UV shell of each face, (F,) int32, -1 for unmapped; edges between shells
            are then drawn smooth

    A matrix that mirrors turns the triangles round, so that outer sides stay outer sides.
    """
    pieces = [
        _piece(part, undo, None if charts is None else charts[index])
        for index, part in enumerate(model.parts)
    ]
    triangles = _joined([p.triangles for p in pieces], [len(p.points) for p in pieces], (0, 3))
    points = np.concatenate([np.empty((0, 3)), *(p.points for p in pieces)])
    hidden_twin, two_sided = find_twins(points, triangles)
    chart_counts = [int(p.chart.max(initial=-1)) + 1 for p in pieces]
    owners = np.arange(len(pieces), dtype=np.int32)
    return Scene(
        points=points,
        seen_points=_seen_points(points, triangles),
        triangles=triangles,
        part=np.repeat(owners, [len(p.triangles) for p in pieces]),
        face=np.concatenate([np.empty(0, np.int32), *(p.face for p in pieces)]),
        corner=np.concatenate([np.empty((0, 3), np.int32), *(p.corner for p in pieces)]),
        is_drawn_edge=np.concatenate([np.empty((0, 3), bool), *(p.is_drawn_edge for p in pieces)]),
        hidden_twin=hidden_twin,
        two_sided=two_sided,
        normals=np.concatenate([np.empty((0, 3), np.float32), *(p.normals for p in pieces)]),
        normal=_joined([p.normal for p in pieces], [len(p.normals) for p in pieces], (0, 3)),
        uvs=np.concatenate([np.empty((0, 2)), *(p.uvs for p in pieces)]),
        uv=_joined([p.uv for p in pieces], [len(p.uvs) for p in pieces], (0, 3)),
        chart=_joined([p.chart for p in pieces], chart_counts, (0,)),
        part_names=tuple(part.name for part in model.parts),
        part_colour=np.arange(len(model.parts), dtype=np.int32),
    )


def _seen_points(points: FloatArray, triangles: IndexArray) -> FloatArray:
    used = np.zeros(len(points), dtype=bool)
    used[triangles.reshape(-1).astype(np.intp)] = True
    return points if used.all() else np.asarray(points[used])


def is_same_form(before: Scene, after: Scene) -> bool:
    """Whether both look the same from everywhere, but for what is drawn by their UVs."""
    return all(np.array_equal(getattr(before, name), getattr(after, name)) for name in _FORM_FIELDS)


def with_shared_colours(
    before: Scene, after: Scene, renamed: Mapping[str, str]
) -> tuple[Scene, Scene]:
    """Both scenes with one colour for what is one part, in whatever order the files list it.

    renamed  names before of parts that have another name after
    """
    known: dict[str, int] = {}
    for name in (*(renamed.get(name, name) for name in after.part_names), *before.part_names):
        known.setdefault(name, len(known))
    old = np.array([known[name] for name in before.part_names], dtype=np.int32)
    new = np.array([known[renamed.get(name, name)] for name in after.part_names], dtype=np.int32)
    return replace(before, part_colour=old), replace(after, part_colour=new)


def _piece(part: Part, undo: FloatArray, charts: IndexArray | None) -> _Piece:
    points = world_points(part)
    if not np.array_equal(undo, _NO_UNDO):
        points = points @ undo[:3, :3].T + undo[:3, 3]
    finite = points
    if not rows_finite(points).all():
        finite = np.nan_to_num(points, nan=0.0, posinf=0.0, neginf=0.0)
    corner, face = triangulate(finite, part.corner_point, part.face_start)
    whole_face = _whole_faces(part, points)
    if not whole_face.all():
        corner, face = corner[whole_face[face]], face[whole_face[face]]
    linear = undo[:3, :3] @ part.transform[:3, :3]
    if np.linalg.det(linear) < 0:
        corner = np.ascontiguousarray(corner[:, ::-1])
    normals, corner_normal = shading_normals(part, points, linear)
    uv = rows_at(part.corner_uv, corner)
    if part.corner_uv.min(initial=0) < 0:
        uv[(uv[:, 0] < 0) | (uv[:, 1] < 0) | (uv[:, 2] < 0)] = -1
    return _Piece(
        points=finite,
        triangles=rows_at(part.corner_point, corner),
        face=face,
        corner=corner,
        is_drawn_edge=_drawn_edges(corner, np.diff(part.face_start)[face]),
        normals=normals,
        normal=rows_at(corner_normal, corner),
        uvs=part.uvs,
        uv=uv,
        chart=np.full(len(face), -1, np.int32) if charts is None else charts[face],
    )


def _drawn_edges(corner: IndexArray, size: IndexArray) -> BoolArray:
    """(T, 3) bool: the side opposite each corner joins corners that follow each other."""
    drawn = np.empty(corner.shape, dtype=bool)
    for k in range(3):
        gap = np.abs(corner[:, k - 2] - corner[:, k - 1])
        drawn[:, k] = (gap == 1) | (gap == size - 1)
    return drawn


def _whole_faces(part: Part, points: FloatArray) -> BoolArray:
    """(F,) bool: all corners are finite."""
    broken = ~rows_finite(points)
    whole = np.ones(part.face_count, dtype=bool)
    if broken.any():
        sizes = np.diff(part.face_start)
        whole[np.repeat(np.arange(part.face_count), sizes)[broken[part.corner_point]]] = False
    return whole


def _joined(pieces: list[IndexArray], counts: list[int], shape: tuple[int, ...]) -> IndexArray:
    """Indices of several parts as indices into all; -1 stays -1."""
    joined = np.concatenate([np.empty(shape, np.int32), *pieces])
    at = offset = 0
    for piece, count in zip(pieces, counts, strict=True):
        own = joined[at : at + len(piece)]
        if piece.min(initial=0) < 0:
            np.add(own, np.int32(offset), out=own, where=own >= 0)
        else:
            own += np.int32(offset)
        at, offset = at + len(piece), offset + count
    return joined


def find_twins(points: FloatArray, triangles: IndexArray) -> tuple[BoolArray, BoolArray]:
    """Triangles that lie on an earlier one (same three places), and those with a turned twin.

    Which of two coincident triangles a ray meets first is left to chance, and differs between
    machines: only the first is kept.

    returns  hidden_twin (T,) bool, two_sided (T,) bool
    """
    hidden = np.zeros(len(triangles), dtype=bool)
    two_sided = np.zeros(len(triangles), dtype=bool)
    if not len(triangles):
        return hidden, two_sided
    ring = _places(points, triangles)
    key = _set_keys(ring)
    ordered = np.sort(key)
    if not (ordered[1:] == ordered[:-1]).any():
        return hidden, two_sided
    repeated = np.flatnonzero(np.isin(key, ordered[1:][ordered[1:] == ordered[:-1]]))
    _, group = np.unique(np.sort(ring[repeated], axis=1), axis=0, return_inverse=True)
    first = np.full(int(group.max()) + 1, len(repeated))
    np.minimum.at(first, group, np.arange(len(repeated)))
    hidden[repeated] = first[group] != np.arange(len(repeated))
    turn = _turn_signs(ring[repeated])
    both = np.bincount(group, weights=turn > 0) * np.bincount(group, weights=turn < 0) > 0
    two_sided[repeated] = both[group]
    return hidden, two_sided


def _places(points: FloatArray, triangles: IndexArray) -> IndexArray:
    """(T, 3) where the corners stand, on a grid as fine as the tolerance."""
    low, high = lowest_and_highest(points)
    size = float(np.linalg.norm(high - low)) or 1.0
    cells = points - points[0]
    cells /= TWIN_TOLERANCE * size
    cells += 0.3183  # a generic shift: coordinates of few digits then never fall between two cells
    np.floor(cells, out=cells)
    return rows_at(exact_places(cells)[0], triangles)


def _set_keys(ring: IndexArray) -> npt.NDArray[np.uint64]:
    """A hash of each row that does not hear its order."""
    keys = np.empty(len(ring), dtype=np.uint64)
    for at in range(0, len(ring), _CHUNK):
        mixed = ring[at : at + _CHUNK].T.astype(np.uint64, order="C") + np.uint64(1)
        mixed *= np.uint64(0x9E3779B97F4A7C15)
        mixed ^= mixed >> np.uint64(31)
        mixed *= np.uint64(0xBF58476D1CE4E5B9)
        mixed ^= mixed >> np.uint64(29)
        keys[at : at + _CHUNK] = mixed[0] + mixed[1] + mixed[2]
    return keys


def _turn_signs(ring: IndexArray) -> IndexArray:
    """+1 where a row of three runs round like its sorted self, else -1."""
    a, b, c = ring[:, 0].astype(np.int64), ring[:, 1].astype(np.int64), ring[:, 2].astype(np.int64)
    return np.asarray(np.sign(b - a) * np.sign(c - b) * np.sign(c - a), dtype=np.int32)
