"""Base colour pictures are looked up where materials say, by every format's own way of naming."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from shapes import cube, grid, model

from reviewbot.errors import MeshReadError, RevisionError
from reviewbot.mesh import Material, Model, Part
from reviewbot.readers.obj import read_obj
from reviewbot.readers.pictures import PictureRefusedError, Pixels
from reviewbot.readers.textures import Textures, textures_of


def painted(part: Part, material: str) -> Part:
    return replace(part, materials=(material,), face_material=np.zeros(part.face_count, np.int32))


def prop(*materials: Material, form: str = "obj") -> Model:
    parts = [painted(cube(name=f"part {m.name}"), m.name) for m in materials]
    return replace(model(*parts), materials=materials, format=form)


def decoded(data: bytes, longest: int) -> Pixels:
    """One pixel that tells the data and the side it was asked for."""
    if data == b"broken":
        raise PictureRefusedError("is no picture")
    return (
        np.full((1, 1, 3), len(data), np.uint8) if longest >= 512 else np.zeros((1, 1, 3), np.uint8)
    )


def looked_up(of: Model, files: Mapping[str, bytes]) -> Textures:
    return textures_of(of, files.get, place="in the repository at this commit", decode=decoded)


def test_pictures_found_missing_and_unused() -> None:
    brass = Material(name="brass", base_colour_file="maps/brass.png", named_in="lamp.mtl")
    glass = Material(name="glass", base_colour_file="glass.png")
    plain = Material(name="plain")
    unused = Material(name="unused", base_colour_file="gone.png")
    of = prop(brass, glass, plain)
    of = replace(of, materials=(*of.materials, unused))
    found = looked_up(of, {"glass.png": b"123"})
    (missing,) = found.missing
    assert (missing.file, missing.named_in, missing.material) == (
        "maps/brass.png",
        "lamp.mtl",
        "brass",
    )
    assert missing.why == "is not in the repository at this commit"
    assert missing.parts == ("part brass",)
    assert found.of == {("glass", None): 0}
    assert found.pixels[0][0, 0, 0] == 3
    assert not found.notes


@pytest.mark.parametrize(
    ("file", "why"),
    [
        ("/home/artist/brass.png", "is an absolute path"),
        ("C:\\work\\brass.png", "is an address or a path on a drive"),
        ("https://studio.example/brass.png", "is an address"),
        ("\\\\server\\maps\\brass.png", "is an address"),
    ],
)
def test_what_is_no_path_in_the_repository_is_missing_and_never_looked_up(
    file: str, why: str
) -> None:
    def nothing(path: str) -> bytes | None:
        raise AssertionError(f"{path} was looked up")

    of = prop(Material(name="brass", base_colour_file=file))
    found = textures_of(of, nothing, place="here", decode=decoded)
    assert found.missing[0].why.startswith(why)


def test_pictures_may_lie_further_up() -> None:
    of = prop(Material(name="brass", base_colour_file="..\\maps/./brass.png"))
    assert looked_up(of, {"../maps/brass.png": b"1"}).of


def test_fbx_will_do_with_a_bare_name_beside_it() -> None:
    """It mostly names a place on the artist's machine; importers look beside the file (common
    practice, no source)."""
    material = Material(name="brass", base_colour_file="D:\\art\\brass.png")
    files = {"brass.png": b"1"}
    assert looked_up(prop(material, form="fbx"), files).of
    assert looked_up(prop(material), files).missing
    assert looked_up(prop(material, form="fbx"), {}).missing


def test_pictures_inside_the_file_are_never_missing() -> None:
    inside = Material(name="brass", base_colour_file="C:\\brass.png", base_colour_data=b"12")
    found = looked_up(prop(inside), {})
    assert found.pixels[0][0, 0, 0] == 2
    assert not found.missing


def test_what_cannot_be_shown_is_said() -> None:
    def elsewhere(path: str) -> bytes | None:
        if path == "large.png":
            raise MeshReadError(path=path, line=None, reason="is a large file that is not here")
        if path == "elsewhere.png":
            raise RevisionError("this clone lacks it")
        return b"broken"

    of = prop(
        Material(name="a", base_colour_file="large.png"),
        Material(name="b", base_colour_file="broken.png"),
        Material(name="d", base_colour_file="elsewhere.png"),
        Material(name="c", base_colour_file="tiled.png", is_laid_plainly=False),
    )
    found = textures_of(of, elsewhere, place="here", decode=decoded)
    assert not found.missing
    assert not found.of
    assert found.notes == (
        "the picture 'large.png' is not shown: it is a large file that is not here",
        "the picture 'elsewhere.png' is not shown: this clone lacks it",
        "the picture 'tiled.png' is not shown: it is laid on otherwise than by the first UV set",
        "the picture 'broken.png' is not shown: it is no picture",
    )


def test_one_picture_is_decoded_once_and_many_are_kept_smaller() -> None:
    asked: list[int] = []

    def counted(data: bytes, longest: int) -> Pixels:
        asked.append(longest)
        return decoded(data, longest)

    materials = [Material(name=str(k), base_colour_file=f"{k % 5}.png") for k in range(10)]
    files = {f"{k}.png": bytes(k + 1) for k in range(5)}
    found = textures_of(prop(*materials), files.get, place="here", decode=counted)
    assert asked == [512] * 5
    assert [found.of[str(k), None] for k in range(10)] == [*range(5), *range(5)]


def test_without_a_decoder_pictures_are_only_looked_for() -> None:
    of = prop(
        Material(name="a", base_colour_file="a.png"), Material(name="b", base_colour_file="b.png")
    )
    found = textures_of(of, {"a.png": b"broken"}.get, place="here", decode=None)
    assert [one.file for one in found.missing] == ["b.png"]
    assert not found.pixels
    assert not found.notes


def test_pictures_of_numbered_tiles() -> None:
    """1001 + column + 10 row (OpenUSD, UsdUVTexture): each tile used has a file of its own."""
    sheet = painted(grid(4, 4), "brass")
    wide = replace(sheet, uvs=sheet.uvs * [2.0, 1.0] + [0.0, 1.0])
    of = replace(
        model(wide), materials=(Material(name="brass", base_colour_file="maps/brass.<UDIM>.png"),)
    )
    found = looked_up(of, {"maps/brass.1011.png": b"1"})
    assert found.of == {("brass", (0, 1)): 0}
    assert [one.file for one in found.missing] == ["maps/brass.1012.png"]


@pytest.mark.parametrize(
    ("statement", "plainly"),
    [
        ("map_Kd a.png", True),
        ("map_Kd -s 1 1 1 -o 0 0 0 a.png", True),
        ("map_Kd -s 2 2 a.png", False),
        ("map_Kd -o 0.5 a.png", False),
        ("map_Kd -blendu on -mm 0 1 a.png", True),
    ],
)
def test_material_files_may_lay_a_picture_on_otherwise(statement: str, plainly: bool) -> None:
    library = f"newmtl brass\n{statement}\n".encode()
    text = "mtllib m/lamp.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nusemtl brass\nf 1 2 3\n"
    read = read_obj(text.encode(), path="lamp.obj", siblings={"m/lamp.mtl": library}.get)
    (material,) = read.materials
    assert (material.base_colour_file, material.is_laid_plainly) == ("a.png", plainly)
    assert material.named_in == "m/lamp.mtl"
