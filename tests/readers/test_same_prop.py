"""One prop written to every format by general-purpose libraries measures the same in all.

Writers: trimesh (OBJ, glTF, PLY, STL) and OpenUSD's own library (USD). FBX has no free writer
among the packages at hand; the test's own text form stands in.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
import shapes
import trimesh
from readers.fans import fan_corners
from readers.fbx_files import fbx_file, mesh_text

from reviewbot.geometry.exact import exact_places
from reviewbot.geometry.polygons import face_areas, signed_areas
from reviewbot.mesh import Model, Part, world_points
from reviewbot.readers.isolation import IsolatedReader


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What every format must agree on; the UV area is signed, so a turned V axis shows."""

    bounds: list[float]
    area: float
    uv_area: float
    uv_bounds: list[float]
    euler: int
    triangles: int


def prop() -> Part:
    """A globe with a ring round it, off the origin, triangles only, UVs in the lower half."""
    joined = shapes.joined(shapes.sphere(16, 8), shapes.torus(24, 8, radius=1.6))
    corner = fan_corners(joined).reshape(-1)
    return Part(
        name="lamp",
        points=joined.points + np.array([0.5, 1.25, -2.0]),
        corner_point=joined.corner_point[corner],
        face_start=np.arange(0, len(corner) + 1, 3),
        uvs=joined.uvs * [1, 0.5],
        corner_uv=joined.corner_uv[corner],
    )


def measures(model: Model) -> Measures:
    (part,) = model.parts
    points = world_points(part)
    place = exact_places(np.round(points, 5))[0][part.corner_point].reshape(-1, 3)
    edges = np.sort(place[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    used = points[np.unique(part.corner_point)]
    uvs = part.uvs[part.corner_uv] if len(part.uvs) else np.zeros((1, 2))
    uv_areas = signed_areas(part.uvs, part.corner_uv, part.face_start)
    return Measures(
        bounds=np.concatenate([used.min(axis=0), used.max(axis=0)]).tolist(),
        area=float(face_areas(points, part.corner_point, part.face_start).sum()),
        uv_area=float(np.nansum(uv_areas)),
        uv_bounds=np.concatenate([uvs.min(axis=0), uvs.max(axis=0)]).tolist(),
        euler=len(np.unique(place)) - len(np.unique(edges, axis=0)) + part.face_count,
        triangles=part.face_count,
    )


def by_trimesh(part: Part, **options: str) -> bytes:
    """A row for every distinct pair of point and UV, as trimesh keeps them."""
    pairs = np.stack([part.corner_point, part.corner_uv], axis=1)
    rows, index = np.unique(pairs, axis=0, return_inverse=True)
    mesh = trimesh.Trimesh(
        part.points[rows[:, 0]],
        index.reshape(-1, 3),
        visual=trimesh.visual.TextureVisuals(uv=part.uvs[rows[:, 1]]),
        process=False,
    )
    written = mesh.export(**options)
    return written.encode() if isinstance(written, str) else written


def by_usd(part: Part, suffix: str, folder) -> bytes:
    from pxr import Sdf, Usd, UsdGeom

    path = folder / f"lamp{suffix}"
    stage = Usd.Stage.CreateNew(str(path))
    mesh = UsdGeom.Mesh.Define(stage, "/lamp")
    mesh.GetPointsAttr().Set(part.points.tolist())
    mesh.GetFaceVertexCountsAttr().Set([3] * part.face_count)
    mesh.GetFaceVertexIndicesAttr().Set(part.corner_point.tolist())
    primvar = UsdGeom.PrimvarsAPI(mesh).CreatePrimvar(
        "st", Sdf.ValueTypeNames.TexCoord2fArray, UsdGeom.Tokens.faceVarying
    )
    primvar.Set(part.uvs.tolist())
    primvar.SetIndices(part.corner_uv.tolist())
    stage.Save()
    return path.read_bytes()


def by_fbx_text(part: Part) -> bytes:
    return fbx_file(
        mesh_text(
            points=part.points.tolist(),
            faces=part.corner_point.reshape(-1, 3).tolist(),
            uvs={"map1": (part.uvs.tolist(), part.corner_uv.tolist())},
        )
    )


WRITERS: dict[str, Callable[[Part, object], bytes]] = {
    "lamp.obj": lambda part, _: by_trimesh(part, file_type="obj", include_texture=True, digits=8),
    "lamp.glb": lambda part, _: by_trimesh(part, file_type="glb"),
    "lamp.ply": lambda part, _: by_trimesh(part, file_type="ply", encoding="binary"),
    "text.ply": lambda part, _: by_trimesh(part, file_type="ply", encoding="ascii"),
    "lamp.stl": lambda part, _: by_trimesh(part, file_type="stl"),
    "text.stl": lambda part, _: by_trimesh(part, file_type="stl_ascii"),
    "lamp.usda": lambda part, folder: by_usd(part, ".usda", folder),
    "lamp.usdc": lambda part, folder: by_usd(part, ".usdc", folder),
    "lamp.fbx": lambda part, _: by_fbx_text(part),
}
NEEDS = {"usda": "pxr", "usdc": "pxr", "fbx": "ufbx"}
WITHOUT_UVS = {"stl"}


@pytest.mark.parametrize("name", WRITERS)
def test_measures_are_the_same_in_every_format(name: str, tmp_path) -> None:
    suffix = name.rpartition(".")[2]
    library = NEEDS.get(suffix)
    if library and importlib.util.find_spec(library) is None:
        pytest.skip(f"the optional library {library} is not installed")
    part = prop()
    with IsolatedReader(memory_mb=2048, seconds=60) as reader:
        there = measures(reader.read(WRITERS[name](part, tmp_path), path=name))
    here = measures(shapes.model(part))
    assert (there.euler, there.triangles) == (here.euler, here.triangles)
    assert there.bounds == pytest.approx(here.bounds, abs=1e-5)
    assert there.area == pytest.approx(here.area, rel=1e-5)
    if suffix not in WITHOUT_UVS:
        assert there.uv_area == pytest.approx(here.uv_area, rel=1e-4)
        assert there.uv_bounds == pytest.approx(here.uv_bounds, abs=1e-6)
