"""The FBX reader against files built to the format's conventions and real files.

Each read goes through the process the reader is meant for.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator

import numpy as np
import pytest
import real_meshes
from readers.fbx_binary import binary_fbx
from readers.fbx_files import fbx_file, mesh_text
from readers.spellings import model_values
from scipy.spatial.transform import Rotation

from reviewbot.errors import MeshReadError
from reviewbot.mesh import world_points
from reviewbot.readers import known
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.textures import textures_of

needs_ufbx = pytest.mark.skipif(
    importlib.util.find_spec("ufbx") is None, reason="the optional library ufbx is not installed"
)
POINTS = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0.5, 2, 0)]
HOUSE = mesh_text(points=POINTS, faces=[[0, 1, 2, 3, 4]])


@pytest.fixture(scope="module")
def reader() -> Iterator[IsolatedReader]:
    with IsolatedReader(memory_mb=1024, seconds=60) as reader:
        yield reader


def refusal(reader: IsolatedReader, data: bytes) -> str:
    with pytest.raises(MeshReadError) as caught:
        reader.read(data, path="lamp.fbx")
    return caught.value.reason


@needs_ufbx
def test_polygons_uv_sets_materials_and_smoothing(reader: IsolatedReader) -> None:
    geometry = mesh_text(
        points=POINTS,
        faces=[[0, 1, 2, 3], [3, 2, 4]],
        uvs={
            "map1": ([(0, 0), (1, 0), (1, 1)], [0, 1, 2, 2, 2, 1, 0]),
            "light map": ([(0.5, 0.25)], [0, 0, 0, 0, -1, -1, -1]),
        },
        face_material=[1, 0],
        smoothing=[1, 0],
    )
    data = fbx_file(geometry, materials=["brass", "glass"], picture="maps/brass.png")
    model = reader.read(data, path="props/lamp.FBX")
    (part,) = model.parts
    assert part.name == "lamp"
    assert np.diff(part.face_start).tolist() == [4, 3]
    assert part.corner_point.tolist() == [0, 1, 2, 3, 3, 2, 4]
    assert part.points.tolist() == [list(map(float, point)) for point in POINTS]
    assert part.uvs[part.corner_uv].tolist()[4:] == [[1, 1], [1, 0], [0, 0]]
    (second,) = part.further_uvs
    assert second.name == "light map"
    assert second.corner_uv.tolist() == [0, 0, 0, 0, -1, -1, -1]
    assert [part.materials[k] for k in part.face_material] == ["glass", "brass"]
    assert part.face_smoothing.tolist() == [1, 0]
    pictures = {material.name: material.base_colour_file for material in model.materials}
    assert pictures == {"brass": "maps/brass.png", "glass": None}


@needs_ufbx
@pytest.mark.parametrize("packed", [True, False])
def test_the_binary_form_reads_as_text_does(reader: IsolatedReader, packed: bool) -> None:
    faces, corner = [[0, 1, 2, 3], [3, 2, 4]], [0, 1, 2, 2, 2, 1, 0]
    values = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)]
    text = fbx_file(mesh_text(points=POINTS, faces=faces, uvs={"map1": (values, corner)}))
    data = binary_fbx(
        np.array(POINTS), faces, uvs={"map1": (np.array(values), np.array(corner))}, packed=packed
    )
    models = [reader.read(one, path="lamp.fbx") for one in (text, data)]
    assert model_values(models[0]) == model_values(models[1])
    assert models[0].up_axis == models[1].up_axis == "y"
    assert models[0].metres_per_unit == models[1].metres_per_unit == 0.01


@needs_ufbx
def test_pictures_inside_a_file_come_with_it(reader: IsolatedReader) -> None:
    """A published file with one inside, named as it lay on its artist's desk."""
    (path,) = (
        p
        for p in real_meshes.assimp_models(".fbx")
        if p.parts[-2:] == ("embedded_ascii", "box.FBX")
    )
    model = reader.read(path.read_bytes(), path=path.name)
    textures = textures_of(model, {}.get, place="here", decode=reader.picture)
    assert not textures.missing
    (pixels,) = textures.pixels
    assert pixels.shape[2] == 3
    assert len(np.unique(pixels)) > 20


@needs_ufbx
@pytest.mark.parametrize(
    ("unit", "up", "metres"), [(1, "y", 0.01), (100, "z", 1.0), (2.54, "z", 0.0254)]
)
def test_units_and_axes(reader: IsolatedReader, unit: float, up: str, metres: float) -> None:
    model = reader.read(fbx_file(HOUSE, unit=unit, up=up), path="lamp.fbx")
    assert model.up_axis == up
    assert model.metres_per_unit == pytest.approx(metres)
    assert world_points(model.parts[0]).tolist() == [list(map(float, p)) for p in POINTS]


@needs_ufbx
def test_node_transforms_and_pivots(reader: IsolatedReader) -> None:
    """Translation x pivot x rotation x pivot back x scale; geometric transform innermost."""
    node = """P: "Lcl Translation", "Lcl Translation", "", "A",10,0,0
P: "Lcl Rotation", "Lcl Rotation", "", "A",0,0,90
P: "Lcl Scaling", "Lcl Scaling", "", "A",2,2,2
P: "RotationPivot", "Vector3D", "Vector", "",1,0,0
P: "GeometricTranslation", "Vector3D", "Vector", "",0,0,5
"""
    (part,) = reader.read(fbx_file(HOUSE, node=node), path="lamp.fbx").parts
    moved = np.add(POINTS, (0, 0, 5)) * 2 - (1, 0, 0)
    turned = Rotation.from_euler("z", 90, degrees=True).apply(moved)
    assert np.allclose(world_points(part), np.add(turned, (11, 0, 0)))


@needs_ufbx
def test_lone_points_and_lines_are_passed_over(reader: IsolatedReader) -> None:
    geometry = mesh_text(points=POINTS, faces=[[0, 1], [2], [0, 1, 2]])
    model = reader.read(fbx_file(geometry), path="lamp.fbx")
    assert model.parts[0].corner_point.tolist() == [0, 1, 2]
    assert "fewer than three" in model.notes[0].reason


@needs_ufbx
@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no FBX file"),
        (b"v 0 0 0\n", "no FBX file"),
        (fbx_file(mesh_text(points=POINTS, faces=[[0, 1, 9]])), "no FBX file"),
        (fbx_file(""), "shows no mesh"),
        (b"; FBX 7.4.0 project file\nObjects: {\n" * 5, "no FBX file"),
    ],
)
def test_what_is_broken_is_refused(reader: IsolatedReader, data: bytes, said: str) -> None:
    assert said in refusal(reader, data)


@needs_ufbx
@pytest.mark.slow
def test_real_files_are_read_or_refused_with_a_true_reason(reader: IsolatedReader) -> None:
    """Counts are those of the file names and of the same models kept in other formats."""
    faces = {"box.FBX": 6, "spider.fbx": 1368, "phong_cube.fbx": 6, "huesitos.fbx": 68}
    for path in real_meshes.assimp_models(".fbx"):
        if path.name == "transparentTest.fbx":  # its zero bytes were made blanks
            assert "no FBX file" in refusal(reader, path.read_bytes())
            continue
        model = reader.read(path.read_bytes(), path=path.name)
        count = sum(part.face_count for part in model.parts)
        assert count == faces.get(path.name, count), path
        if path.name.startswith("cubes_"):
            assert [part.face_count for part in model.parts][:3] == [6] * 3


def test_a_missing_library_is_named_with_what_to_install(
    reader: IsolatedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known.importlib.util, "find_spec", lambda _: None)
    assert "pip install ufbx" in refusal(reader, b"")
    infos = {info.name: info for info in known.formats_here()}
    assert not infos["FBX"].is_here
    assert infos["USD"].how_to_get == "pip install usd-core"
    assert infos["OBJ"].is_here
    assert infos["OBJ"].how_to_get == ""
