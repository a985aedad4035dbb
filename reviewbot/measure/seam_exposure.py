"""How often a viewer sees the seams of a part, and where they lie most in the open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.directions import axes_for
from reviewbot.geometry.rays import RayScene
from reviewbot.measure.edge_geometry import (
    edge_faces,
    edge_normals,
    points_of_places,
    turns_by,
)
from reviewbot.measure.seam_runs import OpenEdges, SeamRun, worst_runs
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

RAYS = 200_000  # about how many all seams of an asset may take
PIECES = 64  # a part's seams are looked at in at least about so many places
# Degrees between face normals from which an edge breaks the light by itself, so that a seam along
# it is hard to see. Common practice, no source.
SHARP_ANGLE = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamExposure:
    """How openly the seams of one part lie.

    edge          (N,) int32 seam edges, into `shells.edges`
    openness      (N,) float64 of all directions that look at one of the two faces, the share from
                  which the seam is seen: 1 where nothing stands before it
    on_smooth     (N,) bool: the faces turn by less than SHARP_ANGLE, nothing but the seam shows
    seen_share    mean openness by length; nan without seams
    exposed_share the same, counting only what runs over smooth surface
    least_share   the same if each of the worst runs took a better route where there is one
    runs          the most exposed runs over smooth surface, the worst first
    """

    edge: IndexArray
    openness: FloatArray
    on_smooth: BoolArray
    seen_share: float
    exposed_share: float
    least_share: float
    runs: tuple[SeamRun, ...]


def measure_seam_exposure(
    part: Part,
    surface: Surface,
    shells: Shells,
    *,
    scene: RayScene,
    lift: float,
    rays: int,
    face_seen: FloatArray,
) -> SeamExposure:
    """Look at the seams of a part from all around.

    scene      everything that can stand in the way
    lift       units that a ray starts off the surface
    rays       about how many this part may take
    face_seen  (F,) share of directions that see each face
    """
    edge = np.flatnonzero(shells.is_seam).astype(np.int32)
    places = shells.edges.ends
    length = np.nan_to_num(shells.lengths)
    ends = points_of_places(part, surface)[places]
    normals = edge_normals(part, surface, np.arange(len(places), dtype=np.int32))
    on_smooth = ~turns_by(normals, SHARP_ANGLE)
    openness = _openness(ends[edge], normals[edge], length[edge], scene=scene, lift=lift, rays=rays)
    exposed = on_smooth * _openness_beside(part, surface, face_seen)
    exposed[edge] = on_smooth[edge] * openness
    everywhere = OpenEdges(
        places=places,
        ends=ends,
        length=length,
        exposed=exposed,
        is_seam=shells.is_seam,
        is_cut=shells.is_seam | (shells.edges.side_count != 2),
    )
    runs = worst_runs(everywhere)
    total = float(length[edge].sum())
    exposed_length = float(length[edge] @ exposed[edge])
    saved = sum(run.exposed - run.detour for run in runs)
    return SeamExposure(
        edge=edge,
        openness=openness,
        on_smooth=on_smooth[edge],
        seen_share=_share(float(length[edge] @ openness), total),
        exposed_share=_share(exposed_length, total),
        least_share=_share(exposed_length - saved, total),
        runs=runs,
    )


def _openness(
    ends: FloatArray,
    normals: FloatArray,
    length: FloatArray,
    *,
    scene: RayScene,
    lift: float,
    rays: int,
) -> FloatArray:
    """(N,) of the directions that look at an edge's faces, the share that sees the edge."""
    owner, point = _pieces(ends, length)
    pair = normals[owner]
    outward = np.nan_to_num(pair[:, 0]) + np.nan_to_num(pair[:, 1])
    size = np.linalg.norm(outward, axis=1, keepdims=True)
    start = point + lift * outward / np.where(size > 0, size, 1.0)
    seen, looked = np.zeros(len(owner)), np.zeros(len(owner))
    usable = np.isfinite(start).all(axis=1) & (size[:, 0] > 0)
    axes = axes_for(2 * len(owner), rays)
    for axis in np.concatenate([axes, -axes]):
        rows = np.flatnonzero(usable & (pair @ axis > 0).any(axis=1))
        along = np.broadcast_to(axis, (len(rows), 3))
        seen[rows] += ~scene.is_blocked(start[rows], along)
        looked[rows] += 1
    share = seen / np.maximum(looked, 1)
    pieces = np.bincount(owner, minlength=len(ends))
    return np.bincount(owner, weights=share, minlength=len(ends)) / np.maximum(pieces, 1)


def _pieces(ends: FloatArray, length: FloatArray) -> tuple[IndexArray, FloatArray]:
    """Edges cut into pieces of about one length: (S,) edge and (S, 3) middle of each."""
    piece = float(length.sum()) / PIECES
    count = np.clip(np.ceil(length / piece), 1, PIECES).astype(np.int32) if piece > 0 else None
    if count is None:
        count = np.ones(len(length), dtype=np.int32)
    owner = np.repeat(np.arange(len(length), dtype=np.int32), count)
    nth = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    along = ((nth + 0.5) / count[owner])[:, None]
    return owner, ends[owner, 0] * (1 - along) + ends[owner, 1] * along


def _openness_beside(part: Part, surface: Surface, face_seen: FloatArray) -> FloatArray:
    """(E,) how openly a seam would lie on each edge, from how often the faces beside it are seen.

    Against the half of all directions that sees a face which nothing stands before.
    """
    edge = np.arange(len(surface.value_edges.ends), dtype=np.int32)
    seen = np.nan_to_num(face_seen)[edge_faces(part, surface, edge)].max(axis=1, initial=0.0)
    return np.asarray(np.minimum(2.0 * seen, 1.0))


def _share(some: float, whole: float) -> float:
    return some / whole if whole > 0 else float("nan")
