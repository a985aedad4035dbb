"""What a viewer sees of each face, looking from all around or from given places."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from reviewbot.cores import thread_count
from reviewbot.geometry.directions import LEVELS, axes_for
from reviewbot.geometry.rays import RayScene
from reviewbot.geometry.rows import rows_at, rows_where
from reviewbot.measure.face_samples import AssetTriangles, FaceSamples, sum_per_part
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

RAYS = 600_000  # about how many a first look at all samples may take, and a second at the unseen
OUTER, INNER = 0, 1  # sides of a face
CHUNK = 1 << 15  # samples at a time: a piece of work for a thread, and it stays in the cache
LIFT = 2e-5  # of the asset's size: how far off the surface a ray starts


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """What is seen of one part, other parts standing in the way.

    "Directions" are those from all around, or to the settings' cameras.

    face_seen     (F,) float64 share of all directions that see a face, mean over its area: 1/2
                  from all around for a face of a convex solid, up to 1 for an open sheet, which
                  has two sides; nan for a face without area
    face_open     (F,) float64 likewise, of the directions that look at it: 1 where nothing stands
                  before it, 0 where none looks
    face_hidden   (F,) float64 share of its area that no direction sees; nan likewise
    seen_area     area of the part's picture, mean over all directions, square units
    hidden_share  area that no direction sees over all area; nan without area
    """

    face_seen: FloatArray
    face_open: FloatArray
    face_hidden: FloatArray
    seen_area: float
    hidden_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How often samples are seen.

    seen      (S,) float64 share of all directions
    openness  (S,) float64 share of the directions that look at it; 0 where none does
    facing    (S,) float64 seen area over own area, mean over all directions: from all around 1/4
              a free side (Cauchy's surface-area formula); from given places, as large as things
              look at the distance of the asset's middle
    """

    seen: FloatArray
    openness: FloatArray
    facing: FloatArray


def look_at_samples(
    scene: RayScene, samples: FaceSamples, *, lift: float, two_sided: BoolArray
) -> Sight:
    """Look at each sample along as many axes as the rays allow, and at unseen ones along more.

    lift       units that a ray starts off the surface
    two_sided  (S,) bool: the inner side may be seen too, as on an open sheet. A sample of which
               the outer side is never seen is looked at from both sides in any case.
    """
    count = len(samples.face)
    tally = _Tally(scene, samples, lift)
    everything = np.arange(count, dtype=np.int32)
    axes = axes_for(count, RAYS)
    tally.look(everything, axes, OUTER)
    tally.look(everything[two_sided], axes, INNER)
    unseen = everything[tally.seen == 0]
    tally.look(unseen[~two_sided[unseen]], axes, INNER)
    more = axes_for(2 * len(unseen), RAYS, at_least=LEVELS[1])[len(axes) :]
    for side in (OUTER, INNER):
        tally.look(unseen, more, side)
    looks = np.full(count, len(axes))
    looks[unseen] += len(more)
    seen = tally.seen / (2.0 * looks)
    return Sight(seen=seen, openness=np.minimum(2.0 * seen, 1.0), facing=tally.facing())


def exposures(asset: AssetTriangles, samples: FaceSamples, sight: Sight) -> tuple[Exposure, ...]:
    """What is seen of each part, from what is seen of the samples."""
    faces = int(asset.face_first[-1])

    def summed(values: FloatArray) -> FloatArray:
        sums = np.bincount(samples.face, weights=samples.area * values, minlength=faces)
        return np.asarray(sums, dtype=np.float64)

    area, hidden = summed(np.ones(len(samples.face))), summed(sight.seen == 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        face_seen, face_hidden = summed(sight.seen) / area, hidden / area
        face_open = summed(sight.openness) / area
        hidden_share = sum_per_part(hidden, asset) / sum_per_part(area, asset)
    seen_area = sum_per_part(summed(sight.facing), asset)
    first, last = asset.face_first[:-1].tolist(), asset.face_first[1:].tolist()
    return tuple(
        Exposure(
            face_seen=face_seen[start:end],
            face_open=face_open[start:end],
            face_hidden=face_hidden[start:end],
            seen_area=float(seen_area[part]),
            hidden_share=float(hidden_share[part]),
        )
        for part, (start, end) in enumerate(zip(first, last, strict=True))
    )


class _Tally:
    """Counts of the directions from which samples were seen so far."""

    def __init__(self, scene: RayScene, samples: FaceSamples, lift: float) -> None:
        self._scene = scene.with_workers(1)  # several pieces are looked at side by side instead
        self._samples = samples
        self._lift = lift
        self.seen = np.zeros(len(samples.face))
        self._free = np.zeros((2, len(samples.face)))
        self._reach = np.zeros((2, len(samples.face)))

    def look(self, rows: IndexArray, axes: FloatArray, side: int) -> None:
        """Look at one side of some samples, once along each axis, from where it faces."""
        pieces = [rows[first : first + CHUNK] for first in range(0, len(rows), CHUNK)]
        with ThreadPoolExecutor(thread_count()) as pool:
            for begun in [pool.submit(self._look, piece, axes, side) for piece in pieces]:
                begun.result()

    def _look(self, rows: IndexArray, axes: FloatArray, side: int) -> None:
        normal = rows_at(self._samples.normal, rows) * (1.0 if side == OUTER else -1.0)
        start = self._scene.unit_places(rows_at(self._samples.point, rows) + self._lift * normal)
        seen, free, reach = np.zeros((3, len(rows)))
        is_free = np.empty(len(rows), dtype=bool)
        for axis in axes:
            facing = normal @ axis
            size, is_behind = np.abs(facing), facing < 0
            for some, way in ((rows_where(is_behind), -axis), (rows_where(~is_behind), axis)):
                is_free[some] = ~self._scene.is_blocked_along(rows_at(start, some), way)
            seen += is_free
            reach += size
            free += size * is_free
        self.seen[rows] += seen
        self._reach[side, rows] += reach
        self._free[side, rows] += free

    def facing(self) -> FloatArray:
        """(S,) see `Sight`; as a share of the free side's 1/4, so exact where nothing is near."""
        reach = np.where(self._reach > 0, self._reach, 1.0)
        return np.asarray(0.25 * (self._free / reach).sum(axis=0))
