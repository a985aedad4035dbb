"""The STL reader against files by other libraries, real files and the format's rules.

Source of the rules: "StereoLithography Interface Specification", 3D Systems 1988, from memory.
"""

from __future__ import annotations

import struct

import numpy as np
import pytest
import real_meshes
import shapes
import trimesh
from readers.fans import fan_points

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers import stl
from reviewbot.readers.stl import read_stl

FACET = """facet normal 0 0 1
  outer loop
    vertex 0 0 0
    vertex 1e0 0 0
    vertex 0 {} 0
  endloop
endfacet
"""


def read(data: bytes | str) -> Model:
    return read_stl(data.encode() if isinstance(data, str) else data, path="props/lamp.stl")


def refusal(data: bytes | str) -> MeshReadError:
    with pytest.raises(MeshReadError) as caught:
        read(data)
    return caught.value


def binary(triangles: np.ndarray, *, count: int | None = None, attribute: int = 0) -> bytes:
    count = len(triangles) if count is None else count
    records = [
        struct.pack("<12fH", 0, 0, 1, *triangle.reshape(-1), attribute) for triangle in triangles
    ]
    return b"solid but bytes".ljust(80) + struct.pack("<I", count) + b"".join(records)


def corners(model: Model) -> np.ndarray:
    return np.concatenate([part.points[part.corner_point] for part in model.parts]).reshape(
        -1, 3, 3
    )


def test_text_and_bytes_agree_and_points_in_one_place_are_one() -> None:
    triangles = fan_points(shapes.cube()).astype(np.float32).astype(float)
    mesh = trimesh.Trimesh(triangles.reshape(-1, 3), np.arange(36).reshape(-1, 3), process=False)
    for data in (
        binary(triangles),
        mesh.export(file_type="stl"),
        mesh.export(file_type="stl_ascii").encode(),
    ):
        model = read(data)
        assert np.allclose(corners(model), triangles)
        assert len(model.parts[0].points) == 8


def test_solids_are_parts() -> None:
    text = f"solid glass # 1\n{FACET.format(1)}endsolid glass\nsolid\n{FACET.format(2)}end solid\n"
    text += "SOLID empty\nENDSOLID empty\n"
    model = read(text.upper().replace("SOLID GLASS", "solid glass"))
    assert [(p.name, p.face_count) for p in model.parts] == [
        ("glass # 1", 1),
        ("lamp", 1),
        ("EMPTY", 0),
    ]
    assert corners(model)[:, 2, 1].tolist() == [1, 2]


def test_a_file_larger_than_a_chunk(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "solid a\n" + "".join(FACET.format(k) for k in range(60)) + "endsolid a\n"
    monkeypatch.setattr(stl, "CHUNK_BYTES", 300)
    assert corners(read(text))[:, 2, 1].tolist() == list(range(60))


def test_what_is_left_out_is_noted() -> None:
    triangles = fan_points(shapes.cube())
    assert "attributes" in read(binary(triangles, attribute=3)).notes[0].reason
    assert "behind the last" in read(binary(triangles) + b"more").notes[0].reason
    assert "not closed" in read("solid a\n" + FACET.format(1)).notes[0].reason
    assert not read(binary(triangles)).notes


def test_not_a_number_is_kept() -> None:
    assert np.isnan(corners(read("solid a\n" + FACET.format("nan") + "endsolid"))[0, 2, 1])


@pytest.mark.parametrize(
    ("data", "line", "said"),
    [
        (b"", None, "too short"),
        (b"solid", None, "no triangles"),
        (b"solida\nfacet", 1, "does not begin with a solid"),
        (b"solid\x01a\nfacet", 2, "not whole"),
        ("solid a\nendsolid a\n", None, "no triangles"),
        (binary(np.zeros((0, 3, 3))), None, "no triangles"),
        (binary(np.zeros((2, 3, 3)), count=3), None, "ends after 2 of 3 triangles"),
        (binary(np.zeros((2, 3, 3)), count=2**32 - 1), None, "ends after 2 of 4294967295"),
        ("solid a\n" + FACET.format("1.x") + "endsolid a\n", 6, "'1.x' is no number"),
        ("solid a\n" + FACET.format(1) + "facet normal 0 0 1\nendsolid\n", 10, "not whole"),
        ("solid a\n" + FACET.format(1).replace("loop", "lop", 1) + "endsolid\n", 3, "'loop' is"),
        ("solid a\n" + FACET.format("1 2") + "endsolid\n", 6, "'endloop' is missing"),
        ("solid a\n" + FACET.format(1) + "endsolid a\nvertex\n", 9, "outside all solids"),
    ],
)
def test_what_is_broken_is_refused(data: bytes | str, line: int | None, said: str) -> None:
    error = refusal(data)
    assert said in error.reason
    assert error.line == line


NOT_BY_TRIMESH = "cube1.stl"  # its solid is not closed


@pytest.mark.parametrize(
    "files",
    [
        lambda: real_meshes.assimp_models(".stl"),
        lambda: real_meshes.package_files(real_meshes.OPENMESH, ".stl"),
        lambda: real_meshes.package_files(real_meshes.MYOSUITE, ".stl"),
    ],
    ids=["assimp", "openmesh", "myosuite"],
)
def test_real_files_agree_with_trimesh(files) -> None:
    for path in files():
        ours = corners(read(path.read_bytes()))
        if path.name == NOT_BY_TRIMESH:
            assert len(ours) == path.read_bytes().count(b"endfacet")
            continue
        theirs = trimesh.load_mesh(path, process=False)
        assert len(ours) == len(theirs.faces), path
        assert np.isclose(trimesh.triangles.area(ours).sum(), theirs.area, rtol=1e-5), path
