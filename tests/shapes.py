"""Small named meshes, built in code, for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reviewbot.mesh import Model, Part


def polygons(
    points: Sequence[Sequence[float]] | np.ndarray,
    faces: Sequence[Sequence[int]],
    *,
    uvs: Sequence[Sequence[float]] | np.ndarray = (),
    face_uvs: Sequence[Sequence[int]] | None = None,
    name: str = "shape",
) -> Part:
    """A part from faces written as lists; `face_uvs` gives each corner's UV entry the same way."""
    start = np.cumsum([0, *(len(face) for face in faces)])
    corner_uv = np.empty(0, np.int32) if face_uvs is None else np.concatenate(face_uvs)
    return Part(
        name=name,
        points=np.asarray(points, dtype=float).reshape(-1, 3),
        corner_point=np.concatenate([*faces, []]).astype(np.int32),
        face_start=start,
        uvs=np.asarray(uvs, dtype=float).reshape(-1, 2),
        corner_uv=corner_uv,
    )


def model(*parts: Part) -> Model:
    return Model(parts=parts, format="obj")


def cube(*, side: float = 1.0, name: str = "cube") -> Part:
    """Six quads wound outwards, centred on the origin, UVs a cross-shaped net in one piece."""
    points = (np.array([(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]) - 0.5) * side
    # Corners are numbered 4x + 2y + z.
    faces = [
        (1, 5, 7, 3),  # +z
        (5, 4, 6, 7),  # +x
        (4, 0, 2, 6),  # -z
        (0, 1, 3, 2),  # -x
        (3, 7, 6, 2),  # +y
        (0, 4, 5, 1),  # -y
    ]
    # Squares of the net, a quarter of the tile each: a row of four, +y over and -y under the first.
    origins = [(0, 1), (1, 1), (2, 1), (3, 1), (0, 2), (0, 0)]
    corner = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    uvs = np.concatenate([(np.array(origin) + corner) / 4 for origin in origins])
    return polygons(
        points, faces, uvs=uvs, face_uvs=np.arange(24).reshape(6, 4).tolist(), name=name
    )


def box(
    low: tuple[float, float, float], high: tuple[float, float, float], name: str = "box"
) -> Part:
    """A cube drawn out between two opposite corners, its UV net unchanged."""
    part = cube(name=name)
    return replace(part, points=(part.points + 0.5) * np.subtract(high, low) + low)


def grid(
    columns: int, rows: int, *, width: float = 1.0, depth: float = 1.0, name: str = "grid"
) -> Part:
    """A flat sheet of quads in the x-z plane facing +y, UVs filling the tile."""
    u, v = np.meshgrid(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1))
    points = np.stack([u * width, 0 * u, -v * depth], axis=-1).reshape(-1, 3)
    index = np.arange((columns + 1) * (rows + 1)).reshape(rows + 1, columns + 1)
    faces = _quads(index)
    return Part(
        name=name,
        points=points,
        corner_point=faces.reshape(-1),
        face_start=np.arange(0, faces.size + 1, 4),
        uvs=np.stack([u, v], axis=-1).reshape(-1, 2),
        corner_uv=faces.reshape(-1),
    )


def sphere(
    around: int, down: int, *, radius: float = 1.0, name: str = "sphere", flipped: bool = False
) -> Part:
    """A globe of quads, triangles at the poles, y up; UVs longitude and latitude (plate carrée).

    `flipped` winds it inwards.
    """
    longitude = np.linspace(-np.pi, np.pi, around + 1)
    latitude = np.linspace(-np.pi / 2, np.pi / 2, down + 1)
    ring = latitude[1:-1]
    points = radius * np.concatenate(
        [
            [(0, -1, 0)],
            np.stack(
                [
                    np.cos(ring)[:, None] * np.sin(longitude[:-1]),
                    np.repeat(np.sin(ring)[:, None], around, axis=1),
                    np.cos(ring)[:, None] * np.cos(longitude[:-1]),
                ],
                axis=-1,
            ).reshape(-1, 3),
            [(0, 1, 0)],
        ]
    )
    ring_index = 1 + np.arange((down - 1) * around).reshape(down - 1, around)
    wrapped = np.concatenate([ring_index, ring_index[:, :1]], axis=1)
    u, v = np.meshgrid((longitude + np.pi) / (2 * np.pi), latitude / np.pi + 0.5)
    uv_index = np.arange(u.size).reshape(u.shape)
    quads, quad_uvs = _quads(wrapped), _quads(uv_index[1:-1])
    last = len(points) - 1
    south = np.stack([np.full(around, 0), wrapped[0, 1:], wrapped[0, :-1]], axis=1)
    south_uvs = np.stack([uv_index[0, :-1], uv_index[1, 1:], uv_index[1, :-1]], axis=1)
    north = np.stack([wrapped[-1, :-1], wrapped[-1, 1:], np.full(around, last)], axis=1)
    north_uvs = np.stack([uv_index[-2, :-1], uv_index[-2, 1:], uv_index[-1, :-1]], axis=1)
    faces = [*south.tolist(), *quads.tolist(), *north.tolist()]
    face_uvs = [*south_uvs.tolist(), *quad_uvs.tolist(), *north_uvs.tolist()]
    if flipped:
        faces, face_uvs = [f[::-1] for f in faces], [f[::-1] for f in face_uvs]
    uvs = np.stack([u, v], axis=-1).reshape(-1, 2)
    return polygons(points, faces, uvs=uvs, face_uvs=face_uvs, name=name)


def torus(
    around: int, across: int, *, radius: float = 1.0, tube: float = 0.3, name: str = "torus"
) -> Part:
    """A closed ring of quads, wound outwards, y up; UVs fill the tile, cut once each way."""
    t, s = np.meshgrid(np.linspace(0, 2 * np.pi, around + 1), np.linspace(0, 2 * np.pi, across + 1))
    reach = radius + tube * np.cos(s)
    points = np.stack([reach * np.sin(t), tube * np.sin(s), reach * np.cos(t)], axis=-1)
    index = np.arange(around * across).reshape(across, around)
    wrapped = np.pad(index, ((0, 1), (0, 1)), mode="wrap")
    uv_faces = _quads(np.arange(t.size).reshape(t.shape))
    return Part(
        name=name,
        points=points[:-1, :-1].reshape(-1, 3),
        corner_point=_quads(wrapped).reshape(-1),
        face_start=np.arange(0, 4 * around * across + 1, 4),
        uvs=np.stack([t, s], axis=-1).reshape(-1, 2) / (2 * np.pi),
        corner_uv=uv_faces.reshape(-1),
    )


def moebius(around: int, *, name: str = "moebius") -> Part:
    """A one-sided band of quads: its winding cannot be made consistent. No UVs."""
    t = np.linspace(0, 2 * np.pi, around, endpoint=False)
    sides = []
    for offset in (-0.2, 0.2):
        reach = 1 + offset * np.cos(t / 2)
        sides.append(
            np.stack([reach * np.cos(t), offset * np.sin(t / 2), reach * np.sin(t)], axis=1)
        )
    first, second = np.arange(around), around + np.arange(around)
    faces = [[first[k], first[k + 1], second[k + 1], second[k]] for k in range(around - 1)]
    faces.append([first[-1], second[0], first[0], second[-1]])  # the half turn
    return polygons(np.concatenate(sides), faces, name=name)


FIN_POINTS = (
    (0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0), (0, -1, 0), (1, -1, 0), (0, 0, 1), (1, 0, 1),
)  # fmt: skip
FIN_FACES = ((0, 1, 3, 2), (1, 0, 4, 5), (0, 1, 7, 6))


def fin(*, name: str = "fin") -> Part:
    """Three squares that share the edge from (0, 0, 0) to (1, 0, 0). No UVs."""
    return polygons(FIN_POINTS, FIN_FACES, name=name)


def joined(*parts: Part, name: str = "joined") -> Part:
    """Several parts as one, faces in order, nothing welded."""
    point_offset = np.cumsum([0, *(len(p.points) for p in parts)])
    uv_offset = np.cumsum([0, *(len(p.uvs) for p in parts)])
    corner_offset = np.cumsum([0, *(len(p.corner_point) for p in parts)])
    return Part(
        name=name,
        points=np.concatenate([p.points for p in parts]),
        corner_point=np.concatenate(
            [p.corner_point + o for p, o in zip(parts, point_offset, strict=False)]
        ),
        face_start=np.concatenate(
            [[0], *(p.face_start[1:] + o for p, o in zip(parts, corner_offset, strict=False))]
        ),
        uvs=np.concatenate([p.uvs for p in parts]),
        corner_uv=np.concatenate(
            [
                np.where(p.corner_uv < 0, -1, p.corner_uv + o)
                for p, o in zip(parts, uv_offset, strict=False)
            ]
        ),
    )


def _quads(index: np.ndarray) -> np.ndarray:
    """(N, 4) quads over a rectangular array of indices."""
    return np.stack(
        [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]], axis=-1
    ).reshape(-1, 4)
