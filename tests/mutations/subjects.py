"""Meshes to plant changes in: built in code, and real ones from the packages of `real_meshes`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import real_meshes
from shapes import cube, grid, model, sphere, torus

from reviewbot.errors import MeshReadError
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.mesh import Model, Part
from reviewbot.readers.obj import read_obj

LARGEST = 6000  # faces: a bench of many rounds wants small meshes


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    name: str
    model: Model


def _placed(part: Part, name: str, shift: tuple[float, float, float]) -> Part:
    return replace(part, name=name, points=part.points + np.array(shift))


def _dressed(part: Part, material: str) -> Part:
    """With flat normals, one smoothing group and a material, as exports have them."""
    vectors = newell_vectors(part.points, part.corner_point, part.face_start)
    normals = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    return replace(
        part,
        materials=(material,),
        face_material=np.zeros(part.face_count, dtype=np.int32),
        face_smoothing=np.ones(part.face_count, dtype=np.int32),
        normals=normals,
        corner_normal=np.repeat(np.arange(part.face_count), np.diff(part.face_start)),
    )


def boxes_net(side: float, name: str) -> Part:
    """A cube whose six faces are six shells."""
    box = cube(side=side, name=name)
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * 0.2
    uvs = np.concatenate([square + np.array([k % 3, k // 3]) / 4 for k in range(6)])
    return replace(box, uvs=uvs, corner_uv=np.arange(24, dtype=np.int32))


def prop() -> Model:
    """Five parts: curved and flat, of one shell and of several, one without UVs."""
    bare = replace(
        cube(side=0.6, name="crate"), uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32)
    )
    return model(
        _dressed(_placed(sphere(24, 14), "globe", (0, 1.0, 0)), "glass"),
        _dressed(_placed(torus(24, 12), "ring", (0.2, 2.4, 0)), "steel"),
        _dressed(_placed(grid(9, 7), "sheet", (1.5, 0, 0.4)), "cloth"),
        _dressed(_placed(boxes_net(0.8, "box"), "box", (-1.9, 0.4, 0.3)), "steel"),
        _dressed(_placed(bare, "crate", (-0.4, 0.3, 1.9)), "steel"),
    )


def rivets() -> Model:
    """A plate with eight identical rivets that share their UVs, told apart by place only."""
    plate = _dressed(grid(12, 10, width=3, depth=2, name="plate"), "steel")
    heads = [
        _dressed(
            _placed(sphere(8, 5, radius=0.1), f"rivet_{k + 1}", (0.3 + 0.33 * k, 0.05, -0.31)),
            "brass",
        )
        for k in range(8)
    ]
    return model(plate, *heads)


def single() -> Model:
    """One part without name or material: a bumpy ball, nowhere symmetric."""
    ball = sphere(20, 12, name="default")
    bump = 1 + 0.2 * np.sin(3 * ball.points[:, :1] + 1) * np.cos(2 * ball.points[:, 1:2] + 0.5)
    return model(replace(ball, points=ball.points * bump + [0.3, 0.1, 0.2]))


def built() -> list[Subject]:
    return [
        Subject(name="prop", model=prop()),
        Subject(name="rivets", model=rivets()),
        Subject(name="single", model=single()),
    ]


SOURCES: tuple[Callable[[], list[Path]], ...] = (
    real_meshes.myosuite_objs,
    real_meshes.openmesh_objs,
    real_meshes.compas_objs,
    real_meshes.robosuite_objs,
    real_meshes.pipeworks_objs,
    lambda: real_meshes.assimp_models(".obj"),
)


def real(paths: list[Path]) -> Iterator[Subject]:
    """Readable ones of a size that fits a bench."""
    for path in paths:
        data = path.read_bytes()
        if len(data) > 3_000_000:
            continue
        try:
            found = read_obj(data, path=path.name)
        except MeshReadError:
            continue
        faces = sum(part.face_count for part in found.parts)
        finite = all(np.isfinite(part.points).all() for part in found.parts)
        if 4 <= faces <= LARGEST and finite:
            yield Subject(name=f"{path.parts[-2]}/{path.name}", model=found)
