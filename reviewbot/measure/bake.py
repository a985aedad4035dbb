"""Whether a high part can be baked onto its low one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.hausdorff import one_way_distance
from reviewbot.geometry.polygons import corner_faces
from reviewbot.geometry.rays import RayScene, rays_available
from reviewbot.measure.face_samples import (
    AssetTriangles,
    FaceSamples,
    asset_triangles,
    sample_faces,
)
from reviewbot.measure.share import share_of
from reviewbot.measure.surface import Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

BACK = 1e-3  # of the reach: rays start a little behind their point, so that touching surfaces meet
DISTANCES = 1000  # points inside, and corners, whose distance to the other surface is measured
FEW_DISTANCES = 50  # the same where every ray misses: far-off points take long to find
FOREIGN = 8  # surfaces of other parts that a ray may meet before its own, at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Bake:
    """How one low part meets its high one.

    low, high       part names
    size_ratio      diagonal of the high part's box over that of the low part's; nan without one
    reach           units that rays go each way: the settings' share of the low part's size
    point           (S, 3) float64 places on the low part, asset's space
    gap             (S,) float64 signed distance along the averaged normal to the nearest meeting,
                    above 0 where the high part lies outside, units; nan for a ray that misses
    caught          (S,) bool: from outside, another high part is met first
    face_gap        (F,) float64 largest distance on each low face, units; nan where all rays miss
    face_missed     (F,) float64 share of each low face, by area, where rays miss
    miss_share      the same of the whole part; nan without area
    caught_share    area whose rays are caught by another part over all area; nan without area
    low_to_high     mean and largest distance from the low surface to the nearest of the high, units
    high_to_low     the same the other way; the larger of the two largest is the Hausdorff distance
    """

    low: str
    high: str
    size_ratio: float
    reach: float
    point: FloatArray
    gap: FloatArray
    caught: BoolArray
    face_gap: FloatArray
    face_missed: FloatArray
    miss_share: float
    caught_share: float
    low_to_high: tuple[float, float]
    high_to_low: tuple[float, float]


def measure_bakes(
    low: Sequence[tuple[Part, Surface]],
    high: Sequence[tuple[Part, Surface]],
    pairs: Sequence[tuple[int, int]],
    *,
    bake_distance: float,
) -> tuple[Bake, ...]:
    """Bakes of pairs given as rows of `low` and `high`; none where rays cannot be traced.

    high           every high part, so that rays caught by a stranger are known
    bake_distance  how far rays go each way, as a share of the diagonal of the low part's box
    """
    if not pairs or not rays_available():
        return ()
    highs = asset_triangles([part for part, _ in high], [surface for _, surface in high])
    scene = RayScene.of_points(highs.points, highs.triangles)
    owner = np.searchsorted(highs.face_first, highs.face, side="right").astype(np.int32) - 1
    corners = highs.points[highs.triangles]
    return tuple(
        _bake(
            *low[low_row],
            target=_Target(scene, owner, high_row),
            high=corners[owner == high_row],
            high_name=high[high_row][0].name,
            high_size=high[high_row][1].size,
            reach=bake_distance * low[low_row][1].size,
        )
        for low_row, high_row in pairs
    )


class _Target:
    """The high part that rays are meant to meet, among others."""

    def __init__(self, scene: RayScene, owner: IndexArray, own: int) -> None:
        self._scene = scene
        self._owner = owner
        self._own = own

    def distances(
        self, start: FloatArray, along: FloatArray, farthest: float
    ) -> tuple[FloatArray, BoolArray]:
        """How far each ray goes to its own part, inf beyond `farthest`; and who met another first.

        start, along  (S, 3), along of unit length

        Surfaces of other parts are passed through, up to FOREIGN of them.
        """
        travelled = np.zeros(len(start))
        reached, caught = np.full(len(start), np.inf), np.zeros(len(start), dtype=bool)
        rows = np.flatnonzero(np.isfinite(start).all(axis=1) & np.isfinite(along).all(axis=1))
        for _ in range(FOREIGN + 1):
            origin = start[rows] + travelled[rows, None] * along[rows]
            triangle, distance = self._scene.first_hits(origin, along[rows])
            travelled[rows] += distance
            near = (triangle >= 0) & (travelled[rows] <= farthest)
            own = near.copy()
            own[near] = self._owner[triangle[near]] == self._own
            reached[rows[own]] = travelled[rows[own]]
            rows = rows[near & ~own]
            if not len(rows):
                break
            caught[rows] = True
            travelled[rows] += BACK * farthest
        return reached, caught


def _bake(
    part: Part,
    surface: Surface,
    *,
    target: _Target,
    high: FloatArray,
    high_name: str,
    high_size: float,
    reach: float,
) -> Bake:
    ours = asset_triangles([part], [surface])
    samples = sample_faces(ours)
    along = averaged_normals(part, surface, ours, samples)
    gap = _gaps(samples.point, along, target, reach)
    caught = target.distances(samples.point + reach * along, -along, 2 * reach)[1]
    missed = np.isnan(gap)
    face_area = _per_face(samples, samples.area, part.face_count)
    whole = float(samples.area.sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        face_missed = _per_face(samples, samples.area * missed, part.face_count) / face_area
    low = ours.points[ours.triangles]
    places = FEW_DISTANCES if missed.all() else DISTANCES
    return Bake(
        low=part.name,
        high=high_name,
        size_ratio=share_of(high_size, surface.size),
        reach=reach,
        point=samples.point,
        gap=gap,
        caught=caught,
        face_gap=_largest_per_face(np.abs(gap), samples, part.face_count),
        face_missed=face_missed,
        miss_share=share_of(float(samples.area[missed].sum()), whole),
        caught_share=share_of(float(samples.area[caught].sum()), whole),
        low_to_high=one_way_distance(low, high, points=places),
        high_to_low=one_way_distance(high, low, points=places),
    )


def averaged_normals(
    part: Part, surface: Surface, ours: AssetTriangles, samples: FaceSamples
) -> FloatArray:
    """(S, 3) unit normals at samples of one part, smooth over all its edges.

    At each place the sum of its faces' area vectors, in between by barycentric coordinates: the
    way in which bakes shoot their rays, so that no gap opens at a hard edge (common practice).
    """
    vectors = np.nan_to_num(surface.face_vector)[corner_faces(part.face_start)]
    sums = np.zeros((int(surface.corner_place.max(initial=-1)) + 1, 3))
    for axis, column in enumerate(vectors.T):
        sums[:, axis] = np.bincount(surface.corner_place, weights=column, minlength=len(sums))
    place = np.zeros(len(surface.points), dtype=np.int32)
    place[part.corner_point] = surface.corner_place
    corners = _unit(sums)[place[ours.triangles[samples.triangle]]]
    return _unit(np.einsum("nk,nkj->nj", samples.weights, corners))


def _gaps(point: FloatArray, along: FloatArray, target: _Target, reach: float) -> FloatArray:
    """(S,) signed distance to the nearest meeting along a normal, either way; nan for none."""
    back = BACK * reach
    outer, _ = target.distances(point - back * along, along, reach + back)
    inner, _ = target.distances(point + back * along, -along, reach + back)
    nearest = np.where(outer <= inner, outer - back, back - inner)
    return np.where(np.isfinite(nearest), nearest, np.nan)


def _unit(vectors: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))


def _per_face(samples: FaceSamples, values: FloatArray, faces: int) -> FloatArray:
    return np.asarray(np.bincount(samples.face, weights=values, minlength=faces), dtype=np.float64)


def _largest_per_face(values: FloatArray, samples: FaceSamples, faces: int) -> FloatArray:
    largest = np.full(faces, -np.inf)
    np.maximum.at(largest, samples.face, np.nan_to_num(values, nan=-np.inf))
    return np.where(np.isfinite(largest), largest, np.nan)
