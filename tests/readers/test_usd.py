"""The USD reader against layers written to OpenUSD's schema documentation, files the library
itself writes, and real files. A process of its own costs a second a file, so most tests read in
this one, from sound layers and small faults; what a hostile file might do goes through the other.
"""

from __future__ import annotations

import importlib.util
import re
import struct
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import real_meshes
from readers.spellings import model_values
from readers.usd_files import crate, packaged

from reviewbot.errors import MeshReadError
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.mesh import Model, world_points
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.references import Siblings, no_siblings
from reviewbot.readers.usd import read_usd

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("pxr") is None, reason="the optional library usd-core is not installed"
)
SHEET = """point3f[] points = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0.5, 2, 0)]
int[] faceVertexCounts = [4, 3]
int[] faceVertexIndices = [0, 1, 2, 3, 3, 2, 4]
"""


@pytest.fixture(scope="module")
def reader() -> Iterator[IsolatedReader]:
    with IsolatedReader(memory_mb=2048, seconds=60) as reader:
        yield reader


def layer(body: str = SHEET, head: str = "", wrapped: bool = True) -> bytes:
    mesh = f'def Mesh "lamp"\n{{\n{body}\n}}' if wrapped else body
    return f"#usda 1.0\n(\n{head}\n)\n{mesh}\n".encode()


def read(data: bytes, path: str = "props/lamp.usda", siblings: Siblings = no_siblings) -> Model:
    return read_usd(data, path=path, siblings=siblings, seal=lambda: None)


def refusal(data: bytes, path: str = "lamp.usda") -> MeshReadError:
    with pytest.raises(MeshReadError) as caught:
        read(data, path)
    return caught.value


def test_polygons_as_drawn() -> None:
    (part,) = read(layer()).parts
    assert part.name == "lamp"
    assert np.diff(part.face_start).tolist() == [4, 3]
    assert part.corner_point.tolist() == [0, 1, 2, 3, 3, 2, 4]


@pytest.mark.parametrize(
    ("head", "up", "metres"),
    [
        ("", "y", 0.01),
        ('upAxis = "Z"\nmetersPerUnit = 1', "z", 1),
        ('upAxis = "Y"\nmetersPerUnit = 0.0254', "y", 0.0254),
    ],
)
def test_up_axis_and_metres_per_unit(head: str, up: str, metres: float) -> None:
    """UsdGeom's fallbacks are Y and 0.01."""
    model = read(layer(head=head))
    assert (model.up_axis, model.metres_per_unit) == (up, metres)


@pytest.mark.parametrize(
    ("interpolation", "values", "indices", "expected"),
    [
        ("faceVarying", 7, None, [0, 1, 2, 3, 4, 5, 6]),
        ("faceVarying", 2, [0, 1, 0, 1, 1, 1, 0], [0, 1, 0, 1, 1, 1, 0]),
        ("vertex", 5, None, [0, 1, 2, 3, 3, 2, 4]),
        ("vertex", 2, [1, 0, 1, 0, 1], [1, 0, 1, 0, 0, 1, 1]),
        ("uniform", 2, None, [0, 0, 0, 0, 1, 1, 1]),
        ("constant", 1, None, [0, 0, 0, 0, 0, 0, 0]),
        ("faceVarying", 3, None, [0, 1, 2, -1, -1, -1, -1]),
        ("faceVarying", 2, [0, 1, 9, -1], [0, 1, -1, -1, -1, -1, -1]),
    ],
)
def test_interpolation_of_uvs(
    interpolation: str,
    values: int,
    indices: list[int] | None,
    expected: list[int],
) -> None:
    table = ", ".join(f"({k / 8}, 0.5)" for k in range(values))
    body = f'texCoord2f[] primvars:st = [{table}] (interpolation = "{interpolation}")\n'
    if indices is not None:
        body += f"int[] primvars:st:indices = {indices}\n"
    (part,) = read(layer(SHEET + body)).parts
    assert part.corner_uv.tolist() == expected
    assert part.uvs.tolist() == [[k / 8, 0.5] for k in range(values)]


def test_uv_sets_by_name_and_normals() -> None:
    body = """texCoord2f[] primvars:bake = [(0, 0)] (interpolation = "constant")
float2[] primvars:st = [(1, 0)] (interpolation = "constant")
float2[] primvars:wind = [(1, 0)] (interpolation = "constant")
normal3f[] normals = [(0, 0, 1), (0, 1, 0)] (interpolation = "uniform")
"""
    (part,) = read(layer(SHEET + body)).parts
    assert part.uvs.tolist() == [[1, 0]]
    assert [uv_set.name for uv_set in part.further_uvs] == ["bake"]
    assert part.normals[part.corner_normal].tolist() == [[0, 0, 1]] * 4 + [[0, 1, 0]] * 3


def test_left_handed_faces_are_turned_with_their_uvs() -> None:
    uvs = ", ".join(f"({k}, 0)" for k in range(7))
    body = SHEET + f'texCoord2f[] primvars:st = [{uvs}] (interpolation = "faceVarying")\n'
    right = read(layer(body)).parts[0]
    left = read(layer(body + 'uniform token orientation = "leftHanded"\n')).parts[0]
    areas = [newell_vectors(p.points, p.corner_point, p.face_start) for p in (right, left)]
    assert np.allclose(areas[0], -areas[1])
    of_point = [dict(zip(p.corner_point[:4], p.corner_uv[:4], strict=True)) for p in (right, left)]
    assert of_point[0] == of_point[1]


def test_subsets_and_preview_surfaces() -> None:
    text = """def Mesh "lamp" (prepend apiSchemas = ["MaterialBindingAPI"])
{
    rel material:binding = </mats/brass>
SHEET    def GeomSubset "pane" (prepend apiSchemas = ["MaterialBindingAPI"])
    {
        uniform token elementType = "face"
        uniform token familyName = "materialBind"
        int[] indices = [1, 77]
        rel material:binding = </mats/glass>
    }
}
def Scope "mats"
{
    def Material "brass"
    {
        token outputs:surface.connect = </mats/brass/surface.outputs:surface>
        def Shader "surface"
        {
            uniform token info:id = "UsdPreviewSurface"
            color3f inputs:diffuseColor.connect = </mats/brass/map.outputs:rgb>
            token outputs:surface
        }
        def Shader "map"
        {
            uniform token info:id = "UsdUVTexture"
            asset inputs:file = @maps/brass.png@
            float3 outputs:rgb
        }
    }
    def Material "glass"
    {
    }
}
""".replace("SHEET", SHEET)
    model = read(layer(text, wrapped=False))
    (part,) = model.parts
    assert [part.materials[k] for k in part.face_material] == ["brass", "glass"]
    pictures = {material.name: material.base_colour_file for material in model.materials}
    assert pictures == {"brass": "maps/brass.png", "glass": None}


PAINTED = (
    SHEET
    + """rel material:binding = </brass>
texCoord2f[] primvars:st = [(0, 0), (1, 0), (1, 1), (0, 1), (0.5, 2)] (interpolation = "vertex")
"""
)
BRASS = """def Material "brass"
{
    token outputs:surface.connect = </brass/surface.outputs:surface>
    def Shader "surface"
    {
        uniform token info:id = "UsdPreviewSurface"
        color3f inputs:diffuseColor.connect = </brass/map.outputs:rgb>
        token outputs:surface
    }
    def Shader "map"
    {
        uniform token info:id = "UsdUVTexture"
        asset inputs:file = @../maps/brass.png@
        float2 inputs:st.connect = </brass/place.outputs:result>
        float3 outputs:rgb
    }
    def Shader "place"
    {
        uniform token info:id = "UsdPrimvarReader_float2"
        string inputs:varname = "st"
        float2 outputs:result
    }
}
"""


def test_pictures_are_named_from_the_layer_that_names_them(reader: IsolatedReader) -> None:
    """OpenUSD anchors a relative asset path at the layer it stands in."""
    files = {"looks/brass.usda": layer(BRASS, wrapped=False)}
    root = layer(PAINTED, head="subLayers = [@looks/brass.usda@]")
    for model in (
        read(root, siblings=files.get),
        reader.read(root, path="lamp.usda", siblings=files.get),
    ):
        (material,) = model.materials
        assert material.base_colour_file == "maps/brass.png"
        assert material.base_colour_data is None
        assert material.is_laid_plainly


def test_pictures_of_a_package_come_with_it(reader: IsolatedReader) -> None:
    text = layer(PAINTED, head="subLayers = [@looks/brass.usda@]")
    files = {"lamp.usda": text, "looks/brass.usda": layer(BRASS, wrapped=False)}
    package = packaged({**files, "maps/brass.png": b"a picture"})
    (material,) = reader.read(package, path="lamp.usdz").materials
    assert material.base_colour_data == b"a picture"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('varname = "st"', 'varname = "light map"'),
        ('"UsdPrimvarReader_float2"', '"UsdTransform2d"'),
    ],
)
def test_pictures_may_be_laid_on_otherwise(old: str, new: str) -> None:
    text = f'def Mesh "lamp"\n{{\n{PAINTED}\n}}\n{BRASS.replace(old, new)}'
    (material,) = read(layer(text, wrapped=False)).materials
    assert material.base_colour_file == "../maps/brass.png"
    assert not material.is_laid_plainly


def test_transforms_multiply_from_the_root() -> None:
    text = f"""def Xform "stand"
{{
    double3 xformOp:translate = (10, 0, 0)
    uniform token[] xformOpOrder = ["xformOp:translate"]
    def Mesh "lamp"
    {{
        {SHEET}
        float xformOp:rotateZ = 90
        float3 xformOp:scale = (2, 2, 2)
        uniform token[] xformOpOrder = ["xformOp:rotateZ", "xformOp:scale"]
    }}
}}"""
    (part,) = read(layer(text, wrapped=False)).parts
    assert np.allclose(world_points(part)[:3], [(10, 0, 0), (10, 2, 0), (8, 2, 0)])


def test_what_is_no_polygon_mesh_is_noted() -> None:
    text = f"""def Sphere "ball"
{{
}}
def Mesh "guide"
{{
    {SHEET}
    uniform token purpose = "guide"
}}
def Mesh "lamp"
{{
    {SHEET}
    token visibility = "invisible"
}}"""
    model = read(layer(text, wrapped=False))
    assert [part.name for part in model.parts] == ["lamp"]
    notes = " ".join(note.reason for note in model.notes)
    assert all(word in notes for word in ("Sphere", "guides", "hidden"))


# Layers that refer to layers.


def test_sublayers_and_references_come_from_beside_the_mesh() -> None:
    files = {
        "parts/glass.usda": layer().replace(b'"lamp"', b'"glass"'),
        "parts/deep.usda": layer(
            'def "hook" (references = @hook.usda@</lamp>)\n{\n}', wrapped=False
        ),
        "parts/hook.usda": layer(),
    }
    root = layer(
        'def "foot" (references = @./parts/hook.usda@</lamp>)\n{\n}',
        head="subLayers = [@parts/glass.usda@, @parts/deep.usda@]",
        wrapped=False,
    )
    model = read(root, siblings=files.get)
    assert {part.name for part in model.parts} == {"glass", "hook", "foot"}
    assert not model.notes


@pytest.mark.parametrize("loop", [b"@lamp.usda@", b"@other.usda@"])
def test_layers_in_a_circle_end(loop: bytes) -> None:
    root = layer(head=f"subLayers = [{loop.decode()}]")
    other = layer(head="subLayers = [@lamp.usda@]").replace(b'"lamp"', b'"other"')
    files = {"lamp.usda": root, "other.usda": other}
    assert "lamp" in [p.name for p in read(root, "lamp.usda", siblings=files.get).parts]


@pytest.mark.parametrize(
    "target",
    ["/etc/passwd", "../lamp.usda", "http://x/a.usda", "missing.usda", "file:///etc/hosts"],
)
def test_layers_elsewhere_are_cut_off_and_noted(target: str) -> None:
    root = layer(head=f"subLayers = [@{target}@]")
    model = read(root, siblings=lambda _: None)
    assert [part.name for part in model.parts] == ["lamp"]
    assert target in model.notes[0].reason


def test_value_clips_open_no_file(reader: IsolatedReader, tmp_path: Path) -> None:
    """Clips name layers outside composition: the closed process cannot open them."""
    clip = tmp_path / "clip.usda"
    clip.write_bytes(layer().replace(b"(1, 1, 0)", b"(9, 9, 9)"))
    body = f"""def Mesh "lamp" (
    clips = {{
        dictionary default = {{
            asset[] assetPaths = [@{clip}@]
            asset manifestAssetPath = @{clip}@
            string primPath = "/lamp"
            double2[] active = [(0, 0)]
            double2[] times = [(0, 0)]
        }}
    }}
)
{{
    {SHEET}
}}"""
    (part,) = reader.read(layer(body, wrapped=False), path="lamp.usda").parts
    assert part.points[2].tolist() == [1, 1, 0]


# usdz.


def test_packages() -> None:
    files = {
        "lamp.usda": layer(head="subLayers = [@parts/a.usda@]"),
        "parts/a.usda": layer().replace(b'"lamp"', b'"glass"'),
    }
    asked: list[str] = []
    model = read(packaged(files), "lamp.usdz", siblings=asked.append)
    assert {part.name for part in model.parts} == {"lamp", "glass"}
    assert not asked


def test_a_nameless_file_in_a_package_is_passed_over() -> None:
    """Found by spoiling files: `zipfile` asks for the last letter of every name."""
    data = packaged({"~": b"", "lamp.usda": layer()})
    assert data.count(b"~") == 2
    (part,) = read(data.replace(b"~", b"\0"), "lamp.usdz").parts
    assert part.name == "lamp"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (packaged({"a.usda": layer()}, zipfile.ZIP_DEFLATED), "compressed"),
        (packaged({"a.png": b""}), "without a layer"),
        (packaged({"a.usda": layer()})[:-30], "broken usdz"),
        (b"PK\x03\x04" + bytes(100), "broken usdz"),
    ],
)
def test_unsound_packages_are_refused(data: bytes, said: str) -> None:
    assert said in refusal(data, "lamp.usdz").reason


# Broken files, and the binary form.


@pytest.mark.parametrize(
    ("data", "line", "said"),
    [
        (b"", None, "does not begin"),
        (b"#usda 1.0\n\xff", None, "no UTF-8"),
        (b'#usda 1.0\ndef Mesh "a"\n{\n    int[] x = [1, }\n}\n', 4, "no sound USD"),
        (b"PXR-USDC" + bytes(200), None, "no sound USD"),
        (layer('def Sphere "a"\n{\n}', wrapped=False), None, "Sphere"),
        (layer(SHEET.replace("3, 2, 4]", "3, 2, 5]")), None, "names point 5, but there are 5"),
        (layer(SHEET.replace("3, 2, 4]", "3, 2, -1]")), None, "names point -1"),
        (layer(SHEET.replace("[4, 3]", "[4, 4]")), None, "counts 8 corners, but names 7"),
        (layer(SHEET.replace("[4, 3]", "[-4, 11]")), None, "counts 7 corners"),
    ],
)
def test_what_is_broken_is_refused(data: bytes, line: int | None, said: str) -> None:
    error = refusal(data)
    assert said in error.reason
    assert error.line == line


def test_the_binary_form_reads_alike() -> None:
    binary = crate(layer())
    assert binary.startswith(b"PXR-USDC")
    plain = read(layer())
    for path in ("lamp.usdc", "lamp.usd", "lamp.usda"):
        assert model_values(read(binary, path)) == model_values(plain)


def test_an_array_that_claims_more_than_the_file_holds_is_refused() -> None:
    """The library looks into arrays of the binary form only when they are asked for."""
    binary = crate(layer())
    start = np.array([(0, 0, 0), (1, 0, 0)], dtype="<f4").tobytes()
    at = binary.index(struct.pack("<Q", 5) + start)
    broken = binary[:at] + struct.pack("<Q", 1 << 46) + binary[at + 8 :]
    error = refusal(broken, "lamp.usdc")
    assert error.reason == "is no sound USD layer"


def test_names_of_odd_bytes_are_refused() -> None:
    """Found by spoiling files: the library does not check what else the binary form names."""
    binary = crate(layer(head="subLayers = [@quayside.usda@]"))
    assert b"quayside.usda" in binary
    broken = binary.replace(b"quayside.usda", b"quay\xffide.usda")
    assert "no UTF-8" in refusal(broken, "lamp.usdc").reason


def test_what_the_library_says_is_told_without_its_own_names() -> None:
    error = refusal(layer(SHEET.replace("(1, 0, 0)", "(1 0, 0)")))
    assert error.reason.startswith("is no sound USD layer")
    assert "pxr" not in error.reason


def test_what_ends_the_library_costs_one_file(reader: IsolatedReader) -> None:
    """Found by spoiling files: the binary form's list of sublayers names strings by number, and
    the library gives up on a number that is not there."""
    binary = crate(layer(head="subLayers = [@a.usda@]"))
    listed = re.search(re.escape(struct.pack("<Q", 1)) + b"[\\1-\\x20]\\0\\0\\0", binary)
    assert listed is not None
    broken = binary[: listed.end() - 4] + struct.pack("<I", 2**31) + binary[listed.end() :]
    with pytest.raises(MeshReadError, match=r"crashed on it|no sound USD") as caught:
        reader.read(broken, path="lamp.usdc", siblings=lambda _: layer())
    assert caught.value.path == "lamp.usdc"
    assert reader.read(binary, path="lamp.usdc", siblings=lambda _: layer()).parts


def test_a_package_reads_alike_in_its_own_process(reader: IsolatedReader) -> None:
    files = {"lamp.usda": layer(head="subLayers = [@a.usda@, @../b.usda@]"), "a.usda": layer()}
    apart = reader.read(packaged(files), path="lamp.usdz", siblings=lambda _: layer())
    here = read(packaged(files), "lamp.usdz")
    assert model_values(apart) == model_values(here)
    assert apart.notes == here.notes
    assert "'../b.usda' leads out" in apart.notes[0].reason


@pytest.mark.slow
def test_real_files_are_read_or_refused_with_a_true_reason() -> None:
    """Counted against the library's own reading, in a process without limits."""
    from pxr import Usd, UsdGeom

    for path in real_meshes.newton_usds():
        stage = Usd.Stage.Open(str(path))
        faces = [
            len(UsdGeom.Mesh(prim).GetFaceVertexCountsAttr().Get() or [])
            for prim in stage.Traverse(Usd.TraverseInstanceProxies())
            if prim.IsA(UsdGeom.Mesh)
            and UsdGeom.Imageable(prim).ComputePurpose() in ("default", "render")
        ]

        def beside(name: str, folder: Path = path.parent) -> bytes | None:
            return (folder / name).read_bytes() if (folder / name).is_file() else None

        if not faces:
            assert "shows no mesh" in refusal(path.read_bytes(), path.name).reason
            continue
        model = read(path.read_bytes(), path.name, beside)
        assert [part.face_count for part in model.parts] == faces, path
