"""The OBJ reader against the published description of the format.

Source of the rules: "Object Files (.obj)", appendix B1 of the Advanced Visualizer manual,
Wavefront Technologies. Examples marked so are its own, their numbers from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
import real_meshes
import shapes
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from readers.fans import fan_points
from readers.spellings import SPELLINGS, Spelling, model_values, spelled

from reviewbot.errors import MeshReadError
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.mesh import Model, Part
from reviewbot.readers.obj import read_obj

TRIANGLE = "v 0 0 0\nv 1 0 0\nv 0 1 0\n"


def read(text: str | bytes, **options) -> Model:
    return read_obj(text.encode() if isinstance(text, str) else text, path="a/lamp.obj", **options)


def reasons(model: Model) -> dict[int | None, str]:
    return {note.line: note.reason for note in model.notes}


def error_of(text: str | bytes) -> MeshReadError:
    with pytest.raises(MeshReadError) as caught:
        read(text)
    return caught.value


def enclosed_volume(part: Part) -> float:
    """By the divergence theorem over the faces' area vectors; right for flat faces."""
    areas = newell_vectors(part.points, part.corner_point, part.face_start)
    return float(np.sum(part.points[part.corner_point[part.face_start[:-1]]] * areas)) / 3


# The description's own examples.

CUBE = """v 0.000000 2.000000 2.000000
v 0.000000 0.000000 2.000000
v 2.000000 0.000000 2.000000
v 2.000000 2.000000 2.000000
v 0.000000 2.000000 0.000000
v 0.000000 0.000000 0.000000
v 2.000000 0.000000 0.000000
v 2.000000 2.000000 0.000000
"""
CUBE_FACES = "f 1 2 3 4\nf 8 7 6 5\nf 4 3 7 8\nf 5 1 4 8\nf 5 6 2 1\nf 2 6 7 3\n"


def test_the_descriptions_cube() -> None:
    (part,) = read(CUBE + CUBE_FACES + "# 6 elements").parts
    assert np.diff(part.face_start).tolist() == [4] * 6
    assert enclosed_volume(part) == 8
    assert part.points[part.corner_point[:4]].tolist() == [
        [0, 2, 2],
        [0, 0, 2],
        [2, 0, 2],
        [2, 2, 2],
    ]


def test_the_descriptions_cube_with_negative_references() -> None:
    points = CUBE.splitlines()
    faces = [[int(word) - 1 for word in line.split()[1:]] for line in CUBE_FACES.splitlines()]
    text = "\n".join("\n".join(points[k] for k in face) + "\nf -4 -3 -2 -1" for face in faces)
    (part,) = read(text).parts
    (plain,) = read(CUBE + CUBE_FACES).parts
    assert np.array_equal(part.points[part.corner_point], plain.points[plain.corner_point])


def test_the_descriptions_groups_of_a_cube() -> None:
    names = ["front cube", "back cube", "right cube", "top cube", "left cube", "bottom cube"]
    faces = CUBE_FACES.splitlines()
    text = CUBE + "\n".join(f"g {name}\n{face}" for name, face in zip(names, faces, strict=True))
    assert [part.name for part in read(text).parts] == names


def test_the_descriptions_cube_with_materials() -> None:
    names = ["red", "blue", "green", "gold", "orange", "purple"]
    lines = [f"usemtl {n}\n{f}" for n, f in zip(names, CUBE_FACES.splitlines(), strict=True)]
    model = read("mtllib master.mtl\n" + CUBE + "\n".join(lines))
    (part,) = model.parts
    assert part.materials == tuple(names)
    assert part.face_material.tolist() == [0, 1, 2, 3, 4, 5]
    assert [material.name for material in model.materials] == names
    assert "master.mtl" in reasons(model)[1]


def test_the_descriptions_square_with_uvs_and_normals() -> None:
    text = """v 0 2 0\nv 0 0 0\nv 2 0 0\nv 2 2 0
vt 0 1 0\nvt 0 0 0\nvt 1 0 0\nvt 1 1 0
vn 0 0 1\nvn 0 0 1\nvn 0 0 1\nvn 0 0 1
f 1/1/1 2/2/2 3/3/3 4/4/4"""
    (part,) = read(text).parts
    assert part.uvs[part.corner_uv].tolist() == [[0, 1], [0, 0], [1, 0], [1, 1]]
    assert part.normals[part.corner_normal].tolist() == [[0, 0, 1]] * 4


def test_the_descriptions_smoothing_groups() -> None:
    (part,) = read(TRIANGLE + "s 1\nf 1 2 3\ns off\nf 1 2 3\ns 0\nf 1 2 3\ns 20\nf 1 2 3").parts
    assert part.face_smoothing.tolist() == [1, 0, 0, 20]


def test_faces_above_the_first_smoothing_statement_are_off_and_none_says_nothing() -> None:
    (part,) = read(TRIANGLE + "f 1 2 3\ns 2\nf 1 2 3").parts
    assert part.face_smoothing.tolist() == [0, 2]
    assert read(TRIANGLE + "f 1 2 3").parts[0].face_smoothing is None


def test_smoothing_groups_written_as_32_bits_stay_apart() -> None:
    (part,) = read(TRIANGLE + "s 4294967295\nf 1 2 3\ns 2147483648\nf 1 2 3").parts
    assert part.face_smoothing.tolist() == [-1, -(2**31)]


# Corner forms.


@pytest.mark.parametrize(
    ("corners", "uv", "normal"),
    [
        ("1 2 3", [-1, -1, -1], [-1, -1, -1]),
        ("1/1 2/2 3/3", [0, 1, 2], [-1, -1, -1]),
        ("1//1 2//1 3//1", [-1, -1, -1], [0, 0, 0]),
        ("1/1/1 2/2/1 3/3/1", [0, 1, 2], [0, 0, 0]),
        ("1/3 2 3//1", [0, -1, -1], [-1, -1, 0]),
        ("1/1/ 2/2/ 3/3/", [0, 1, 2], [-1, -1, -1]),
        ("1/ 2// 3", [-1, -1, -1], [-1, -1, -1]),
        ("-3/-3/-1 -2/-2/-1 -1/-1/-1", [0, 1, 2], [0, 0, 0]),
        ("+1/+1 +2/+2 +3/+3", [0, 1, 2], [-1, -1, -1]),
        ("00000000001 2 3", [-1, -1, -1], [-1, -1, -1]),
    ],
)
def test_corner_forms(corners: str, uv: list[int], normal: list[int]) -> None:
    (part,) = read(f"{TRIANGLE}vt 0 0\nvt 1 0\nvt 0 1\nvn 0 0 1\nf {corners}").parts
    assert part.corner_point.tolist() == [0, 1, 2]
    assert part.corner_uv.tolist() == uv
    assert part.corner_normal.tolist() == normal


def test_corner_forms_may_differ_from_face_to_face() -> None:
    text = (
        f"{TRIANGLE}vt 0 0\nvn 0 0 1\nf 1/1/1 2/1/1 3/1/1\nf 1 2 3\nf 1//1 2//1 3//1\nf 1/1 2/1 3/1"
    )
    (part,) = read(text).parts
    assert part.corner_uv.tolist() == [0, 0, 0, -1, -1, -1, -1, -1, -1, 0, 0, 0]
    assert part.corner_normal.tolist() == [0, 0, 0, -1, -1, -1, 0, 0, 0, -1, -1, -1]


def test_a_face_may_name_points_below_it() -> None:
    assert read("f 1 2 3\n" + TRIANGLE).parts[0].corner_point.tolist() == [0, 1, 2]


def test_the_oldest_name_of_faces_is_read() -> None:
    assert read(TRIANGLE + "fo 1 2 3").parts[0].face_count == 1


# Numbers.


NUMBERS = """0 -0 1 +1 1. .5 -.5 +.5 1e3 1E3 1e-3 -1.5e+2 0.1 123456.654321 12345678.12345678
0.30000000000000004 9007199254740993 99999999.99999999 0.000000000000000000001 1e-400 1e400
3.4028234663852886e38 2.2250738585072014e-308 inf -inf Infinity nan NaN"""


@pytest.mark.parametrize("word", NUMBERS.split())
def test_numbers_are_what_python_reads(word: str) -> None:
    (part,) = read(f"v {word} 1 -2.5\nv 0 {word} 0\n").parts
    expected = np.array([[float(word), 1, -2.5], [0, float(word), 0]])
    assert np.array_equal(part.points, expected, equal_nan=True)
    assert np.array_equal(np.signbit(part.points), np.signbit(expected))


@pytest.mark.parametrize(
    ("word", "value"), [("1.#INF", np.inf), ("-1.#INF00", -np.inf), ("1.#QNAN", np.nan)]
)
def test_older_exporters_spellings_of_no_number(word: str, value: float) -> None:
    (part,) = read(f"v {word} 0 0").parts
    assert np.array_equal(part.points[0, 0], value, equal_nan=True)


@given(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=30), st.integers(0, 9))
def test_short_decimals_round_as_python_does(values: list[float], digits: int) -> None:
    values = values[: len(values) // 3 * 3]
    words = [f"{value:.{digits}f}" for value in values]
    text = "".join(f"v {' '.join(words[k : k + 3])}\n" for k in range(0, len(words), 3))
    assert read(text).parts[0].points.reshape(-1).tolist() == [float(word) for word in words]


def test_one_number_a_uv_lies_on_v_0() -> None:
    (part,) = read(TRIANGLE + "vt 0.25\nf 1/1 2/1 3/1").parts
    assert part.uvs.tolist() == [[0.25, 0]]


# What is passed over is said.


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("v 0 0 0 0.5", "weights"),
        ("v 0 0 0 1 0 0", "colours"),
        ("v 0 0 0 1 1 0 0", "colours"),
        ("v 0 0 0 1 2 3 4 5 6", "numbers behind points"),
        ("vt 0 0 0.5", "third"),
        ("vt 0 0 0 7", "behind UVs"),
        ("vn 0 0 1 7", "behind normals"),
        ("l 1 2", "line elements"),
        ("p 1", "point elements"),
        ("vp 0.1 0.2", "free-form"),
        ("cstype bezier", "free-form"),
        ("curv 0 1 1 2 3", "free-form"),
        ("lod 3", "display"),
        ("csh rm -rf .", "never run"),
        ("call other.obj", "call"),
        ("wibble 1 2", "'wibble'"),
        ("s several", "smoothing"),
    ],
)
def test_what_a_model_cannot_keep_is_noted_with_its_line(line: str, said: str) -> None:
    model = read(f"# first\n{TRIANGLE}{line}\n{line}\nf 1 2 3\n")
    assert model.parts[0].face_count == 1
    assert list(reasons(model)) == [5]
    assert said in reasons(model)[5]


@pytest.mark.parametrize("line", ["v 0 0 0 1", "v 0 0 0 1.0", "vt 0 0 0", "# s wibble", ""])
def test_what_says_nothing_is_not_noted(line: str) -> None:
    assert not read(f"{TRIANGLE}{line}\nf 1 2 3\n").notes


# Parts.

SQUARES = "".join(f"v {x} {y} {z}\n" for z in range(4) for x, y in [(0, 0), (1, 0), (1, 1), (0, 1)])


def names_and_faces(text: str) -> dict[str, int]:
    return {part.name: part.face_count for part in read(text).parts}


def test_two_objects_with_faces_are_the_parts() -> None:
    text = (
        SQUARES + "o glass\ng pane\nf 1 2 3 4\no frame\nf 5 6 7 8\no glass\nf 9 10 11 12\no hook\n"
    )
    assert names_and_faces(text) == {"glass": 2, "frame": 1, "hook": 0}
    assert "groups" in reasons(read(text))[18]


def test_groups_are_the_parts_where_one_object_holds_all() -> None:
    text = SQUARES + "o lamp\ng glass\nf 1 2 3 4\ng frame\nf 5 6 7 8\ng glass\nf 9 10 11 12\n"
    assert names_and_faces(text) == {"glass": 2, "frame": 1}


def test_one_object_names_the_one_part() -> None:
    assert names_and_faces(SQUARES + "f 1 2 3 4\no lamp\nf 5 6 7 8\n") == {"lamp": 2}


def test_the_file_names_the_one_part_without_names() -> None:
    assert names_and_faces(SQUARES + "f 1 2 3 4\n") == {"lamp": 1}


def test_an_object_left_empty_beside_a_full_one_is_seen() -> None:
    assert names_and_faces(SQUARES + "o a\nf 1 2 3 4\no b\n") == {"a": 1, "b": 0}


@pytest.mark.parametrize("default", ["g default", "g", "g off"])
def test_the_default_group_is_no_name(default: str) -> None:
    assert names_and_faces(f"{default}\n{SQUARES}g frame\nf 1 2 3 4\n") == {"frame": 1}
    assert names_and_faces(f"{SQUARES}g frame\nf 1 2 3 4\n{default}\nf 5 6 7 8\n") == {
        "default": 1,
        "frame": 1,
    }
    assert names_and_faces(f"{SQUARES}{default}\nf 1 2 3 4\n") == {"lamp": 1}


def test_faces_above_the_first_object_form_a_part_of_the_files_name() -> None:
    text = SQUARES + "f 1 2 3 4\no a\nf 5 6 7 8\no b\nf 9 10 11 12\n"
    assert names_and_faces(text) == {"lamp": 1, "a": 1, "b": 1}
    text = SQUARES + "f 1 2 3 4\no lamp\nf 5 6 7 8\no b\nf 9 10 11 12\n"
    assert names_and_faces(text) == {"lamp": 2, "b": 1}


def test_a_face_in_two_groups_is_in_both_whatever_their_order() -> None:
    text = SQUARES + "g upper frame\nf 1 2 3 4\ng frame upper\nf 5 6 7 8\ng upper\nf 9 10 11 12\n"
    assert names_and_faces(text) == {"upper frame": 2, "upper": 1}


def test_a_part_holds_only_what_its_faces_use_and_its_loose_points() -> None:
    text = "vt 0 0\nvt 1 1\no a\n" + TRIANGLE + "v 9 9 9\nf 1/2 2/2 3/2\no b\nv 8 8 8\nf 2 1 3\n"
    a, b = read(text).parts
    assert a.points.tolist() == [[0, 0, 0], [1, 0, 0], [0, 1, 0], [9, 9, 9]]
    assert a.uvs.tolist() == [[1, 1]]
    assert b.points.tolist() == [[0, 0, 0], [1, 0, 0], [0, 1, 0], [8, 8, 8]]
    assert b.corner_point.tolist() == [1, 0, 2]
    assert not len(b.uvs)


def test_loose_points_above_all_names_go_to_the_first_name() -> None:
    a, b = read("v 7 7 7\n" + SQUARES + "o a\nf 2 3 4 5\no b\nf 6 7 8 9\n").parts
    assert [7, 7, 7] in a.points.tolist()
    assert len(b.points) == 4


def test_points_alone_are_a_part() -> None:
    (part,) = read(TRIANGLE).parts
    assert (part.name, len(part.points), part.face_count) == ("lamp", 3, 0)


# Names.


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        (b"lamp.001", "lamp.001"),
        ("Sturmlaterne groß".encode(), "Sturmlaterne groß"),
        ("Sturmlaterne groß".encode("latin-1"), "Sturmlaterne groß"),
        (b"two   blanks", "two blanks"),
        (b"lamp # the lamp", "lamp"),
        (b"lamp#1", "lamp#1"),
        (b"bell\x07", "bell\N{REPLACEMENT CHARACTER}"),
        ("turn\N{RIGHT-TO-LEFT OVERRIDE}ed".encode(), "turn\N{REPLACEMENT CHARACTER}ed"),
        (b"\x81\x8d", "\N{REPLACEMENT CHARACTER}" * 2),
    ],
)
def test_names_are_printable_text(raw: bytes, name: str) -> None:
    text = b"o " + raw + b"\n" + TRIANGLE.encode() + b"usemtl " + raw + b"\nf 1 2 3\n"
    (part,) = read(text).parts
    assert part.name == name
    assert part.materials == (name,)


def test_a_material_statement_without_a_name_ends_the_material() -> None:
    (part,) = read(TRIANGLE + "usemtl a\nf 1 2 3\nusemtl\nf 1 2 3\n").parts
    assert part.face_material.tolist() == [0, -1]


# Layout.


def test_utf_16_is_read_as_text() -> None:
    text = "o groß\n" + TRIANGLE + "f 1 2 3\n"
    for encoding in ("utf-16", "utf-16-le", "utf-16-be"):
        mark = b"" if encoding == "utf-16" else "\ufeff".encode(encoding)
        assert read(mark + text.encode(encoding)).parts[0].name == "groß"


def test_a_comment_ending_in_a_backslash_hides_no_line() -> None:
    (part,) = read("# kept in C:\\lamps\\\nv 5 5 5\nv 1 1 1 # C:\\\n" + TRIANGLE).parts
    assert len(part.points) == 5


def test_a_line_longer_than_a_chunk(monkeypatch: pytest.MonkeyPatch) -> None:
    around = 200_000
    ring = "".join(f"v {k} 0 0\n" for k in range(around))
    (part,) = read(ring + "f " + " ".join(str(k + 1) for k in range(around))).parts
    assert np.array_equal(part.corner_point, np.arange(around))


# Broken files.


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (TRIANGLE + "f 1 2 4", 4, "names point 4, but there are 3"),
        (TRIANGLE + "f 1 2 3\n\nf 1/1 2/1 3/1", 6, "names UV 1, but there are 0"),
        (TRIANGLE + "f 1//1 2//1 3//1", 4, "names normal 1, but there are 0"),
        (TRIANGLE + "f 1 2 -4", 4, "names point -4, but there are 3 above it"),
        (TRIANGLE + "f 0 1 2", 4, "number 0"),
        (TRIANGLE + "f 1 2 99999999999999999999", 4, "names point 2147483647"),
        (TRIANGLE + "f 1 2 9999999999999999999999999", 4, "no corner"),
        (TRIANGLE + "f 1 2 -99999999999999999999", 4, "no corner"),
        (TRIANGLE + "f 1 2", 4, "3 corners or more, not 2"),
        (TRIANGLE + "f", 4, "3 corners or more, not 0"),
        (TRIANGLE + "f 1 2 3.0", 4, "'3.0' is no corner"),
        (TRIANGLE + "f 1 2 3.", 4, "'3.' is no corner"),
        (TRIANGLE + "f 1 2 . 3", 4, "'.' is no corner"),
        (TRIANGLE + "f 1 2 x", 4, "'x' is no corner"),
        (TRIANGLE + "f 1/2/3/4 2 3", 4, "'1/2/3/4' is no corner"),
        (TRIANGLE + "f /1 2 3", 4, "'/1' is no corner"),
        (TRIANGLE + "f 1///2 2 3", 4, "'1///2' is no corner"),
        (TRIANGLE + "f 1//2/3 2 3", 4, "'1//2/3' is no corner"),
        (TRIANGLE + "f 1 /2 3 2", 4, "'/2' is no corner"),
        (TRIANGLE + "f 1 2 3 \\\n 3 \\\n q", 6, "'q' is no corner"),
        ("v 1 2", 1, "v needs 3 numbers or more, not 2"),
        ("v 1 2 3\r\nv 1 2 x\r\n", 2, "'x' is no number"),
        ("v 1 2 3\rv 1 2 3\rv 1 2 x\r", 3, "'x' is no number"),
        ("v 1,5 2 3", 1, "'1,5' is no number"),
        ("v 1/2 2 3", 1, "'1/2' is no number"),
        ("v 1.2.3 2 3", 1, "'1.2.3' is no number"),
        ("v 1..2 2 3", 1, "'1..2' is no number"),
        ("v 1.-2 2 3", 1, "'1.-2' is no number"),
        ("v - 2 3", 1, "'-' is no number"),
        ("v 1_000 2 3", 1, "'1_000' is no number"),
        ("v 0x10 2 3", 1, "'0x10' is no number"),
        ("v 3.1+e2 2 3", 1, "'3.1+e2' is no number"),
        (TRIANGLE + "vn 0 1", 4, "vn needs 3"),
        (TRIANGLE + "vt", 4, "vt needs 1"),
        (TRIANGLE + "1 2 3", 4, "'1' cannot begin"),
        (TRIANGLE + "\x01f 1 2 3x", 4, "'3x' is no corner"),
        (b"v 1 2 3\nv \x00 2 3\n", 2, "zero bytes"),
        (b"\xff\xfev\x00 ", None, "UTF-16"),
        ("", None, "no points"),
        ("o lamp\ng glass\n", None, "no points"),
    ],
)
def test_what_is_broken_is_refused_with_line_and_reason(
    text: str | bytes, line: int | None, said: str
) -> None:
    error = error_of(text)
    assert error.line == line
    assert said in error.reason
    assert error.path == "a/lamp.obj"


def test_the_line_is_found_deep_in_a_large_file() -> None:
    lines = ["# lamp", *(f"v {k} {k % 7} 0.5" for k in range(60_000))]
    lines += [f"f {k} {k + 1} {k + 2}" for k in range(1, 50_000)]
    lines[77_777] = "f 1 2 60001"
    assert error_of("\n".join(lines)).line == 77_778
    lines[77_777] = "f 1 2 3e4"
    assert error_of("\r\n".join(lines)).line == 77_778
    lines[30_000] = "v 1 2"
    assert error_of("\n".join(lines)).line == 30_001


# Material files.


def test_base_colour_pictures_come_from_the_material_file() -> None:
    materials = (
        b"# lamp\nnewmtl brass\r\nKd 1 1 1\r\nmap_Kd -s 2 2 -clamp on maps\\brass 1.png\r\n"
        b"newmtl glass\nmap_Kd glass.png\nnewmtl spare\n"
    )
    files = {"mats/lamp a.mtl": materials}
    text = "mtllib mats/lamp a.mtl\n" + TRIANGLE + "usemtl glass\nf 1 2 3\nusemtl paint\nf 1 2 3\n"
    model = read(text, siblings=files.get)
    assert {m.name: m.base_colour_file for m in model.materials} == {
        "glass": "glass.png",
        "paint": None,
        "brass": "maps\\brass 1.png",
        "spare": None,
    }
    assert not model.notes


def test_several_material_files_on_one_line() -> None:
    files = {"a.mtl": b"newmtl a", "b.mtl": b"newmtl b"}
    model = read("mtllib a.mtl b.mtl c.mtl\n" + TRIANGLE, siblings=files.get)
    assert [material.name for material in model.materials] == ["a", "b"]
    assert list(reasons(model).values()) == [
        "the material file 'c.mtl' is not in the repository beside the mesh"
    ]


@pytest.mark.parametrize(
    "name",
    ["../a.mtl", "/etc/passwd", "C:\\a.mtl", "http://x/a.mtl", "\\\\host\\a.mtl", "a/../../b"],
)
def test_material_files_elsewhere_are_never_asked_for(name: str) -> None:
    asked: list[str] = []
    model = read(f"mtllib {name}\n" + TRIANGLE, siblings=asked.append)
    assert not asked
    assert name in reasons(model)[1]


# The same mesh however it is written.


def lamp_parts() -> list[Part]:
    base, globe = shapes.cube(name="base plate"), shapes.sphere(5, 4, name="globe")
    rng = np.random.default_rng(5)
    return [
        Part(
            name=base.name,
            points=np.concatenate([base.points, [(9.25, -0.0, 1e-7)]]),
            corner_point=base.corner_point,
            face_start=base.face_start,
            uvs=base.uvs,
            corner_uv=base.corner_uv,
            materials=("brass", "glass"),
            face_material=[0, 0, 1, 1, 0, 1],
            face_smoothing=[1, 1, 0, 0, 2, 2],
            normals=rng.normal(size=(24, 3)),
            corner_normal=rng.permutation(24),
        ),
        Part(
            name=globe.name,
            points=globe.points * 1.0123456789,
            corner_point=globe.corner_point,
            face_start=globe.face_start,
            uvs=globe.uvs,
            corner_uv=np.where(np.arange(len(globe.corner_uv)) % 5 == 0, -1, globe.corner_uv),
            materials=("glass",),
            face_material=np.zeros(globe.face_count),
            face_smoothing=np.ones(globe.face_count),
        ),
    ]


@given(SPELLINGS, st.sampled_from("og"))
@settings(max_examples=150, deadline=None)
def test_harmless_spellings_give_the_same_model(spelling: Spelling, named_by: str) -> None:
    parts = lamp_parts()
    model = read(spelled(parts, spelling, named_by=named_by))
    assert not model.notes
    assert model_values(model) == model_values(shapes.model(*parts))


@given(SPELLINGS)
@settings(max_examples=20, deadline=None)
def test_chunks_show_nowhere(spelling: Spelling) -> None:
    text = spelled(lamp_parts(), spelling)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("reviewbot.readers.obj_records.CHUNK_BYTES", 200)
        small = read(text)
    assert model_values(small) == model_values(read(text))


# Real files.

BROKEN = {
    "malformed.obj": "number 0",
    "malformed2.obj": "3 corners",
    "empty.obj": "no points",
    "number_formats.obj": "'3.1+e2' is no number",
}


@pytest.mark.parametrize(
    "files",
    [
        real_meshes.myosuite_objs,
        real_meshes.openmesh_objs,
        real_meshes.robosuite_objs,
        real_meshes.compas_objs,
        real_meshes.pipeworks_objs,
        lambda: real_meshes.assimp_models(".obj"),
    ],
    ids=["myosuite", "openmesh", "robosuite", "compas", "pipeworks", "assimp"],
)
def test_real_files_are_read_whole_or_refused_with_a_true_reason(files) -> None:
    for path in files():
        data = path.read_bytes()
        if path.name in BROKEN:
            assert BROKEN[path.name] in error_of(data).reason
            continue
        model = read(data)
        lines = data.replace(b"\0", b"").split(b"\n")
        faces = sum(line.lstrip().startswith((b"f ", b"f\t")) for line in lines)
        assert sum(part.face_count for part in model.parts) == faces, path


@pytest.mark.parametrize("files", [real_meshes.myosuite_objs, real_meshes.pipeworks_objs])
def test_real_files_agree_with_trimesh(files) -> None:
    """trimesh 5 fans polygons from their first corner and drops what no face uses."""
    for path in files():
        ours = read(path.read_bytes()).parts
        fans = np.concatenate([fan_points(part) for part in ours])
        theirs = trimesh.load_mesh(path, process=False)
        assert len(fans) == len(theirs.faces), path
        areas = trimesh.triangles.area(fans)
        assert np.isclose(areas.sum(), theirs.area, rtol=1e-9), path
        assert np.allclose(fans.reshape(-1, 3).min(axis=0), theirs.bounds[0]), path
        assert np.allclose(fans.reshape(-1, 3).max(axis=0), theirs.bounds[1]), path
