"""How often a viewer sees the seams of a part, and where they lie most in the open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.directions import axes_for
from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.rays import RayScene
from reviewbot.measure.edge_geometry import (
    edge_faces,
    edge_normals,
    points_of_places,
    turns_by,
    two_sided_edges,
)
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

RAYS = 100_000  # about how many one part's seams may take
PIECES = 64  # a part's seams are looked at in at least about so many places
# Degrees between face normals from which an edge breaks the light by itself, so that a seam along
# it is hard to see. Common practice, no source.
SHARP_ANGLE = 30.0
RUNS = 8  # most exposed runs that are kept


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamRun:
    """Exposed seam edges that hang together.

    segments  (K, 2, 3) float64, asset's space
    length    units
    exposed   length times how openly it lies, units
    at        (3,) float64 middle of its most openly lying edge
    """

    segments: FloatArray
    length: float
    exposed: float
    at: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamExposure:
    """How openly the seams of one part lie.

    edge          (N,) int32 seam edges, into `shells.edges`
    openness      (N,) float64 of all directions that look at one of the two faces, the share from
                  which the seam is seen: 1 where nothing stands before it
    on_smooth     (N,) bool: the faces turn by less than SHARP_ANGLE, nothing but the seam shows
    seen_share    mean openness by length; nan without seams
    exposed_share the same, counting only what runs over smooth surface
    better_length length of edges that carry no seam and would hide one: sharp ones, and those
                  between faces that are never seen, units
    runs          the most exposed runs over smooth surface, the worst first
    """

    edge: IndexArray
    openness: FloatArray
    on_smooth: BoolArray
    seen_share: float
    exposed_share: float
    better_length: float
    runs: tuple[SeamRun, ...]


def measure_seam_exposure(
    part: Part,
    surface: Surface,
    shells: Shells,
    *,
    scene: RayScene,
    lift: float,
    face_seen: FloatArray,
) -> SeamExposure:
    """Look at the seams of a part from all around.

    scene      everything that can stand in the way
    lift       units that a ray starts off the surface
    face_seen  (F,) share of directions that see each face
    """
    edge = np.flatnonzero(shells.is_seam).astype(np.int32)
    length = np.nan_to_num(shells.lengths[edge])
    ends = points_of_places(part, surface)[surface.value_edges.ends[edge]]
    normals = edge_normals(part, surface, edge)
    openness = _openness(ends, normals, length, scene=scene, lift=lift)
    on_smooth = ~turns_by(normals, SHARP_ANGLE)
    exposed = openness * on_smooth
    total = float(length.sum())
    return SeamExposure(
        edge=edge,
        openness=openness,
        on_smooth=on_smooth,
        seen_share=float(length @ openness) / total if total > 0 else float("nan"),
        exposed_share=float(length @ exposed) / total if total > 0 else float("nan"),
        better_length=_better_length(part, surface, shells, face_seen),
        runs=_worst_runs(shells.edges.ends[edge], ends, length, exposed),
    )


def _openness(
    ends: FloatArray, normals: FloatArray, length: FloatArray, *, scene: RayScene, lift: float
) -> FloatArray:
    """(N,) of the directions that look at an edge's faces, the share that sees the edge."""
    owner, point = _pieces(ends, length)
    pair = normals[owner]
    outward = np.nan_to_num(pair[:, 0]) + np.nan_to_num(pair[:, 1])
    size = np.linalg.norm(outward, axis=1, keepdims=True)
    start = point + lift * outward / np.where(size > 0, size, 1.0)
    seen, looked = np.zeros(len(owner)), np.zeros(len(owner))
    usable = np.isfinite(start).all(axis=1) & (size[:, 0] > 0)
    axes = axes_for(2 * len(owner), RAYS)
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


def _better_length(part: Part, surface: Surface, shells: Shells, face_seen: FloatArray) -> float:
    """Length of two-sided edges without a seam that are sharp or never seen."""
    edge = two_sided_edges(surface)
    edge = edge[~shells.is_seam[edge]]
    sharp = turns_by(edge_normals(part, surface, edge), SHARP_ANGLE)
    hidden = (face_seen == 0)[edge_faces(part, surface, edge)].all(axis=1)
    better = sharp | hidden
    return float(np.nansum(shells.lengths[edge[better]]))


def _worst_runs(
    places: IndexArray, ends: FloatArray, length: FloatArray, exposed: FloatArray
) -> tuple[SeamRun, ...]:
    """Runs of edges that lie open for more than half, by how much of them is exposed."""
    open_edges = np.flatnonzero(exposed > 0.5)
    if not len(open_edges):
        return ()
    label = _runs_of(places[open_edges])
    weight = length[open_edges] * exposed[open_edges]
    total = np.bincount(label, weights=weight)
    runs = []
    for run in np.argsort(-total, kind="stable")[:RUNS].tolist():
        own = open_edges[label == run]
        worst = own[np.argmax(exposed[own] * length[own])]
        runs.append(
            SeamRun(
                segments=ends[own],
                length=float(length[own].sum()),
                exposed=float(total[run]),
                at=ends[worst].mean(axis=0),
            )
        )
    return tuple(runs)


def _runs_of(places: IndexArray) -> IndexArray:
    """(K,) the run of each edge: edges that share a place hang together."""
    count = int(places.max()) + 1
    label = joined_labels(count, places[:, 0], places[:, 1])
    return renumbered(label[places[:, 0]])
