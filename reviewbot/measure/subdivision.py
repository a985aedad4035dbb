"""Whether a part is ready to be subdivided or sculpted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.catmull_clark import edge_limits, step_over
from reviewbot.geometry.edges import paired_sides
from reviewbot.geometry.polygons import corner_faces
from reviewbot.measure.edge_geometry import (
    edge_faces,
    edge_normals,
    points_of_places,
    turns_by,
    two_sided_edges,
)
from reviewbot.measure.quality import Quality
from reviewbot.measure.share import share_of
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

# Degrees between face normals. Common practice, no source: an eight-sided cylinder (45) is meant to
# come out round, a hexagonal nut (60) is meant to keep its edges.
HARD_ANGLE = 50.0
# Least scaled Jacobian of an acceptable quad (SAND2007-1751, from memory).
SOUND_JACOBIAN = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounding:
    """Hard edges and how far their middles move off them when the part is subdivided for good.

    edge      (N,) int32 into `surface.value_edges`
    segments  (N, 2, 3) float64 the edges' ends, asset's space
    limits    (N, 3) float64 where their middles end up
    shift     (N,) float64 distance of that from the edge's line, over the part's size
    """

    edge: IndexArray
    segments: FloatArray
    limits: FloatArray
    shift: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Subdivision:
    """How even a part's faces are, and what subdivision will do to it.

    quad_share      faces with four corners over all faces
    poor_share      surface in quads with a scaled Jacobian below SOUND_JACOBIAN over all surface
    face_reach      (F,) float64 twice the farthest corner from the mean corner, units
    reach_spread    third over first quartile of `face_reach`, by surface: a quarter of it lies in
                    faces at least so many times the size of those in which another quarter lies
    edge_variation  standard deviation over mean of edge lengths
    against_around  (F,) float64 `face_reach` over the median of the neighbours'; nan without any
    poles           points inside the surface where other than four edges meet
    most_edges      edges at the point with most; 0 for none
    rounding        hard edges
    """

    quad_share: float
    poor_share: float
    face_reach: FloatArray
    reach_spread: float
    edge_variation: float
    against_around: FloatArray
    poles: int
    most_edges: int
    rounding: Rounding


def measure_subdivision(part: Part, surface: Surface, quality: Quality) -> Subdivision:
    """Figures of a part; nan where it has no faces or a coordinate is nan."""
    sizes = np.diff(part.face_start)
    poor = quality.scaled_jacobian < SOUND_JACOBIAN
    poor &= sizes == 4
    area = np.nan_to_num(surface.face_area, nan=0.0, posinf=0.0)
    reach = face_reaches(part, surface)
    meeting = _edges_meeting(surface)
    return Subdivision(
        quad_share=share_of(float(np.count_nonzero(sizes == 4)), float(len(sizes))),
        poor_share=share_of(float(area[poor].sum()), float(area.sum())),
        face_reach=reach,
        reach_spread=weighted_spread(reach, area),
        edge_variation=_variation(surface.lengths),
        against_around=reaches_against_neighbours(reach, part, surface),
        poles=int(np.count_nonzero((meeting > 0) & (meeting != 4))),
        most_edges=int(meeting.max(initial=0)),
        rounding=measure_rounding(part, surface),
    )


def face_reaches(part: Part, surface: Surface) -> FloatArray:
    """(F,) twice the farthest corner from each face's mean corner, units; 0 without corners."""
    owner = corner_faces(part.face_start)
    arm = surface.points[part.corner_point] - surface.face_centre[owner]
    squared = np.einsum("ij,ij->i", arm, arm)
    reach = np.zeros(part.face_count)
    filled = np.diff(part.face_start) > 0
    if filled.any():
        reach[filled] = np.maximum.reduceat(squared, part.face_start[:-1][filled])
    return 2.0 * np.sqrt(reach)


def weighted_spread(values: FloatArray, weights: FloatArray) -> float:
    """Third over first quartile of values above 0, each counting by its weight; nan for none.

    A quartile is the least value with at least that share of the weight at or below it. Details
    and support loops cover little surface, so they do not count for much.
    """
    counted = np.isfinite(values) & (values > 0) & (weights > 0)
    if not counted.any():
        return float("nan")
    order = np.argsort(values[counted])
    ordered = values[counted][order]
    below = np.cumsum(weights[counted][order])
    low, high = np.searchsorted(below, np.array([0.25, 0.75]) * below[-1])
    return float(ordered[min(high, len(ordered) - 1)] / ordered[low])


def reaches_against_neighbours(reach: FloatArray, part: Part, surface: Surface) -> FloatArray:
    """(F,) each face's reach over the median of those across its edges; nan without any.

    The median, so that a support loop beside a face, which shares its long edge, is not taken
    for a small neighbour, and two large faces do not excuse each other.
    """
    _, first, second = paired_sides(surface.value_edges)
    owner = corner_faces(part.face_start)
    face = np.concatenate([owner[first], owner[second]])
    across = reach[np.concatenate([owner[second], owner[first]])]
    order = np.lexsort((across, face))
    counts = np.bincount(face, minlength=part.face_count)
    start = np.cumsum(counts) - counts
    found = np.flatnonzero(counts)
    ordered = across[order]
    low = ordered[start[found] + (counts[found] - 1) // 2]
    high = ordered[start[found] + counts[found] // 2]
    result = np.full(part.face_count, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        result[found] = reach[found] / (0.5 * (low + high))
    return result


def measure_rounding(part: Part, surface: Surface) -> Rounding:
    """Hard edges of a part and where subdivision takes them; none where there are none."""
    edge = hard_edges(part, surface)
    if not len(edge):
        return Rounding(
            edge=edge,
            segments=np.empty((0, 2, 3)),
            limits=np.empty((0, 3)),
            shift=np.empty(0),
        )
    places = points_of_places(part, surface)
    cage = step_over(places, surface.corner_place, part.face_start, surface.value_edges)
    segments = places[surface.value_edges.ends[edge]]
    limits = edge_limits(cage, edge)
    return Rounding(
        edge=edge,
        segments=segments,
        limits=limits,
        shift=_distances_from_lines(limits, segments) / surface.size,
    )


def hard_edges(part: Part, surface: Surface) -> IndexArray:
    """(N,) edges whose two faces turn by HARD_ANGLE or more from each other.

    Where the part has smoothing groups of more than one kind, an edge inside one group is meant
    to be smooth and is no hard edge. Faces wound against each other are judged as if turned over.
    """
    edge = two_sided_edges(surface)
    turned = turns_by(edge_normals(part, surface, edge), HARD_ANGLE)
    left, right = edge_faces(part, surface, edge).T
    return edge[turned & ~_inside_one_group(part, left, right)]


def _inside_one_group(part: Part, left: IndexArray, right: IndexArray) -> BoolArray:
    groups = part.face_smoothing
    if groups is None or len(np.unique(groups)) < 2:
        return np.zeros(len(left), dtype=bool)
    return np.asarray((groups[left] == groups[right]) & (groups[left] != 0))


def _distances_from_lines(points: FloatArray, segments: FloatArray) -> FloatArray:
    along = segments[:, 1] - segments[:, 0]
    arm = points - segments.mean(axis=1)
    across = np.cross(arm, along)
    return np.asarray(np.linalg.norm(across, axis=1) / np.linalg.norm(along, axis=1))


def _edges_meeting(surface: Surface) -> IndexArray:
    """(P,) edges at each place; 0 for one on a border, where other counts are right."""
    count = int(surface.corner_place.max(initial=-1)) + 1
    meeting = np.bincount(surface.value_edges.ends.reshape(-1), minlength=count)
    is_open = surface.value_edges.side_count == 1
    meeting[surface.value_edges.ends[is_open].reshape(-1)] = 0
    return np.asarray(meeting, dtype=np.int32)


def _variation(lengths: FloatArray) -> float:
    finite = lengths[np.isfinite(lengths)]
    mean = float(finite.mean()) if len(finite) else 0.0
    return float(finite.std()) / mean if mean > 0 else float("nan")
