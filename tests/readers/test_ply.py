"""The PLY reader against files by other libraries, real files and the format's rules.

Source of the rules: Greg Turk, "The PLY Polygon File Format", Stanford 1994, from memory.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import real_meshes
import shapes
import trimesh
import vtk
from hypothesis import given, settings
from hypothesis import strategies as st
from readers.fans import fan_points
from vtk.util.numpy_support import numpy_to_vtk

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model, Part
from reviewbot.readers.ply import read_ply

SQUARE = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
FORMATS = ["ascii", "binary_little_endian", "binary_big_endian"]
CODES = {"char": "b", "uchar": "B", "short": "h", "ushort": "H", "int": "i", "uint": "I"}
CODES |= {"float": "f", "double": "d"}


def read(data: bytes) -> Model:
    return read_ply(data, path="props/lamp.ply")


def refusal(data: bytes) -> MeshReadError:
    with pytest.raises(MeshReadError) as caught:
        read(data)
    return caught.value


def ply(form: str, header: str, rows: list[list[tuple[str, float]]]) -> bytes:
    """A file from rows of (type, value), in text or bytes."""
    head = f"ply\nformat {form} 1.0\n{header}end_header\n".encode()
    if form == "ascii":
        return head + "".join(" ".join(f"{v:g}" for _, v in row) + "\n" for row in rows).encode()
    order = "<" if "little" in form else ">"
    return head + b"".join(struct.pack(order + CODES[kind], v) for row in rows for kind, v in row)


VERTEX = "element vertex {}\nproperty float x\nproperty float y\nproperty float z\n"


def polygons(form: str, faces: list[list[int]], points: int = 9, count: str = "uchar") -> bytes:
    header = VERTEX.format(points)
    header += f"element face {len(faces)}\nproperty list {count} int vertex_indices\n"
    rows = [[("float", float(k)), ("float", k * k), ("float", 0.5)] for k in range(points)]
    rows += [[(count, len(face)), *(("int", k) for k in face)] for face in faces]
    return ply(form, header, rows)


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize(
    "faces",
    [
        [[0, 1, 2], [2, 1, 3]],
        [[0, 1, 2, 3]] * 3,
        [[0, 1, 2], [0, 1, 2, 3], [4, 5, 6, 7, 8], [0, 8, 1]],
        [],
    ],
    ids=["triangles", "quads", "mixed", "none"],
)
def test_polygons_in_every_format(form: str, faces: list[list[int]]) -> None:
    (part,) = read(polygons(form, faces)).parts
    assert part.name == "lamp"
    assert [
        f.tolist() for f in np.split(part.corner_point, part.face_start[1:-1]) if f.size
    ] == faces
    assert part.points[3].tolist() == [3, 9, 0.5]


@given(
    st.lists(st.lists(st.integers(0, 8), min_size=3, max_size=7), max_size=12),
    st.sampled_from(FORMATS),
    st.sampled_from(["uchar", "int", "ushort"]),
)
@settings(deadline=None)
def test_any_mix_of_polygons(faces: list[list[int]], form: str, count: str) -> None:
    (part,) = read(polygons(form, faces, count=count)).parts
    assert part.corner_point.tolist() == [k for face in faces for k in face]
    assert np.diff(part.face_start).tolist() == [len(face) for face in faces]


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("names", ["st", "uv"])
def test_uvs_and_normals_of_points(form: str, names: str) -> None:
    header = VERTEX.format(4) + "property float nx\nproperty float ny\nproperty float nz\n"
    header += f"property float {names[0]}\nproperty float {names[1]}\nproperty uchar red\n"
    header += "element face 1\nproperty list uchar uint vertex_index\n"
    rows = [[("float", v) for v in (*p, 0, 0, 1, *p[:2])] + [("uchar", 200)] for p in SQUARE]
    rows.append([("uchar", 4), ("uint", 3), ("uint", 2), ("uint", 1), ("uint", 0)])
    model = read(ply(form, header, rows))
    (part,) = model.parts
    assert part.uvs[part.corner_uv].tolist() == [[0, 1], [1, 1], [1, 0], [0, 0]]
    assert part.normals[part.corner_normal].tolist() == [[0, 0, 1]] * 4
    assert [note.reason for note in model.notes] == ["properties of 'vertex' are passed over: red"]


@pytest.mark.parametrize("uvs", [True, False])
def test_points_are_split_by_a_seam_or_by_their_artist(uvs: bool) -> None:
    """Where UVs belong to points, a seam takes two of them; elsewhere two points are two."""
    header = VERTEX.format(6) + ("property float s\nproperty float t\n" if uvs else "")
    header += "element face 2\nproperty list uchar uint vertex_indices\n"
    rows = [[("float", v) for v in SQUARE[k]] for k in (0, 1, 2, 0, 2, 3)]
    if uvs:
        rows = [[*row, ("float", k / 8), ("float", 0.5)] for k, row in enumerate(rows)]
    rows += [[("uchar", 3), *(("uint", k) for k in face)] for face in ((0, 1, 2), (3, 4, 5))]
    model = read(ply("ascii", header, rows))
    (part,) = model.parts
    assert part.points[part.corner_point].tolist() == [
        list(map(float, SQUARE[k])) for k in (0, 1, 2, 0, 2, 3)
    ]
    assert len(part.points) == (4 if uvs else 6)
    if uvs:
        assert part.uvs[part.corner_uv, 0].tolist() == [k / 8 for k in range(6)]
        assert "taken as one" in model.notes[0].reason
    else:
        assert not model.notes


@pytest.mark.parametrize("form", FORMATS)
def test_uvs_of_corners_and_numbered_textures(form: str) -> None:
    header = "comment TextureFile brass 1.png\ncomment TextureFile glass.png\n" + VERTEX.format(4)
    header += "element face 2\nproperty list uchar int vertex_indices\n"
    header += "property list uchar float texcoord\nproperty int texnumber\n"
    rows = [[("float", v) for v in point] for point in SQUARE]
    uvs = [0, 0, 0.5, 0, 0.5, 0.5]
    rows.append([("uchar", 3), *[("int", k) for k in (0, 1, 2)], ("uchar", 6)])
    rows[-1] += [*[("float", v) for v in uvs], ("int", 1)]
    rows.append([("uchar", 3), *[("int", k) for k in (0, 2, 3)], ("uchar", 0), ("int", 7)])
    model = read(ply(form, header, rows))
    (part,) = model.parts
    assert part.uvs[part.corner_uv[:3]].reshape(-1).tolist() == uvs
    assert part.corner_uv[3:].tolist() == [-1, -1, -1]
    assert part.face_material.tolist() == [1, -1]
    assert [m.base_colour_file for m in model.materials] == ["brass 1.png", "glass.png"]


@pytest.mark.parametrize("form", FORMATS)
def test_other_elements_and_lists_are_stepped_over(form: str) -> None:
    header = "element edge 2\nproperty int a\nproperty int b\n" + VERTEX.format(4)
    header += "property list uchar short marks\nelement face 1\nproperty int group\n"
    header += "property list uchar int vertex_indices\nproperty double weight\n"
    rows = [[("int", 1), ("int", 2)]] * 2
    for k, point in enumerate(SQUARE):
        rows.append([("float", v) for v in point] + [("uchar", k)] + [("short", -k)] * k)
    rows.append([("int", 7), ("uchar", 4), *[("int", k) for k in range(4)], ("double", 0.5)])
    model = read(ply(form, header, rows))
    assert model.parts[0].corner_point.tolist() == [0, 1, 2, 3]
    assert [note.reason for note in model.notes] == [
        "elements 'edge' are passed over",
        "properties of 'vertex' are passed over: marks",
        "properties of 'face' are passed over: group, weight",
    ]


def test_line_ends_of_all_systems_in_headers() -> None:
    plain = polygons("ascii", [[0, 1, 2]])
    for newline in (b"\r\n", b"\r"):
        head, body = plain.split(b"end_header\n")
        data = head.replace(b"\n", newline) + b"end_header" + newline + body
        assert np.array_equal(read(data).parts[0].points, read(plain).parts[0].points)


def test_not_a_number_and_infinity_are_kept() -> None:
    data = polygons("ascii", [[0, 1, 2]]).replace(b"\n1 1 ", b"\nnan -inf ", 1)
    points = read(data).parts[0].points
    assert np.isnan(points[1, 0])
    assert points[1, 1] == -np.inf


def test_what_stands_behind_the_end_is_noted() -> None:
    for form in FORMATS:
        assert not read(polygons(form, [[0, 1, 2]])).notes
        assert "behind the last" in read(polygons(form, [[0, 1, 2]]) + b"7 \n").notes[0].reason


# Other writers.


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_trimesh_writes_what_is_read(encoding: str) -> None:
    part = shapes.torus(12, 8)
    triangles = fan_points(part)
    mesh = trimesh.Trimesh(
        triangles.reshape(-1, 3), np.arange(triangles.size // 3).reshape(-1, 3), process=False
    )
    (back,) = read(mesh.export(file_type="ply", encoding=encoding)).parts
    assert np.allclose(back.points[back.corner_point].reshape(-1, 3, 3), triangles, atol=1e-6)


@pytest.mark.parametrize("binary", [False, True])
def test_vtk_writes_what_is_read(binary: bool, tmp_path: Path) -> None:
    """vtkPLYWriter keeps polygons and writes UVs of points."""
    part = shapes.grid(3, 2)
    path = tmp_path / "grid.ply"
    writer = vtk.vtkPLYWriter()
    writer.SetInputData(vtk_polygons(part))
    writer.SetFileName(str(path))
    writer.SetFileTypeToBinary() if binary else writer.SetFileTypeToASCII()
    writer.SetTextureCoordinatesNameToTextureUV()
    writer.Write()
    (back,) = read(path.read_bytes()).parts
    assert np.array_equal(back.corner_point, part.corner_point)
    assert np.diff(back.face_start).tolist() == [4] * 6
    assert np.allclose(back.points, part.points, atol=1e-6)
    assert np.allclose(back.uvs[back.corner_uv], part.uvs[part.corner_uv], atol=1e-6)


def vtk_polygons(part: Part) -> vtk.vtkPolyData:
    """The part with UVs by point; needs as many UVs as points."""
    data, points, cells = vtk.vtkPolyData(), vtk.vtkPoints(), vtk.vtkCellArray()
    points.SetData(numpy_to_vtk(part.points, deep=True))
    for face in np.split(part.corner_point, part.face_start[1:-1]):
        cells.InsertNextCell(len(face), face.tolist())
    data.SetPoints(points)
    data.SetPolys(cells)
    uvs = numpy_to_vtk(part.uvs.astype(np.float32), deep=True)
    uvs.SetName("uv")
    data.GetPointData().SetTCoords(uvs)
    return data


# Broken files.


@pytest.mark.parametrize(
    ("data", "line", "said"),
    [
        (b"", None, "does not begin"),
        (b"plyx\n", None, "does not begin"),
        (b"ply\nformat ascii 1.0\n", None, "no end_header"),
        (b"ply\nend_header\n", None, "no format"),
        (b"ply\nformat ascii 2 1.0\nend_header\n", 2, "none of PLY's three"),
        (b"ply\nformat text 1.0\nend_header\n", 2, "none of PLY's three"),
        (b"ply\nformat ascii 1.0\nproperty float x\nend_header\n", 3, "no element or property"),
        (b"ply\nformat ascii 1.0\nelement vertex -1\nend_header\n", 3, "no element or property"),
        (b"ply\nformat ascii 1.0\nelement v 99999999999\nend_header\n", 3, "more entries"),
        (b"ply\nformat ascii 1.0\nelement v 1\nproperty real x\nend_header\n", 4, "no element"),
        (
            b"ply\nformat ascii 1.0\nelement v 1\nproperty list float int x\nend_header\n",
            4,
            "no el",
        ),
        (b"ply\nformat ascii 1.0\nend_header\n", None, "no points"),
        (polygons("ascii", [[0, 1, 2]])[:-8], None, "ends before its 1 entries of 'face'"),
        (polygons("binary_big_endian", [[0, 1, 2]])[:-1], None, "ends before its 1 entries"),
        (polygons("binary_big_endian", [[0, 1, 2], [0, 1]])[:-1], None, "ends before its 2"),
        (polygons("ascii", [[0, 1, 9]]), None, "face 0 names point 9, but there are 9"),
        (polygons("ascii", [[0, 1, 2, 3], [0, 1, -1]]), None, "face 1 names point -1"),
        (polygons("ascii", [[0, 1, 2], [0, 1]]), None, "face 1 has 2 corners"),
        (polygons("ascii", [[0, 1, 2]]).replace(b"\n4 16", b"\n4 x16"), 14, "'x16' is no number"),
        (polygons("ascii", [[0, 1, 2]]).replace(b"\n3 0 1", b"\n-3 0 1"), None, "is negative"),
        (polygons("ascii", [[0, 1, 2]]).replace(b"\n3 0 1", b"\nnan 0 1"), None, "ends before"),
        (polygons("ascii", [[0, 1, 2]]).replace(b"\n3 0 1", b"\n1e300 0 1"), None, "ends before"),
    ],
)
def test_what_is_broken_is_refused(data: bytes, line: int | None, said: str) -> None:
    error = refusal(data)
    assert said in error.reason
    assert error.line == line


def test_promises_are_checked_before_memory_is_taken() -> None:
    header = VERTEX.format(2_000_000_000) + "element face 0\nproperty list uchar int vertex_index\n"
    assert "ends before" in refusal(ply("binary_little_endian", header, [])).reason


# Real files.

REFUSED = {
    "empty.ply": "does not begin",
    "pond.0.ply": "ends before its 70051 entries of 'vertex'",  # 69 bytes short
    "issue623.ply": "ends before its 24 entries of 'vertex'",  # its face element is not declared
}
FACES = {"cube.ply": 6, "cube_binary.ply": 12, "Wuson.ply": 3732, "sphere840.ply": 840}
NOT_BY_TRIMESH = ("custom_props", "elements-binary")  # lists of points; a byte behind the end


@pytest.mark.parametrize(
    "files",
    [real_meshes.openmesh_plys, lambda: real_meshes.assimp_models(".ply")],
    ids=["openmesh", "assimp"],
)
def test_real_files_are_read_or_refused_with_a_true_reason(files) -> None:
    for path in files():
        if path.name in REFUSED:
            assert REFUSED[path.name] in refusal(path.read_bytes()).reason
            continue
        (part,) = read(path.read_bytes()).parts
        assert part.face_count == FACES.get(path.name, part.face_count)
        if part.face_count and not any(name in path.name for name in NOT_BY_TRIMESH):
            theirs = trimesh.load_mesh(path, process=False)
            ours = fan_points(part)
            assert len(ours) == len(theirs.faces), path
            assert np.isclose(trimesh.triangles.area(ours).sum(), theirs.area), path
