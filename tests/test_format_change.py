"""One asset handed in again in another format: only what the format cannot carry is told.

Written by general-purpose libraries (trimesh for GLB, OpenUSD's own for USD) and, for OBJ and FBX,
by the tests' own writers.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapes
import trimesh
from readers.fans import fan_corners
from readers.fbx_binary import binary_fbx
from readers.spellings import Spelling, spelled
from readers.usd_files import crate

from reviewbot.checks.rules import MESH_RULES, run_rules
from reviewbot.checks.standing import with_standings
from reviewbot.checks.subject import Subject
from reviewbot.compare.comparison import compare
from reviewbot.measure.examine import Examination, examine
from reviewbot.mesh import Part
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.settings import Settings

LIBRARIES = {".fbx": "ufbx", ".usdc": "pxr"}


def lamp() -> list[Part]:
    """A ring round a ball, quads mostly, each on its half of the tile."""
    ring, ball = shapes.torus(24, 12, radius=1.6, name="ring"), shapes.sphere(24, 12, name="ball")
    up, half = np.array([0, 1.5, 0]), np.array([0.5, 0])
    return [
        replace(ring, points=ring.points + up, uvs=0.48 * ring.uvs),
        replace(ball, points=ball.points + up, uvs=0.48 * ball.uvs + half),
    ]


def cut_apart(part: Part) -> trimesh.Trimesh:
    """Triangles with a point for every pair of place and UV, as formats without corners need."""
    corner = fan_corners(part).reshape(-1)
    pairs = np.stack([part.corner_point[corner], part.corner_uv[corner]], axis=1)
    rows, index = np.unique(pairs, axis=0, return_inverse=True)
    paint = trimesh.visual.material.PBRMaterial()
    return trimesh.Trimesh(
        part.points[rows[:, 0]],
        index.reshape(-1, 3),
        visual=trimesh.visual.TextureVisuals(uv=part.uvs[rows[:, 1]], material=paint),
        process=False,
    )


def as_glb(parts: list[Part]) -> bytes:
    scene = trimesh.Scene()
    for part in parts:
        scene.add_geometry(cut_apart(part), node_name=part.name, geom_name=part.name)
    return scene.export(file_type="glb")


def as_ply(parts: list[Part]) -> bytes:
    (part,) = parts
    return cut_apart(part).export(file_type="ply")


def as_usd(parts: list[Part]) -> bytes:
    text = "#usda 1.0\n"
    for part in parts:
        uvs = part.uvs.tolist()
        text += f'def Mesh "{part.name}"\n{{\n'
        text += f"point3f[] points = {[tuple(p) for p in part.points.tolist()]}\n"
        text += f"int[] faceVertexCounts = {np.diff(part.face_start).tolist()}\n"
        text += f"int[] faceVertexIndices = {part.corner_point.tolist()}\n"
        text += f"texCoord2f[] primvars:st = {[tuple(uv) for uv in uvs]} "
        text += '(interpolation = "faceVarying")\n'
        text += f"int[] primvars:st:indices = {part.corner_uv.tolist()}\n}}\n"
    return crate(text.encode())


def as_fbx(parts: list[Part]) -> bytes:
    (part,) = parts
    faces = np.split(part.corner_point, part.face_start[1:-1])
    return binary_fbx(
        part.points, [face.tolist() for face in faces], uvs={"map1": (part.uvs, part.corner_uv)}
    )


def told(before: Examination, after: Examination) -> tuple[list[str], set[str]]:
    """Codes of changes, and of findings that are new, worse, better or fixed."""
    comparison = compare(before, after, Settings())
    found = [
        run_rules(Subject(path="lamp", examination=one, settings=Settings()), MESH_RULES)
        for one in (before, after)
    ]
    stood = with_standings(*found, before, after, comparison)
    moved = {finding.code for finding in stood if finding.standing != "same"}
    return [change.code for change in comparison.changes], moved


@pytest.mark.parametrize(
    ("suffix", "written", "changes"),
    [
        (".glb", as_glb, {"triangulated"}),
        (".usdc", as_usd, set()),
        (".fbx", as_fbx, set()),
        (".ply", as_ply, {"triangulated"}),
    ],
)
def test_another_format_is_no_other_asset(
    suffix: str, written: Callable[[list[Part]], bytes], changes: set[str]
) -> None:
    library = LIBRARIES.get(suffix)
    if library and importlib.util.find_spec(library) is None:
        pytest.skip(f"the optional library {library} is not installed")
    parts = (
        lamp() if suffix in (".glb", ".usdc") else [replace(shapes.joined(*lamp()), name="lamp")]
    )
    with IsolatedReader(memory_mb=512, seconds=60) as reader:
        before, after = (
            examine(reader.read(data, path=path), Settings())
            for data, path in (
                (spelled(parts, Spelling()), "lamp.obj"),
                (written(parts), f"lamp{suffix}"),
            )
        )
    there, moved = told(before, after)
    assert set(there) == changes
    assert len(there) == len(changes), "each is said once, not part by part"
    assert moved == set()
    back, moved = told(after, before)
    assert set(back) == ({"faces-merged"} if changes else set())
    assert moved == set()
