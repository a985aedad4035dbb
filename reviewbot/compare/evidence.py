"""How well a pose explains one version by the other.

A pose is a (4, 4) similarity that carries the version after onto the version before. It is judged
on samples: whether points come to lie on points, whether the UVs there are the same, whether
points of equal index meet, and whether faces there are wound the same way.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from reviewbot.compare.body import Body
from reviewbot.compare.match import same_index_places
from reviewbot.compare.uv_places import UV_SAME, corner_uvs
from reviewbot.geometry.polygons import next_corners, previous_corners
from reviewbot.geometry.rigid import inverse, moved, scale_of
from reviewbot.geometry.rows import rows_at, rows_finite, rows_where
from reviewbot.geometry.twins import nearest_within, tree_of
from reviewbot.mesh import BoolArray, FloatArray, IndexArray

Names = npt.NDArray[np.int64]

SAMPLES = 4000  # points of the version after that a pose is judged by
NAMES_WEIGH = 0.3  # beside a whole for places
TELLING_UV = 0.5
RIVALS = 4  # sides on one edge that are looked at
EXPLAINED = 0.5  # of a part's points must lie on points


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The version before as a pose lands on it.

    spots   (N, 3) finite places of all bodies; name (N,) a number for the name of each one's body
    tree    over them
    reach   from which distance on a point does not lie on another, in units
    """

    spots: FloatArray
    name: Names
    tree: cKDTree
    reach: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """Samples of the version after.

    spots, body    (S, 3) places and the body of each, about as many from each body
    name           (S,) a number for the name of each one's body
    corner_spot    (K, 3, 3) where sampled corners and the two after them round their face stand
    corner_uv      (K, 2) UV of the first, nan for none
    old, new       (M, 3) places before and after that lie under equal indices
    bodies         how many bodies there are
    """

    spots: FloatArray
    body: IndexArray
    name: Names
    corner_spot: FloatArray
    corner_uv: FloatArray
    old: FloatArray
    new: FloatArray
    bodies: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Shares from 0 to 1 that speak for a pose.

    bodies  (B,) for each body after, the share of its points that lie on points
    back    mean over bodies before of the share of their points that points lie on
    uv      of the sampled corners with a UV, those that find it where they land
    index   of the places under equal indices, those that meet
    names   of the points that land, those that land on a part of their own name
    faces   of the sampled sides, those that find a side of a like face
    wound   those of them whose face runs the same way round
    """

    bodies: FloatArray
    back: float
    uv: float
    index: float
    names: float
    faces: float
    wound: float

    @property
    def place(self) -> float:
        """Mean over bodies, so that one large part does not outvote the rest; over those of the
        version that is explained better, since the other may have many new points."""
        return max(mean_share(self.bodies), self.back)

    @property
    def explained(self) -> BoolArray:
        return self.bodies >= EXPLAINED

    @property
    def is_ordered(self) -> bool:
        """Nearly all points that lie on points also meet by index; of few points some always do
        by chance."""
        return self.index >= 0.85 * self.place > 0

    @property
    def total(self) -> float:
        """All in one figure. On a symmetric form a few UVs always agree by chance."""
        ordered = self.index if self.is_ordered else 0.0
        uv = self.uv if self.uv >= TELLING_UV else 0.0
        look = 0.5 * uv + 0.7 * self.faces + 0.05 * self.wound
        return self.place + look + 0.5 * ordered + NAMES_WEIGH * self.names


def _name_number(body: Body) -> int:
    """The same for the same name in both versions."""
    return zlib.crc32(body.name.encode("utf-8", "surrogatepass"))


def mean_share(shares: FloatArray) -> float:
    return float(shares.mean()) if len(shares) else 0.0


def ground_of(bodies: Sequence[Body], reach: float) -> Ground:
    spots = [body.used_spots for body in bodies]
    together = np.concatenate([np.empty((0, 3)), *spots])
    name = np.repeat([_name_number(body) for body in bodies], [len(s) for s in spots])
    return Ground(spots=together, name=name.astype(np.int64), tree=tree_of(together), reach=reach)


def probe_of(bodies: Sequence[Body], pairs: Sequence[tuple[Body, Body]]) -> Probe:
    """Samples of the bodies after; `pairs` are bodies before and after that may count alike."""
    rng = np.random.default_rng(7)
    each = max(SAMPLES // max(len(bodies), 1), 24)
    spots, owner, names, corners = [], [], [], []
    for number, body in enumerate(bodies):
        own = body.used_spots
        chosen = own[_some(rng, len(own), each)]
        spots.append(chosen)
        owner.append(np.full(len(chosen), number, dtype=np.int32))
        names.append(np.full(len(chosen), _name_number(body)))
        corners.append(_sampled_corners(body, _some(rng, len(body.corner_face), each)))
    old, new = same_index_samples(pairs)
    return Probe(
        spots=np.concatenate([np.empty((0, 3)), *spots]),
        body=np.concatenate([np.empty(0, np.int32), *owner]),
        name=np.concatenate([np.empty(0, np.int64), *names]),
        corner_spot=np.concatenate([np.empty((0, 3, 3)), *(c[0] for c in corners)]),
        corner_uv=np.concatenate([np.empty((0, 2)), *(c[1] for c in corners)]),
        old=old,
        new=new,
        bodies=len(bodies),
    )


def _some(rng: np.random.Generator, count: int, wanted: int) -> IndexArray:
    if count <= wanted:
        return np.arange(count, dtype=np.int32)
    return rng.choice(count, size=wanted, replace=False).astype(np.int32)


def _sampled_corners(body: Body, corners: IndexArray) -> tuple[FloatArray, FloatArray]:
    place, following = body.shells.corner_place, next_corners(body.part.face_start)
    second = following[corners]
    round_face = np.stack([corners, second, following[second]], axis=1)
    return body.spots[place[round_face]], corner_uvs(body, corners)


def same_index_samples(pairs: Sequence[tuple[Body, Body]]) -> tuple[FloatArray, FloatArray]:
    """(M, 3) places before and after that lie under equal indices."""
    rng = np.random.default_rng(5)
    old, new = [np.empty((0, 3))], [np.empty((0, 3))]
    each = max(SAMPLES // max(len(pairs), 1), 24)
    for before, after in pairs:
        places = same_index_places(before, after)
        places = places[_some(rng, len(places), each)]
        old.append(before.spots[places[:, 0]])
        new.append(after.spots[places[:, 1]])
    return np.concatenate(old), np.concatenate(new)


def index_share(old: FloatArray, new: FloatArray, pose: FloatArray, reach: float) -> float:
    """Share of the places under equal indices that meet; 0 where none are known."""
    if not len(old):
        return 0.0
    with np.errstate(invalid="ignore"):
        gap = np.linalg.norm(moved(new, pose) - old, axis=1)
    return float((gap <= reach).mean())


def thinned(probe: Probe, step: int) -> Probe:
    """Every so many-th point of each body only; no corners."""
    rank = np.arange(len(probe.spots)) - np.searchsorted(probe.body, probe.body)
    keep = rank % step == 0
    return replace(probe, spots=probe.spots[keep], body=probe.body[keep], name=probe.name[keep])


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """Where the samples of the version after come to lie.

    bodies  (B,) for each body after, the share of its sampled points that lie on points
    names   of the points that do, the share on a part of their own name; 0 where there is but
            one part, since its name says nothing
    """

    bodies: FloatArray
    names: float

    @property
    def rating(self) -> float:
        return mean_share(self.bodies) + NAMES_WEIGH * self.names


def landing(ground: Ground, probe: Probe, pose: FloatArray) -> Landing:
    _, row = nearest_within(ground.tree, moved(probe.spots, pose), reach_under(ground, pose))
    hit = row >= 0
    count = np.bincount(probe.body, minlength=probe.bodies)
    hits = np.bincount(probe.body, weights=hit, minlength=probe.bodies)
    kept = count > 0
    known = probe.bodies > 1 and hit.any()
    names = float((probe.name[hit] == ground.name[row[hit]]).mean()) if known else 0.0
    return Landing(bodies=np.asarray(hits[kept] / count[kept]), names=names)


def reach_under(ground: Ground, pose: FloatArray) -> float:
    """Rounding of the version after, carried over, may be the larger one."""
    return ground.reach * max(1.0, min(scale_of(pose), 4.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """All that poses are weighed with: each version as ground and as probe."""

    ground: Ground
    probe: Probe
    sides: SideTable
    ground_after: Ground
    probe_before: Probe


def weigh(scales: Scales, pose: FloatArray) -> Evidence:
    """All that speaks for one pose."""
    reach = reach_under(scales.ground, pose)
    uv, faces, wound = _corner_shares(scales.ground, scales.probe, pose, scales.sides)
    landed = landing(scales.ground, scales.probe, pose)
    back = landing(scales.ground_after, scales.probe_before, inverse(pose))
    return Evidence(
        bodies=landed.bodies,
        back=mean_share(back.bodies),
        uv=uv,
        index=index_share(scales.probe.old, scales.probe.new, pose, reach),
        names=landed.names,
        faces=faces,
        wound=wound,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SideTable:
    """Directed sides of the version before, to look up by the places they run between.

    key      (C,) int64, rising: row of `Ground.spots` at the tail * N + row at the head
    uv       (C, 2) at the tail, nan for none
    onward   (C,) row of the place after the head, round the face; back: of that before the tail
    """

    key: np.ndarray[tuple[int], np.dtype[np.int64]]
    uv: FloatArray
    onward: IndexArray
    back: IndexArray


def side_table(bodies: Sequence[Body]) -> SideTable:
    keys, uvs, first = [np.empty(0, np.int64)], [np.empty((0, 2))], 0
    onwards, backs = [np.empty(0, np.int32)], [np.empty(0, np.int32)]
    total = sum(len(body.used_spots) for body in bodies)
    for body in bodies:
        used = rows_finite(body.spots)
        row = np.where(used, first + np.cumsum(used) - 1, -1).astype(np.int32)
        first += int(used.sum())
        tail = row[body.shells.corner_place]
        following = next_corners(body.part.face_start)
        head = tail[following]
        corners = rows_where((tail >= 0) & (head >= 0))
        keys.append(tail[corners].astype(np.int64) * max(total, 1) + head[corners])
        uvs.append(corner_uvs(body, corners))
        onwards.append(head[following][corners])
        backs.append(tail[previous_corners(body.part.face_start)][corners])
    key = np.concatenate(keys)
    order = np.argsort(key, kind="stable")
    return SideTable(
        key=key[order],
        uv=np.concatenate(uvs)[order],
        onward=np.concatenate(onwards)[order],
        back=np.concatenate(backs)[order],
    )


def _corner_shares(
    ground: Ground, probe: Probe, pose: FloatArray, sides: SideTable
) -> tuple[float, float, float]:
    """Shares of sampled corners that find their UV, their face, and its winding."""
    if not len(probe.corner_spot) or not len(sides.key):
        return 0.0, 0.0, 0.0
    reach = reach_under(ground, pose)
    tail, head, onward = (
        nearest_within(ground.tree, moved(probe.corner_spot[:, k], pose), reach)[1]
        for k in range(3)
    )
    landed = (tail >= 0) & (head >= 0) & (onward >= 0)
    mapped = rows_finite(probe.corner_uv)
    count = len(ground.spots)
    found_uv = mapped & landed & _carries_uv(sides, tail, count, probe.corner_uv)
    forward = _runs(sides, tail.astype(np.int64) * count + head, sides.onward, onward)
    backward = _runs(sides, head.astype(np.int64) * count + tail, sides.back, onward)
    uv = found_uv.sum() / max(int(mapped.sum()), 1)
    faces = (landed & (forward | backward)).mean()
    return float(uv), float(faces), float((landed & forward).mean())


def _runs(
    sides: SideTable,
    key: np.ndarray[tuple[int], np.dtype[np.int64]],
    third: IndexArray,
    wanted: IndexArray,
) -> BoolArray:
    """Whether one of the first sides of this key goes on to, or comes from, the third place."""
    first = np.searchsorted(sides.key, key)
    found = np.zeros(len(key), dtype=bool)
    for step in range(RIVALS):
        row = np.minimum(first + step, len(sides.key) - 1)
        found |= (sides.key[row] == key) & (third[row] == wanted)
    return found


def _carries_uv(sides: SideTable, tail: IndexArray, count: int, uv: FloatArray) -> BoolArray:
    """Whether one of the first eight sides that leave a place carries the UV."""
    first = np.searchsorted(sides.key, tail.astype(np.int64) * count)
    same = np.zeros(len(tail), dtype=bool)
    for step in range(8):
        row = np.minimum(first + step, len(sides.key) - 1)
        with np.errstate(invalid="ignore"):
            off = np.abs(rows_at(sides.uv, row) - uv)
            alike = np.maximum(off[:, 0], off[:, 1]) <= UV_SAME
        same |= alike & (sides.key[row] // count == tail)
    return same
