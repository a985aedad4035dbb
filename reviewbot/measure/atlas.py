"""All textured parts of an asset in one UV plane, as outlines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from reviewbot.geometry.groups import joined_labels, renumbered
from reviewbot.geometry.polygons import corner_faces, next_corners
from reviewbot.geometry.rows import rows_at
from reviewbot.measure.shells import Shells
from reviewbot.measure.twins import Twins
from reviewbot.measure.unwrap import Unwrap
from reviewbot.mesh import FloatArray, IndexArray, Material, Part

_NO_AREA = 1e-14  # tiles; faces of less cover nothing
_OFF = -3  # below what any material and way up give


class Unwrapped(Protocol):
    """What the atlas needs of a part."""

    @property
    def part(self) -> Part: ...
    @property
    def textured(self) -> bool: ...
    @property
    def shells(self) -> Shells: ...
    @property
    def unwrap(self) -> Unwrap: ...
    @property
    def twins(self) -> Twins: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Atlas:
    """Charts: faces of one shell that lie the same way up and use one material.

    Nearly always a chart is a whole shell. Its outline says all about which part of the plane it
    covers: how often a point is covered is how often the outline winds round it.

    part        (K,) int32 index into the asset's parts
    shell       (K,) int32 shell within its part
    material    (K,) int32, equal for the same material name in any part, -1 for none
    picture     (K,) int32, equal for the same base colour picture, -1 where none is named
    area        (K,) float64 tiles, without sign
    box         (K, 2, 2) float64 lowest and highest u and v
    start, end  (N, 2) float64 outline segments, counter-clockwise, those of a chart together
    side        (N,) int32 the segment's side, by its corner in its part
    first       (K + 1,) int32 offsets into the segments
    face_chart  for each part (F,) int32 chart of each face, -1 for none
    """

    part: IndexArray
    shell: IndexArray
    material: IndexArray
    picture: IndexArray
    area: FloatArray
    box: FloatArray
    start: FloatArray
    end: FloatArray
    side: IndexArray
    first: IndexArray
    face_chart: tuple[IndexArray, ...]

    @property
    def count(self) -> int:
        return len(self.part)

    @property
    def segment_chart(self) -> IndexArray:
        """(N,) int32 the chart of each segment."""
        return np.repeat(np.arange(self.count, dtype=np.int32), np.diff(self.first))

    @property
    def tile(self) -> IndexArray:
        """(K, 2) int32 column and row of the tile that the middle of each chart's box lies in."""
        middle = np.clip(self.box.mean(axis=1), -1e9, 1e9)
        return np.asarray(np.floor(middle), dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Charts:
    """The charts of one part, numbered from 0. Shapes as in `Atlas`."""

    face: IndexArray
    shell: IndexArray
    material: IndexArray
    area: FloatArray
    start: FloatArray
    end: FloatArray
    side: IndexArray
    segment_chart: IndexArray


def build_atlas(parts: Sequence[Unwrapped], materials: Sequence[Material]) -> Atlas:
    """The atlas of an asset.

    Not on it are high parts, faces without UVs or UV area, and faces that lie on another one of
    their part in space.
    """
    names = sorted({name for one in parts for name in one.part.materials})
    number = {name: row for row, name in enumerate(names)}
    charts = [_charts_of(one, number) for one in parts]
    counts = [len(own.area) for own in charts]
    offset = np.cumsum([0, *counts])
    segments = [np.bincount(own.segment_chart, minlength=len(own.area)) for own in charts]
    material = _joined([own.material for own in charts], np.int32)
    start = _joined([own.start for own in charts], np.float64).reshape(-1, 2)
    end = _joined([own.end for own in charts], np.float64).reshape(-1, 2)
    first = np.append(0, np.cumsum(_joined(segments, np.int64))).astype(np.int32)
    return Atlas(
        part=np.repeat(np.arange(len(parts), dtype=np.int32), counts),
        shell=_joined([own.shell for own in charts], np.int32),
        material=material,
        picture=_pictures(names, materials)[material],
        area=_joined([own.area for own in charts], np.float64),
        box=_outline_boxes(start, first),
        start=start,
        end=end,
        side=_joined([own.side for own in charts], np.int32),
        first=first,
        face_chart=tuple(
            np.where(own.face >= 0, own.face + at, -1).astype(np.int32)
            for own, at in zip(charts, offset.tolist(), strict=False)
        ),
    )


def _joined(arrays: Sequence[np.ndarray], dtype: type) -> np.ndarray:
    return np.concatenate([np.empty((0, *arrays[0].shape[1:]) if arrays else 0, dtype), *arrays])


def _pictures(names: Sequence[str], materials: Sequence[Material]) -> IndexArray:
    """(M + 1,) int32 picture of each material by name; the last, for no material, is -1."""
    picture_of = {one.name: one.base_colour_file or one.base_colour_data for one in materials}
    known = dict.fromkeys(picture for picture in picture_of.values() if picture)
    number = {picture: row for row, picture in enumerate(known)}
    found = [number.get(picture_of.get(name) or "", -1) for name in names]
    return np.array([*found, -1], dtype=np.int32)


def _outline_boxes(start: FloatArray, first: IndexArray) -> FloatArray:
    if len(first) == 1:
        return np.empty((0, 2, 2))
    low = np.minimum.reduceat(start, first[:-1], axis=0)
    high = np.maximum.reduceat(start, first[:-1], axis=0)
    return np.stack([low, high], axis=1)


def _charts_of(one: Unwrapped, number: dict[str, int]) -> _Charts:
    part, shells = one.part, one.shells
    owner, follow = corner_faces(part.face_start), next_corners(part.face_start)
    material = np.array([*(number[name] for name in part.materials), -1], dtype=np.int32)
    of_face = material[part.face_material]
    up = one.unwrap.face_uv_area >= 0
    on = (shells.face_shell >= 0) & (np.abs(one.unwrap.face_uv_area) > _NO_AREA) & one.textured
    on &= ~one.twins.left_out
    kind = np.where(on, 2 * of_face + up, _OFF)
    label, joins = shells.face_shell, shells.joins
    of_shells = kind[shells.face_shell >= 0]
    if (of_shells != of_shells[:1]).any():  # else each chart is a whole shell
        left, right = (rows_at(owner, np.ascontiguousarray(side)) for side in shells.joins.T)
        kind_left = rows_at(kind, left)
        alike = (kind_left != _OFF) & (kind_left == rows_at(kind, right))
        label = joined_labels(part.face_count, left[alike], right[alike])
        joins = joins[alike]
    face = np.full(part.face_count, -1, dtype=np.int32)
    face[on] = renumbered(label[on])
    outline = on[owner]
    outline[joins.reshape(-1)] = False
    side = np.flatnonzero(outline).astype(np.int32)
    side = side[np.argsort(face[owner[side]], kind="stable")]
    chart = face[owner[side]]
    known = np.flatnonzero(on)
    count = int(face.max(initial=-1)) + 1
    member = np.zeros(count, dtype=np.int64)
    member[face[known]] = known  # one face of each chart: they all agree on what is asked of it
    tail, head = (rows_at(part.uvs, part.corner_uv[ends]) for ends in (side, follow[side]))
    forward = up[owner[side]][:, None]
    return _Charts(
        face=face,
        shell=shells.face_shell[member],
        material=of_face[member],
        area=np.bincount(
            face[known], weights=np.abs(one.unwrap.face_uv_area[known]), minlength=count
        ).astype(np.float64),
        start=np.where(forward, tail, head),
        end=np.where(forward, head, tail),
        side=side,
        segment_chart=chart,
    )
