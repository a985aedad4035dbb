"""How close shells come to each other: a texture bleeds over a gap smaller than its padding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from reviewbot.geometry.boxes import overlapping_boxes
from reviewbot.geometry.polygons import next_corners
from reviewbot.measure.atlas import Atlas
from reviewbot.measure.overlap import Overlaps
from reviewbot.measure.shells import UV_TOLERANCE
from reviewbot.measure.surface import PLACE_TOLERANCE, Surface
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part

_MOST_PAIRS = 1 << 20  # of segments looked at: beyond, the closest may be passed over


class Placed(Protocol):
    """What gaps need of a part."""

    @property
    def part(self) -> Part: ...
    @property
    def surface(self) -> Surface: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Pairs of charts nearer to each other than the padding, the closest first.

    Left out are copies, charts that overlap, charts of one shell or of different materials, and
    those that go on over a shared border both in space and in the plane.

    first, second  (P,) int32 charts
    pixels         (P,) float64 distance at the texture's size
    segment        (P,) int32 into the atlas's segments: where on the first chart
    """

    first: IndexArray
    second: IndexArray
    pixels: FloatArray
    segment: IndexArray


def find_gaps(
    atlas: Atlas, overlaps: Overlaps, parts: Sequence[Placed], *, padding: int, texture_size: int
) -> Gaps:
    """Gaps smaller than the padding in pixels, for a texture of so many pixels along one side."""
    reach = padding / texture_size
    chart = atlas.segment_chart
    a, b = _close_segments(atlas, overlaps, reach)
    meets = _same_ends(atlas.start[a], atlas.end[a], atlas.start[b], atlas.end[b], UV_TOLERANCE)
    key = _pair_keys(atlas, chart[a], chart[b])
    goes_on = np.unique(key[meets][_meet_in_space(atlas, parts, a[meets], b[meets])])
    apart = ~np.isin(key, goes_on)
    a, b, key = a[apart], b[apart], key[apart]
    distance = _distances(atlas.start[a], atlas.end[a], atlas.start[b], atlas.end[b])
    close = distance < reach - UV_TOLERANCE
    a, b, key, distance = a[close], b[close], key[close], distance[close]
    order = np.lexsort((distance, key))
    order = order[np.flatnonzero(np.diff(key[order], prepend=-1))]
    order = order[np.argsort(distance[order], kind="stable")]
    return Gaps(
        first=chart[a[order]],
        second=chart[b[order]],
        pixels=distance[order] * texture_size,
        segment=a[order],
    )


def segment_ends(atlas: Atlas, parts: Sequence[Placed], segments: IndexArray) -> FloatArray:
    """(N, 2, 3) where segments of outlines start and end in space, in either order."""
    ends = np.empty((len(segments), 2, 3))
    owner = atlas.part[atlas.segment_chart[segments]]
    for index in np.unique(owner).tolist():
        part, points = parts[index].part, parts[index].surface.points
        rows = np.flatnonzero(owner == index)
        side = atlas.side[segments[rows]]
        ends[rows, 0] = points[part.corner_point[side]]
        ends[rows, 1] = points[part.corner_point[next_corners(part.face_start)[side]]]
    return ends


def _close_segments(
    atlas: Atlas, overlaps: Overlaps, reach: float
) -> tuple[IndexArray, IndexArray]:
    """Segments of different charts whose boxes come within reach, and that may bleed."""
    chart = atlas.segment_chart
    rows = np.flatnonzero(~overlaps.is_copy[chart] & _in_company(atlas, overlaps, reach)[chart])
    low = np.minimum(atlas.start[rows], atlas.end[rows]) - reach / 2
    high = np.maximum(atlas.start[rows], atlas.end[rows]) + reach / 2
    pairs = rows[overlapping_boxes(np.stack([low, high], axis=1), limit=_MOST_PAIRS)]
    a, b = pairs[:, 0], pairs[:, 1]
    bleeds = _may_bleed(atlas, overlaps, chart[a], chart[b])
    return a[bleeds].astype(np.int32), b[bleeds].astype(np.int32)


def _in_company(atlas: Atlas, overlaps: Overlaps, reach: float) -> BoolArray:
    """(K,) bool: another chart's box comes within reach."""
    alone = np.flatnonzero(~overlaps.is_copy)
    wide = atlas.box[alone] + reach / 2 * np.array([[-1.0], [1.0]])
    pairs = alone[overlapping_boxes(wide)].astype(np.int32)
    pairs = pairs[_may_bleed(atlas, overlaps, pairs[:, 0], pairs[:, 1])]
    company = np.zeros(atlas.count, dtype=bool)
    company[pairs.reshape(-1)] = True
    return company


def _may_bleed(
    atlas: Atlas, overlaps: Overlaps, first: IndexArray, second: IndexArray
) -> BoolArray:
    one_shell = (atlas.part[first] == atlas.part[second]) & (
        atlas.shell[first] == atlas.shell[second]
    )
    one_picture = (atlas.picture[first] == atlas.picture[second]) & (atlas.picture[first] >= 0)
    one_texture = (atlas.material[first] == atlas.material[second]) | one_picture
    lie_over = np.isin(
        _pair_keys(atlas, first, second), _pair_keys(atlas, overlaps.first, overlaps.second)
    )
    return np.asarray(~one_shell & one_texture & ~lie_over)


def _pair_keys(atlas: Atlas, first: IndexArray, second: IndexArray) -> np.ndarray:
    """(P,) int64 one number for each pair, whichever comes first."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    return np.asarray(low.astype(np.int64) * atlas.count + high)


def _same_ends(
    a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray, tolerance: float | FloatArray
) -> BoolArray:
    """(P,) bool: a to b runs between the same two places as c to d, either way."""

    def apart(p: FloatArray, q: FloatArray) -> FloatArray:
        return np.asarray(np.abs(p - q).max(axis=1, initial=0))

    along = np.maximum(apart(a, c), apart(b, d))
    against = np.maximum(apart(a, d), apart(b, c))
    return np.asarray(np.minimum(along, against) <= tolerance)


def _meet_in_space(
    atlas: Atlas, parts: Sequence[Placed], a: IndexArray, b: IndexArray
) -> BoolArray:
    first, second = (segment_ends(atlas, parts, rows) for rows in (a, b))
    size = np.array([one.surface.size for one in parts])
    owner = atlas.part[atlas.segment_chart]
    tolerance = PLACE_TOLERANCE * np.maximum(size[owner[a]], size[owner[b]])
    return _same_ends(first[:, 0], first[:, 1], second[:, 0], second[:, 1], tolerance)


def _distances(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> FloatArray:
    """(P,) distance between segments a b and c d of the plane that do not cross."""
    ends = ((a, c, d), (b, c, d), (c, a, b), (d, a, b))
    return np.asarray(np.min([_to_segment(*three) for three in ends], axis=0))


def _to_segment(p: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """(P,) distance of points from segments a b."""
    along, off = b - a, p - a
    length = np.maximum(np.einsum("ij,ij->i", along, along), np.finfo(np.float64).tiny)
    share = np.clip(np.einsum("ij,ij->i", along, off) / length, 0, 1)
    return np.asarray(np.hypot(*(off - share[:, None] * along).T))
