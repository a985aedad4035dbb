"""Changes planted into a mesh, each with the one code that names it.

A plant takes a model and a seeded generator and gives the changed model with the names of the
parts it touched ("" for the whole asset), or None where the model has nothing to plant it in.
Plants do to arrays what an artist or an exporter would do to a file.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from mutations.faces import Face, faces_of, neighbours, used_points_only, with_faces
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from reviewbot.geometry.catmull_clark import refine, step
from reviewbot.geometry.polygons import corner_faces, newell_vectors, signed_areas
from reviewbot.geometry.rigid import signed_axes
from reviewbot.measure.shells import find_shells
from reviewbot.measure.surface import extent
from reviewbot.mesh import Model, Part

Rng = np.random.Generator
Planted = tuple[Model, tuple[str, ...]] | None
Touch = Callable[[Part, Rng], Part | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """One kind of change.

    name   what is done
    code   the change code that must be told
    plant  does it
    whole  it is the whole asset's: exactly one change may be told
    also   codes that follow from it by nature and are no false alarm
    """

    name: str
    code: str
    plant: Callable[[Model, Rng], Planted]
    whole: bool = False
    also: frozenset[str] = frozenset()


def _points(part: Part) -> np.ndarray:
    return part.points[part.corner_point]


def model_size(model: Model) -> float:
    return extent(np.concatenate([np.empty((0, 3)), *(_points(p) for p in model.parts)]))


# --- whole asset ---------------------------------------------------------------------------


def _all_points(model: Model, linear: np.ndarray, shift: np.ndarray) -> Model:
    return replace(
        model,
        parts=tuple(
            replace(
                p,
                points=p.points @ linear.T + shift,
                normals=p.normals @ np.linalg.inv(linear) if len(p.normals) else p.normals,
            )
            for p in model.parts
        ),
    )


def scaled(factor: float) -> Callable[[Model, Rng], Planted]:
    return lambda model, _: (_all_points(model, factor * np.eye(3), np.zeros(3)), ("",))


def scaled_about_middle(model: Model, rng: Rng) -> Planted:
    spots = np.concatenate([_points(p) for p in model.parts])
    middle = (spots.max(axis=0) + spots.min(axis=0)) / 2
    factor = float(rng.uniform(1.3, 4))
    return _all_points(model, factor * np.eye(3), middle * (1 - factor)), ("",)


def turned(turn: list[list[float]]) -> Callable[[Model, Rng], Planted]:
    return lambda model, _: (_all_points(model, np.array(turn, float), np.zeros(3)), ("",))


def _is_mirror_image_of_itself(model: Model) -> bool:
    """Flat, or mostly the same under a right-angled reflection about its own middle: then
    mirroring it is turning or shifting it as well."""
    spots = np.concatenate([_points(p) for p in model.parts])
    low, high = spots.min(axis=0), spots.max(axis=0)
    if (high - low).min() < 1e-3 * (high - low).max():
        return True
    tree, centred = cKDTree(spots), spots - (low + high) / 2
    for turn in signed_axes():
        if np.linalg.det(turn) < 0:
            off, _ = tree.query(centred @ turn.T + (low + high) / 2)
            if (off <= 1e-3 * np.linalg.norm(high - low)).mean() > 0.5:
                return True
    return False


def mirrored(axis: int, *, rewound: bool) -> Callable[[Model, Rng], Planted]:
    sides = np.ones(3)
    sides[axis] = -1

    def plant(model: Model, rng: Rng) -> Planted:
        if _is_mirror_image_of_itself(model):
            return None
        other = _all_points(model, np.diag(sides), np.zeros(3))
        if rewound:
            other = replace(other, parts=tuple(_all_wound_back(p) for p in other.parts))
        return other, ("",)

    return plant


def _all_wound_back(part: Part) -> Part:
    return with_faces(part, [f.picked(range(len(f) - 1, -1, -1)) for f in faces_of(part)])


def shifted(model: Model, rng: Rng) -> Planted:
    shift = rng.uniform(-2, 2, 3) * model_size(model)
    return _all_points(model, np.eye(3), shift), ("",)


# --- the list of parts ---------------------------------------------------------------------


def _in_one_part(touch: Touch) -> Callable[[Model, Rng], Planted]:
    """Touch the first part, in a random order, that lets itself be touched."""

    def plant(model: Model, rng: Rng) -> Planted:
        for row in rng.permutation(len(model.parts)).tolist():
            part = model.parts[row]
            if not part.face_count:
                continue
            other = touch(part, rng)
            if other is not None:
                parts = [*model.parts[:row], other, *model.parts[row + 1 :]]
                return replace(model, parts=tuple(parts)), (part.name,)
        return None

    return plant


def part_removed(model: Model, rng: Rng) -> Planted:
    if len(model.parts) < 2:
        return None
    row = int(rng.integers(len(model.parts)))
    parts = model.parts[:row] + model.parts[row + 1 :]
    return replace(model, parts=parts), (model.parts[row].name,)


def part_added(model: Model, rng: Rng) -> Planted:
    size = model_size(model)
    points = rng.uniform(-0.1, 0.1, (4, 3)) * size + rng.uniform(1, 2, 3) * size
    part = Part(
        name="added_wedge",
        points=points,
        corner_point=np.array([0, 2, 1, 0, 1, 3, 1, 2, 3, 0, 3, 2]),
        face_start=np.arange(0, 13, 3),
    )
    return replace(model, parts=(*model.parts, part)), ("added_wedge",)


def part_renamed(model: Model, rng: Rng) -> Planted:
    return _in_one_part(lambda part, _: replace(part, name=f"new_{part.name}_name"))(model, rng)


def all_parts_renamed(model: Model, rng: Rng) -> Planted:
    if len(model.parts) < 3:
        return None
    parts = tuple(replace(part, name=f"{part.name}_low") for part in model.parts)
    return replace(model, parts=parts), ("",)


def parts_joined(model: Model, rng: Rng) -> Planted:
    rows = [row for row, part in enumerate(model.parts) if part.face_count]
    if len(rows) < 2:
        return None
    one, other = rng.choice(rows, size=2, replace=False).tolist()
    whole = _joined(model.parts[one], model.parts[other])
    kept = [part for row, part in enumerate(model.parts) if row not in (one, other)]
    return replace(model, parts=(*kept, whole)), (whole.name,)


def _joined(one: Part, other: Part) -> Part:
    names = tuple(dict.fromkeys([*one.materials, *other.materials]))
    faces = []
    for part, offsets in (
        (one, (0, 0, 0)),
        (other, (len(one.points), len(one.uvs), len(one.normals))),
    ):
        for face in faces_of(part):
            material = -1 if face.material < 0 else names.index(part.materials[face.material])
            faces.append(
                replace(
                    face,
                    points=tuple(p + offsets[0] for p in face.points),
                    uvs=tuple(u if u < 0 else u + offsets[1] for u in face.uvs),
                    normals=tuple(n if n < 0 else n + offsets[2] for n in face.normals),
                    material=material,
                )
            )
    smoothing = None
    if one.face_smoothing is not None or other.face_smoothing is not None:
        smoothing = np.zeros(one.face_count, dtype=np.int32)
    return with_faces(
        replace(one, materials=names, face_smoothing=smoothing),
        faces,
        points=np.concatenate([one.points, other.points]),
        uvs=np.concatenate([one.uvs, other.uvs]),
        normals=np.concatenate([one.normals, other.normals]),
    )


def part_split(model: Model, rng: Rng) -> Planted:
    for row in rng.permutation(len(model.parts)).tolist():
        part = model.parts[row]
        if part.face_count < 8:
            continue
        faces = faces_of(part)
        patch = set(neighbours(part, int(rng.integers(len(faces))), len(faces) // 3))
        if len(patch) >= len(faces):
            continue
        first = with_faces(part, [f for k, f in enumerate(faces) if k not in patch])
        second = with_faces(part, [f for k, f in enumerate(faces) if k in patch])
        pieces = (
            used_points_only(first),
            used_points_only(replace(second, name=f"{part.name}_piece")),
        )
        parts = (*model.parts[:row], *pieces, *model.parts[row + 1 :])
        return replace(model, parts=parts), (part.name, f"{part.name}_piece")
    return None


def part_moved(model: Model, rng: Rng) -> Planted:
    if len([part for part in model.parts if part.face_count]) < 2:
        return None
    size = model_size(model)

    def move(part: Part, rng: Rng) -> Part:
        middle = _points(part).mean(axis=0)
        turn = Rotation.from_rotvec(rng.uniform(-1, 1, 3)).as_matrix()
        shift = rng.uniform(0.05, 0.3) * size * rng.choice([-1, 1], 3)
        return replace(
            part,
            points=(part.points - middle) @ turn.T + middle + shift,
            normals=part.normals @ turn.T if len(part.normals) else part.normals,
        )

    return _in_one_part(move)(model, rng)


def part_slid(model: Model, rng: Rng) -> Planted:
    if len([part for part in model.parts if part.face_count]) < 2:
        return None
    shift = np.zeros(3)
    shift[int(rng.integers(3))] = 0.07 * model_size(model)
    return _in_one_part(lambda part, _: replace(part, points=part.points + shift))(model, rng)


# --- form ----------------------------------------------------------------------------------


def dented(part: Part, rng: Rng) -> Part | None:
    """Points near a random one are pushed; smooth fall-off."""
    size = extent(_points(part))
    used = np.unique(part.corner_point)
    if len(used) < 8 or size == 0:
        return None
    centre = part.points[rng.choice(used)]
    near = np.linalg.norm(part.points - centre, axis=1) / (0.25 * size)
    push = 0.08 * size * np.maximum(1 - near**2, 0)[:, None] * _direction(rng)
    return replace(part, points=part.points + push)


def _direction(rng: Rng) -> np.ndarray:
    way = rng.normal(size=3)
    return way / np.linalg.norm(way)


def point_pulled(part: Part, rng: Rng) -> Part | None:
    """All points at one place move together."""
    size = extent(_points(part))
    used = np.unique(part.corner_point)
    if len(used) < 8 or size == 0:
        return None
    spot = part.points[rng.choice(used)]
    here = np.linalg.norm(part.points - spot, axis=1) <= 1e-6 * size
    return replace(part, points=part.points + 0.05 * size * here[:, None] * _direction(rng))


def stretched(part: Part, rng: Rng) -> Part | None:
    """Sized along one axis only."""
    factor = np.ones(3)
    spread = np.ptp(_points(part), axis=0)
    factor[int(np.argmax(spread))] = 1.35
    middle = _points(part).mean(axis=0)
    return replace(part, points=(part.points - middle) * factor + middle)


def twisted(part: Part, rng: Rng) -> Part | None:
    spots = _points(part)
    low, high = spots.min(axis=0), spots.max(axis=0)
    if (high - low)[[0, 2]].max() < 1e-6 * extent(spots) or high[1] - low[1] < 1e-3 * extent(spots):
        return None
    angle = 0.6 * (part.points[:, 1] - low[1]) / (high[1] - low[1])
    x, y, z = (part.points - (low + high) / 2).T
    turned_points = np.stack(
        [np.cos(angle) * x + np.sin(angle) * z, y, np.cos(angle) * z - np.sin(angle) * x], axis=1
    )
    return replace(part, points=turned_points + (low + high) / 2)


def triangulated(part: Part, rng: Rng) -> Part | None:
    faces = faces_of(part)
    if all(len(face) <= 3 for face in faces):
        return None
    return with_faces(part, [piece for face in faces for piece in _fan(face)])


def _fan(face: Face) -> list[Face]:
    return [face.picked([0, k, k + 1]) for k in range(1, len(face) - 1)]


def partly_triangulated(part: Part, rng: Rng) -> Part | None:
    faces = faces_of(part)
    large = [row for row, face in enumerate(faces) if len(face) > 3]
    if len(large) < 4:
        return None
    chosen = set(rng.choice(large, size=max(len(large) // 5, 1), replace=False).tolist())
    pieces = [_fan(face) if row in chosen else [face] for row, face in enumerate(faces)]
    return with_faces(part, [piece for group in pieces for piece in group])


def quadrangulated(part: Part, rng: Rng) -> Part | None:
    """Pairs of triangles that lie flat and next to each other become quads."""
    faces = faces_of(part)
    side_of: dict[tuple[int, int], tuple[int, int]] = {}
    for row, face in enumerate(faces):
        if len(face) == 3:
            for k in range(3):
                side_of[face.points[k], face.points[(k + 1) % 3]] = (row, k)
    merged: dict[int, Face | None] = {}
    for (tail, head), (row, k) in side_of.items():
        other = side_of.get((head, tail))
        if other is None or row in merged or other[0] in merged or row == other[0]:
            continue
        a, b = faces[row], faces[other[0]]
        far = (other[1] + 2) % 3
        if (a.material, a.smoothing) != (b.material, b.smoothing):
            continue
        if b.points[far] in a.points or a.uvs[k] != b.uvs[(other[1] + 1) % 3]:
            continue
        corners = [(k + 1) % 3, (k + 2) % 3, k]
        quad = replace(
            a,
            points=(*(a.points[c] for c in corners), b.points[far]),
            uvs=(*(a.uvs[c] for c in corners), b.uvs[far]),
            normals=(*(a.normals[c] for c in corners), b.normals[far]),
        )
        if a.uvs[(k + 1) % 3] == b.uvs[other[1]] and len(set(quad.points)) == 4:
            merged[row], merged[other[0]] = quad, None
    if len(merged) < 2:
        return None
    kept = [merged.get(row, face) for row, face in enumerate(faces)]
    return with_faces(part, [face for face in kept if face is not None])


def subdivided_flat(part: Part, rng: Rng) -> Part | None:
    return _subdivided(part, smooth=False)


def subdivided_smooth(part: Part, rng: Rng) -> Part | None:
    points = np.unique(part.points[part.corner_point], axis=0)
    if len(points) < len(np.unique(part.corner_point)):
        return None  # split points would tear open
    return _subdivided(part, smooth=True)


def _subdivided(part: Part, *, smooth: bool) -> Part | None:
    if part.face_count > 20_000:
        return None
    done = step(part.points, part.corner_point, part.face_start)
    if not smooth:
        ends = done.edges.ends
        middle = 0.5 * (part.points[ends[:, 0]] + part.points[ends[:, 1]])
        done = replace(done, vertex_points=part.points, edge_points=middle)
    points, corner_point, face_start = refine(done)
    owner = corner_faces(part.face_start)
    uvs, corner_uv = part.uvs, np.full(len(corner_point), -1, dtype=np.int32)
    if len(part.uvs) and (part.corner_uv >= 0).all():
        own = part.uvs[part.corner_uv]
        uvs, corner_uv = _subdivided_uvs(part, own)
    return replace(
        part,
        points=points,
        corner_point=corner_point,
        face_start=face_start,
        uvs=uvs,
        corner_uv=corner_uv,
        face_material=part.face_material[owner],
        face_smoothing=None if part.face_smoothing is None else part.face_smoothing[owner],
        normals=np.empty((0, 3)),
        corner_normal=np.empty(0, np.int32),
    )


def _subdivided_uvs(part: Part, own: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """UVs in the middles of sides and faces; one entry a corner."""
    uvs = []
    for a, b in pairwise(part.face_start.tolist()):
        corners = own[a:b]
        following = np.roll(corners, -1, axis=0)
        previous = np.roll(corners, 1, axis=0)
        centre = corners.mean(axis=0)
        for k in range(b - a):
            uvs += [
                corners[k],
                (corners[k] + following[k]) / 2,
                centre,
                (corners[k] + previous[k]) / 2,
            ]
    return np.array(uvs), np.arange(len(uvs))


def faces_removed(part: Part, rng: Rng) -> Part | None:
    faces = faces_of(part)
    if len(faces) < 12:
        return None
    gone = set(neighbours(part, int(rng.integers(len(faces))), max(len(faces) // 12, 2)))
    return with_faces(part, [face for row, face in enumerate(faces) if row not in gone])


def faces_added(part: Part, rng: Rng) -> Part | None:
    """A small fin of new points, with UVs where the part has some."""
    size = extent(_points(part))
    centre = _points(part).mean(axis=0) + 0.4 * size * _direction(rng)
    points = centre + 0.05 * size * rng.normal(size=(4, 3))
    uvs = rng.uniform(0.4, 0.45, (4, 2)) if len(part.uvs) else np.empty((0, 2))
    first, first_uv = len(part.points), len(part.uvs)
    corners = [(0, 1, 2), (0, 2, 3)]
    new = [
        Face(
            points=tuple(first + k for k in c),
            uvs=tuple(first_uv + k for k in c) if len(part.uvs) else (-1, -1, -1),
            normals=(-1, -1, -1),
            material=faces_of(part)[0].material,
        )
        for c in corners
    ]
    return with_faces(
        part,
        [*faces_of(part), *new],
        points=np.concatenate([part.points, points]),
        uvs=np.concatenate([part.uvs, uvs]),
    )


def face_extruded(part: Part, rng: Rng) -> Part | None:
    faces = faces_of(part)
    row = int(rng.integers(len(faces)))
    face = faces[row]
    if len(set(face.points)) < 3:
        return None
    corner = np.array(face.points)
    normal = newell_vectors(
        part.points, corner.astype(np.int32), np.array([0, len(corner)], dtype=np.int32)
    )[0]
    if np.linalg.norm(normal) < 1e-12:
        return None
    size = extent(_points(part))
    lifted = part.points[corner] + 0.1 * size * normal / np.linalg.norm(normal)
    first = len(part.points)
    top = replace(face, points=tuple(range(first, first + len(corner))))
    sides = []
    for k in range(len(face)):
        n = (k + 1) % len(face)
        sides.append(
            replace(
                face,
                points=(face.points[k], face.points[n], first + n, first + k),
                uvs=(face.uvs[k], face.uvs[n], face.uvs[n], face.uvs[k]),
                normals=(face.normals[k], face.normals[n], face.normals[n], face.normals[k]),
            )
        )
    rest = faces[:row] + faces[row + 1 :]
    return with_faces(part, [*rest, *sides, top], points=np.concatenate([part.points, lifted]))


def faces_merged(part: Part, rng: Rng) -> Part | None:
    """Neighbouring faces over one edge become one face."""
    faces = faces_of(part)
    side_of = {}
    for row, face in enumerate(faces):
        for k in range(len(face)):
            side_of[face.points[k], face.points[(k + 1) % len(face)]] = (row, k)
    done: dict[int, Face | None] = {}
    for (tail, head), (row, k) in side_of.items():
        other = side_of.get((head, tail))
        if other is None or {row, other[0]} & done.keys() or row == other[0]:
            continue
        a, b = faces[row], faces[other[0]]
        if (a.material, a.smoothing) != (b.material, b.smoothing):
            continue
        if len(set(a.points) & set(b.points)) != 2 or len(a) < 3 or len(b) < 3:
            continue
        ends = ((k, (other[1] + 1) % len(b)), ((k + 1) % len(a), other[1]))
        if any(a.uvs[i] != b.uvs[j] for i, j in ends) or len(done) > len(faces) // 4:
            continue
        own = [(k + 1 + s) % len(a) for s in range(len(a))]
        theirs = [(other[1] + 2 + s) % len(b) for s in range(len(b) - 2)]
        done[row] = replace(
            a,
            points=(*(a.points[c] for c in own), *(b.points[c] for c in theirs)),
            uvs=(*(a.uvs[c] for c in own), *(b.uvs[c] for c in theirs)),
            normals=(*(a.normals[c] for c in own), *(b.normals[c] for c in theirs)),
        )
        done[other[0]] = None
    if not done:
        return None
    kept = [done.get(row, face) for row, face in enumerate(faces)]
    return with_faces(part, [face for face in kept if face is not None])


def retopologised(part: Part, rng: Rng) -> Part | None:
    """Points are thinned out by clustering on a coarse grid: a plain way to fewer polygons."""
    spots = _points(part)
    size = extent(spots)
    if part.face_count < 100:
        return None
    cell = size / rng.uniform(9, 13)
    cells = np.floor((part.points - spots.min(axis=0)) / cell + rng.uniform(0, 1, 3)).astype(int)
    _, label = np.unique(cells, axis=0, return_inverse=True)
    label = label.reshape(-1)
    count = np.bincount(label)
    middle = np.stack([np.bincount(label, weights=c) / count for c in part.points.T], axis=1)
    faces, seen = [], set()
    for face in faces_of(part):
        corners = [
            k for k in range(len(face)) if label[face.points[k]] != label[face.points[k - 1]]
        ]
        places = [int(label[face.points[k]]) for k in corners]
        if len(set(places)) < 3 or len(set(places)) != len(places):
            continue
        if frozenset(places) in seen:
            continue
        seen.add(frozenset(places))
        faces.append(
            replace(face.picked(corners), points=tuple(places), normals=(-1,) * len(places))
        )
    if len(faces) < 12 or len(faces) > 0.7 * part.face_count:
        return None
    other = with_faces(part, faces, points=middle, normals=np.empty((0, 3)))
    return used_points_only(other)


def wound_back(part: Part, rng: Rng) -> Part | None:
    return _all_wound_back(part)


def some_wound_back(part: Part, rng: Rng) -> Part | None:
    faces = faces_of(part)
    chosen = set(neighbours(part, int(rng.integers(len(faces))), max(len(faces) // 6, 1)))
    return with_faces(
        part,
        [
            face.picked(range(len(face) - 1, -1, -1)) if row in chosen else face
            for row, face in enumerate(faces)
        ],
    )


def unwelded(part: Part, rng: Rng) -> Part | None:
    """Each face gets points of its own."""
    if len(np.unique(part.corner_point)) == len(part.corner_point):
        return None
    return replace(
        part, points=part.points[part.corner_point], corner_point=np.arange(len(part.corner_point))
    )


def welded(part: Part, rng: Rng) -> Part | None:
    points, back = np.unique(part.points, axis=0, return_inverse=True)
    back = back.reshape(-1)
    used = np.unique(part.corner_point)
    if len(np.unique(back[used])) == len(used):
        return None
    return replace(part, points=points, corner_point=back[part.corner_point])


def normals_changed(part: Part, rng: Rng) -> Part | None:
    """Flat normals where there were others, or the other way round bent ones."""
    if not len(part.normals):
        return None
    away = _direction(rng)
    normals = part.normals + 0.8 * away
    return replace(part, normals=normals / np.linalg.norm(normals, axis=1)[:, None])


def normals_dropped(part: Part, rng: Rng) -> Part | None:
    if not len(part.normals):
        return None
    return replace(part, normals=np.empty((0, 3)), corner_normal=np.empty(0, np.int32))


def smoothing_changed(part: Part, rng: Rng) -> Part | None:
    """Smoothing switched off, or on where it was off."""
    if part.face_smoothing is None or part.face_count < 4:
        return None
    on = bool(part.face_smoothing.any())
    return replace(part, face_smoothing=np.full(part.face_count, 0 if on else 1))


def smoothing_split(part: Part, rng: Rng) -> Part | None:
    if part.face_smoothing is None or part.face_count < 4 or not part.face_smoothing.any():
        return None
    groups = np.array(part.face_smoothing)
    patch = neighbours(part, int(rng.integers(part.face_count)), part.face_count // 3)
    groups[patch] = groups.max() + 1
    return replace(part, face_smoothing=groups)


# --- UVs -----------------------------------------------------------------------------------


def _has_uvs(part: Part) -> bool:
    """Every corner has a UV, and most faces have an area in the UV plane."""
    if not len(part.uvs) or not (part.corner_uv >= 0).all():
        return False
    areas = signed_areas(part.uvs, part.corner_uv, part.face_start)
    return bool((np.abs(areas) > 1e-9).mean() > 0.6)


def uvs_lost(part: Part, rng: Rng) -> Part | None:
    if not _has_uvs(part):
        return None
    return replace(part, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))


def some_uvs_lost(part: Part, rng: Rng) -> Part | None:
    if not _has_uvs(part) or part.face_count < 8:
        return None
    patch = neighbours(part, int(rng.integers(part.face_count)), part.face_count // 4)
    corner_uv = np.array(part.corner_uv)
    corner_uv[np.isin(corner_faces(part.face_start), patch)] = -1
    return replace(part, corner_uv=corner_uv)


def uvs_added(part: Part, rng: Rng) -> Part | None:
    if len(part.uvs):
        return None
    spots = part.points - part.points.min(axis=0)
    uvs = spots[:, [0, 2]] / max(float(np.ptp(part.points, axis=0).max()), 1e-9)
    return replace(part, uvs=uvs, corner_uv=part.corner_point)


def uvs_flipped(axis: int) -> Touch:
    def touch(part: Part, rng: Rng) -> Part | None:
        if not _has_uvs(part):
            return None
        uvs = np.array(part.uvs)
        uvs[:, axis] = 1 - uvs[:, axis]
        return replace(part, uvs=uvs)

    return touch


def all_uvs_flipped(model: Model, rng: Rng) -> Planted:
    if not all(_has_uvs(part) for part in model.parts):
        return None
    parts = tuple(replace(p, uvs=p.uvs * [1, -1] + [0, 1]) for p in model.parts)
    return replace(model, parts=parts), ("",)


def _shell_corners(part: Part, shells: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    return np.isin(shells[corner_faces(part.face_start)], chosen)


def _with_corner_uvs(part: Part, corners: np.ndarray, uvs: np.ndarray) -> Part:
    """New UVs on some corners, as entries of their own."""
    corner_uv = np.array(part.corner_uv)
    corner_uv[corners] = len(part.uvs) + np.arange(int(corners.sum()))
    return replace(part, uvs=np.concatenate([part.uvs, uvs]), corner_uv=corner_uv)


def _some_shells(part: Part, rng: Rng, *, largest_too: bool = True) -> np.ndarray | None:
    """Corners of one to a third of the shells that have some size; None for a part without."""
    if not _has_uvs(part):
        return None
    shells = find_shells(part)
    if not shells.count:
        return None
    wanted = max(shells.count // 3, 1)
    chosen = rng.choice(shells.count, size=wanted, replace=False)
    corners = _shell_corners(part, shells.face_shell, chosen)
    uv = part.uvs[part.corner_uv[corners]]
    if np.ptp(uv, axis=0).min() < 1e-3:
        return None
    return corners


def shells_mirrored(part: Part, rng: Rng) -> Part | None:
    """Some shells, not all, are turned over about their own middles."""
    if not _has_uvs(part):
        return None
    shells = find_shells(part)
    if shells.count < 2:
        return None
    chosen = rng.choice(shells.count, size=max(shells.count // 3, 1), replace=False)
    uvs = part.uvs[part.corner_uv]
    owner = shells.face_shell[corner_faces(part.face_start)]
    for shell in chosen.tolist():
        own = owner == shell
        if np.ptp(uvs[own], axis=0).min() < 1e-3:
            return None
        middle = (uvs[own].max(axis=0) + uvs[own].min(axis=0)) / 2
        uvs[own, 0] = 2 * middle[0] - uvs[own, 0] + 0.013
    return replace(part, uvs=uvs, corner_uv=np.arange(len(uvs)))


def shells_moved(part: Part, rng: Rng) -> Part | None:
    corners = _some_shells(part, rng)
    if corners is None:
        return None
    uvs = part.uvs[part.corner_uv[corners]] + rng.uniform(0.05, 0.2, 2)
    return _with_corner_uvs(part, corners, uvs)


def repacked(part: Part, rng: Rng) -> Part | None:
    """Every shell is shifted, turned and sized in its own way."""
    if not _has_uvs(part):
        return None
    shells = find_shells(part)
    owner = shells.face_shell[corner_faces(part.face_start)]
    z = part.uvs[part.corner_uv] @ [1, 1j]
    size = rng.uniform(0.5, 0.9)
    turn = size * np.exp(1j * rng.uniform(0.3, 2.5, shells.count))
    shift = rng.uniform(0.1, 0.5, shells.count) + 1j * rng.uniform(0.1, 0.5, shells.count)
    z = turn[owner] * z + shift[owner]
    return replace(part, uvs=np.stack([z.real, z.imag], axis=1), corner_uv=np.arange(len(z)))


def all_uvs_sized(part: Part, rng: Rng) -> Part | None:
    if not _has_uvs(part):
        return None
    return replace(part, uvs=part.uvs * 0.5 + 0.05)


def tile_moved(part: Part, rng: Rng) -> Part | None:
    if not _has_uvs(part):
        return None
    return replace(part, uvs=part.uvs + np.array([1.0, 0.0]))


def seams_cut(part: Part, rng: Rng) -> Part | None:
    """A patch of faces is cut out of its shell and laid elsewhere."""
    if not _has_uvs(part) or part.face_count < 8:
        return None
    shells = find_shells(part)
    sizes = np.bincount(shells.face_shell)
    shell = int(np.argmax(sizes))
    if sizes[shell] < 6:
        return None
    members = np.flatnonzero(shells.face_shell == shell)
    order = neighbours(part, int(rng.choice(members)), part.face_count)
    chosen = [row for row in order if shells.face_shell[row] == shell][: len(members) // 3]
    corners = np.isin(corner_faces(part.face_start), chosen)
    if not 0 < len(chosen) < len(members):
        return None
    uvs = part.uvs[part.corner_uv[corners]] + rng.uniform(0.02, 0.1, 2)
    other = _with_corner_uvs(part, corners, uvs)
    return other if find_shells(other).is_seam.sum() > shells.is_seam.sum() else None


def seams_sewn(part: Part, rng: Rng) -> Part | None:
    """One shell is laid so that its whole border with another meets that one's UVs."""
    if not _has_uvs(part):
        return None
    shells = find_shells(part)
    edges, owner = shells.edges, corner_faces(part.face_start)
    follow = _following(part)
    for edge in rng.permutation(np.flatnonzero(shells.is_seam)).tolist():
        if edges.side_count[edge] != 2:
            continue
        a, b = edges.sides[edges.side_start[edge] : edges.side_start[edge + 1]].tolist()
        one, other = shells.face_shell[owner[a]], shells.face_shell[owner[b]]
        if one == other or shells.corner_place[a] != shells.corner_place[follow[b]]:
            continue
        uv = part.uvs[part.corner_uv] @ [1, 1j]
        old = uv[[b, follow[b]]]
        new = uv[[follow[a], a]]
        if abs(old[1] - old[0]) < 1e-4 or abs(new[1] - new[0]) < 1e-4:
            continue
        turn = (new[1] - new[0]) / (old[1] - old[0])
        own = shells.face_shell[owner] == other
        moved = turn * (uv[own] - old[0]) + new[0]
        return _with_corner_uvs(part, own, np.stack([moved.real, moved.imag], axis=1))
    return None


def _following(part: Part) -> np.ndarray:
    follow = np.arange(1, len(part.corner_point) + 1)
    follow[part.face_start[1:] - 1] = part.face_start[:-1]
    return follow


def uvs_reshaped(part: Part, rng: Rng) -> Part | None:
    """UV entries of equal value move together: seams stay."""
    if not _has_uvs(part) or np.ptp(part.uvs, axis=0).min() < 1e-2:
        return None
    places, back = np.unique(np.round(part.uvs, 9), axis=0, return_inverse=True)
    spread = np.ptp(places, axis=0).max()
    places = places + 0.03 * spread * np.sin(7 * places[:, ::-1] / spread + rng.uniform(0, 6))
    return replace(part, uvs=places[back.reshape(-1)])


def some_uvs_reshaped(part: Part, rng: Rng) -> Part | None:
    if not _has_uvs(part):
        return None
    places, back = np.unique(np.round(part.uvs, 9), axis=0, return_inverse=True)
    spread = np.ptp(places, axis=0).max()
    near = np.linalg.norm(places - rng.permutation(places)[0], axis=1) / (0.2 * spread + 1e-12)
    push = 0.05 * spread * np.maximum(1 - near**2, 0)[:, None] * np.array([0.8, 0.6])
    return replace(part, uvs=(places + push)[back.reshape(-1)])


# --- materials -----------------------------------------------------------------------------


def material_swapped(part: Part, rng: Rng) -> Part | None:
    if part.face_count < 4:
        return None
    patch = neighbours(part, int(rng.integers(part.face_count)), part.face_count // 3)
    material = np.array(part.face_material)
    material[patch] = len(part.materials)
    return replace(part, materials=(*part.materials, "planted_brass"), face_material=material)


def material_renamed(part: Part, rng: Rng) -> Part | None:
    if not part.materials or (part.face_material < 0).all():
        return None
    names = [*part.materials]
    used = int(np.bincount(part.face_material[part.face_material >= 0]).argmax())
    names[used] = "planted_tin"
    return replace(part, materials=tuple(names))


_Z_UP = [[1, 0, 0], [0, 0, -1], [0, 1, 0]]
_Y_UP = [[1, 0, 0], [0, 0, 1], [0, -1, 0]]
_QUARTER = [[0, 0, 1], [0, 1, 0], [-1, 0, 0]]

PLANTS: tuple[Plant, ...] = (
    Plant(name="scaled by 100", code="scale", plant=scaled(100), whole=True),
    Plant(name="scaled by 0.01", code="scale", plant=scaled(0.01), whole=True),
    Plant(name="scaled by 2.54", code="scale", plant=scaled(2.54), whole=True),
    Plant(name="scaled by 39.37", code="scale", plant=scaled(1 / 0.0254), whole=True),
    Plant(name="scaled by 1.7", code="scale", plant=scaled(1.7), whole=True),
    Plant(name="scaled about its middle", code="scale", plant=scaled_about_middle, whole=True),
    Plant(name="turned to Z up", code="axes", plant=turned(_Z_UP), whole=True),
    Plant(name="turned to Y up", code="axes", plant=turned(_Y_UP), whole=True),
    Plant(name="turned by a quarter", code="axes", plant=turned(_QUARTER), whole=True),
    Plant(name="mirrored", code="mirror", plant=mirrored(0, rewound=False), whole=True),
    Plant(name="mirrored, rewound", code="mirror", plant=mirrored(2, rewound=True), whole=True),
    Plant(name="shifted", code="offset", plant=shifted, whole=True),
    Plant(name="part removed", code="part-removed", plant=part_removed),
    Plant(name="part added", code="part-added", plant=part_added),
    Plant(name="part renamed", code="part-renamed", plant=part_renamed),
    Plant(name="all renamed", code="part-renamed", plant=all_parts_renamed, whole=True),
    Plant(name="parts joined", code="parts-joined", plant=parts_joined),
    Plant(name="part split", code="part-split", plant=part_split),
    Plant(name="part moved and turned", code="part-moved", plant=part_moved),
    Plant(name="part slid", code="part-moved", plant=part_slid),
    Plant(name="dented", code="reshaped", plant=_in_one_part(dented)),
    Plant(name="one point pulled", code="reshaped", plant=_in_one_part(point_pulled)),
    Plant(name="stretched", code="reshaped", plant=_in_one_part(stretched)),
    Plant(name="twisted", code="reshaped", plant=_in_one_part(twisted)),
    Plant(name="triangulated", code="triangulated", plant=_in_one_part(triangulated)),
    Plant(name="partly triangulated", code="triangulated", plant=_in_one_part(partly_triangulated)),
    Plant(name="triangles paired", code="faces-merged", plant=_in_one_part(quadrangulated)),
    Plant(name="subdivided", code="subdivided", plant=_in_one_part(subdivided_flat)),
    Plant(name="subdivided, smooth", code="subdivided", plant=_in_one_part(subdivided_smooth)),
    Plant(name="faces removed", code="faces-removed", plant=_in_one_part(faces_removed)),
    Plant(name="faces added", code="faces-added", plant=_in_one_part(faces_added)),
    Plant(name="face extruded", code="faces-added", plant=_in_one_part(face_extruded)),
    Plant(name="faces merged", code="faces-merged", plant=_in_one_part(faces_merged)),
    Plant(name="thinned out", code="retopologised", plant=_in_one_part(retopologised)),
    Plant(name="wound back", code="winding-flipped", plant=_in_one_part(wound_back)),
    Plant(name="some wound back", code="winding-flipped", plant=_in_one_part(some_wound_back)),
    Plant(name="unwelded", code="unwelded", plant=_in_one_part(unwelded)),
    Plant(name="welded", code="welded", plant=_in_one_part(welded)),
    Plant(name="normals bent", code="normals-changed", plant=_in_one_part(normals_changed)),
    Plant(name="normals dropped", code="normals-changed", plant=_in_one_part(normals_dropped)),
    Plant(
        name="smoothing switched", code="smoothing-changed", plant=_in_one_part(smoothing_changed)
    ),
    Plant(name="smoothing split", code="smoothing-changed", plant=_in_one_part(smoothing_split)),
    Plant(name="UVs lost", code="uv-lost", plant=_in_one_part(uvs_lost)),
    Plant(name="some UVs lost", code="uv-lost", plant=_in_one_part(some_uvs_lost)),
    Plant(name="UVs added", code="uv-added", plant=_in_one_part(uvs_added)),
    Plant(name="UVs flipped along U", code="uv-flipped", plant=_in_one_part(uvs_flipped(0))),
    Plant(name="UVs flipped along V", code="uv-flipped", plant=_in_one_part(uvs_flipped(1))),
    Plant(name="all UVs flipped", code="uv-flipped", plant=all_uvs_flipped, whole=True),
    Plant(name="shells mirrored", code="uv-mirrored", plant=_in_one_part(shells_mirrored)),
    Plant(name="shells moved", code="uv-moved", plant=_in_one_part(shells_moved)),
    Plant(name="repacked", code="uv-moved", plant=_in_one_part(repacked)),
    Plant(name="UVs sized", code="uv-moved", plant=_in_one_part(all_uvs_sized)),
    Plant(name="moved to the next tile", code="uv-tile-moved", plant=_in_one_part(tile_moved)),
    Plant(name="seams cut", code="seams-cut", plant=_in_one_part(seams_cut)),
    Plant(name="seams sewn", code="seams-sewn", plant=_in_one_part(seams_sewn)),
    Plant(name="UVs reshaped", code="uv-reshaped", plant=_in_one_part(uvs_reshaped)),
    Plant(name="some UVs reshaped", code="uv-reshaped", plant=_in_one_part(some_uvs_reshaped)),
    Plant(name="material swapped", code="material-changed", plant=_in_one_part(material_swapped)),
    Plant(name="material renamed", code="material-changed", plant=_in_one_part(material_renamed)),
)
