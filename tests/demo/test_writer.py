"""OBJ text, read back by a plain line reader."""

from dataclasses import replace

import numpy as np
import pytest
from plain_obj import read_plain_obj
from shapes import cube, torus

from reviewbot.demo.writer import Colour, ObjStyle, mtl_bytes, obj_bytes, shuffled
from reviewbot.mesh import Part

STYLE = ObjStyle(heading="A test")


def with_material(part: Part, name: str) -> Part:
    return replace(
        part,
        materials=(name,),
        face_material=np.zeros(part.face_count),
        face_smoothing=np.ones(part.face_count),
    )


def test_what_is_written_is_read_back() -> None:
    parts = [with_material(cube(), "iron"), with_material(torus(8, 6), "brass")]
    found = read_plain_obj(obj_bytes(parts, materials_file="x.mtl", style=STYLE))
    assert {name: part.material for name, part in found.parts.items()} == {
        "cube": "iron",
        "torus": "brass",
    }
    for part in parts:
        np.testing.assert_allclose(
            found.quads(part.name).reshape(-1, 3), part.points[part.corner_point], atol=1e-6
        )
        np.testing.assert_allclose(
            found.quad_uvs(part.name).reshape(-1, 2), part.uvs[part.corner_uv], atol=1e-6
        )


@pytest.mark.parametrize(("digits", "line_end"), [(3, "\n"), (9, "\r\n")])
def test_exporters_differ_in_digits_and_line_ends(digits: int, line_end: str) -> None:
    style = ObjStyle(heading="A test", digits=digits, line_end=line_end)
    text = obj_bytes([with_material(cube(), "iron")], materials_file="x.mtl", style=style).decode()
    lines = text.split(line_end)
    assert lines[0] == "# A test"
    assert lines[3] == f"v {-0.5:.{digits}f} {-0.5:.{digits}f} {-0.5:.{digits}f}"
    assert lines[-1] == ""
    assert ("\r" in text) == (line_end == "\r\n")


def test_a_part_without_uvs_has_plain_corners() -> None:
    part = with_material(cube(), "iron")
    bare = replace(part, name="bare", uvs=np.empty((0, 2)), corner_uv=np.empty(0))
    text = obj_bytes([bare, part], materials_file="x.mtl", style=STYLE).decode()
    assert "\nf 2 6 8 4\n" in text
    assert "\nf 10/1 14/2 16/3 12/4\n" in text


def test_a_materials_file_names_each_colour() -> None:
    text = mtl_bytes([Colour(name="iron", red=0.1, green=0.2, blue=1)], heading="A test")
    assert text == b"# A test\nnewmtl iron\nKd 0.100 0.200 1.000\n"


@pytest.mark.parametrize("part", [cube(), torus(9, 5)], ids=lambda part: part.name)
def test_another_numbering_is_the_same_model(part: Part) -> None:
    before, after = with_material(part, "iron"), shuffled(with_material(part, "iron"))
    assert not np.array_equal(before.corner_point, after.corner_point)
    assert len(after.uvs) == len(after.corner_uv)

    def faces(one: Part) -> set[tuple[tuple[float, ...], ...]]:
        """Corners with their places, from the lowest corner round."""
        rows = np.column_stack([one.points[one.corner_point], one.uvs[one.corner_uv]])
        found = set()
        for quad in np.round(rows, 9).reshape(-1, 4, 5).tolist():
            k = quad.index(min(quad))
            found.add(tuple(tuple(corner) for corner in quad[k:] + quad[:k]))
        return found

    assert faces(before) == faces(after)
