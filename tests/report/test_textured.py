"""Which base colour picture lies on which triangle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapes import cube, grid, model

from reviewbot.measure.examine import Examination, examine
from reviewbot.mesh import Material, Model, Part
from reviewbot.readers.textures import textures_of
from reviewbot.render.scene import build_scene
from reviewbot.render.texture import NAMES_NONE, NOT_THERE
from reviewbot.report.textured import textured_versions
from reviewbot.settings import Settings


def decoded(data: bytes, longest: int) -> np.ndarray:
    del longest
    return np.full((2, 2, 3), data[0], np.uint8)


def examined(of: Model, files: dict[str, bytes]) -> Examination:
    textures = textures_of(of, files.get, place="here", decode=decoded)
    return examine(of, Settings(), textures=textures)


def painted(part: Part, *materials: str) -> Part:
    """Faces take the materials in turn."""
    rows = np.arange(part.face_count, dtype=np.int32) % len(materials)
    return replace(part, materials=materials, face_material=rows)


BRASS = Material(name="brass", base_colour_file="brass.png")
GLASS = Material(name="glass", base_colour_file="glass.png")
IRON = Material(name="iron")


def numbers(examination: Examination) -> np.ndarray:
    (textured,) = textured_versions([examination], [build_scene(examination.model)])
    assert textured is not None
    return textured.of_triangle


def test_faces_of_several_materials() -> None:
    of = replace(
        model(painted(cube(name="cap"), "iron", "brass", "glass"), painted(cube(), "brass")),
        materials=(BRASS, GLASS, IRON),
    )
    found = numbers(examined(of, {"brass.png": b"b"}))
    one_cube = np.repeat([NAMES_NONE, 0, NOT_THERE] * 2, 2)  # two triangles a face
    assert found.tolist() == [*one_cube.tolist(), *[0] * 12]


def test_numbered_tiles_have_pictures_of_their_own() -> None:
    sheet = painted(grid(4, 1), "brass")
    wide = replace(sheet, uvs=sheet.uvs * [3.0, 1.0])
    tiled = replace(BRASS, base_colour_file="brass.<UDIM>.png")
    of = replace(model(wide), materials=(tiled,))
    examination = examined(of, {"brass.1001.png": b"1", "brass.1003.png": b"3"})
    scene = build_scene(of)
    middle = scene.uvs[scene.uv].mean(axis=1)[:, 0]
    expected = np.array([0, NOT_THERE, 1])[np.floor(middle).astype(int)]
    assert numbers(examination).tolist() == expected.tolist()


def test_versions_share_what_both_show_and_nothing_is_made_of_nothing() -> None:
    of = replace(model(painted(cube(), "brass")), materials=(BRASS,))
    bare = examined(of, {})
    scene = build_scene(of)
    assert textured_versions([bare, bare], [scene, scene]) == [None, None]
    same = examined(of, {"brass.png": b"b"})
    first, second, third = textured_versions([same, same, bare], [scene] * 3)
    assert first.pictures[0] is second.pictures[0]
    assert third.pictures == ()
    assert set(third.of_triangle.tolist()) == {NOT_THERE}
