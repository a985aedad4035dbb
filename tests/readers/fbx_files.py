"""FBX files in text, built in code.

Version 7.4 as exporters write it; from memory: a polygon's last index is written as its bitwise
complement, UnitScaleFactor counts centimetres, axes are numbered X 0, Y 1, Z 2.
"""

from __future__ import annotations

from collections.abc import Sequence

_HEAD = """; FBX 7.4.0 project file
FBXHeaderExtension:  {
    FBXHeaderVersion: 1003
    FBXVersion: 7400
}
"""
AXES = {"y": (1, 2, 0), "z": (2, 1, 0)}


def _array(name: str, values: Sequence[float]) -> str:
    return f"{name}: *{len(values)} {{ a: {','.join(f'{v:g}' for v in values)} }}\n"


def mesh_text(
    *,
    points: Sequence[Sequence[float]],
    faces: Sequence[Sequence[int]],
    uvs: dict[str, tuple[Sequence[Sequence[float]], Sequence[int]]] | None = None,
    face_material: Sequence[int] = (),
    smoothing: Sequence[int] = (),
) -> str:
    """A Geometry object; `uvs` gives each set's values and the index of every corner."""
    indices = [k for face in faces for k in (*face[:-1], ~face[-1])]
    text = 'Geometry: 10, "Geometry::lamp_mesh", "Mesh" {\n'
    text += _array("Vertices", [x for point in points for x in point])
    text += _array("PolygonVertexIndex", indices)
    for number, (name, (values, corner)) in enumerate((uvs or {}).items()):
        text += f'LayerElementUV: {number} {{\nName: "{name}"\n'
        text += 'MappingInformationType: "ByPolygonVertex"\nReferenceInformationType: '
        text += '"IndexToDirect"\n' + _array("UV", [x for uv in values for x in uv])
        text += _array("UVIndex", corner) + "}\n"
    if face_material:
        text += 'LayerElementMaterial: 0 {\nMappingInformationType: "ByPolygon"\n'
        text += 'ReferenceInformationType: "IndexToDirect"\n'
        text += _array("Materials", face_material) + "}\n"
    if smoothing:
        text += 'LayerElementSmoothing: 0 {\nMappingInformationType: "ByPolygon"\n'
        text += 'ReferenceInformationType: "Direct"\n' + _array("Smoothing", smoothing) + "}\n"
    return text + _layers(len(uvs or {}), bool(face_material), bool(smoothing)) + "}\n"


def _layers(uv_sets: int, materials: bool, smoothing: bool) -> str:
    text = ""
    for number in range(max(uv_sets, 1)):
        kinds = ["LayerElementUV"] * (number < uv_sets)
        if not number:
            kinds += ["LayerElementMaterial"] * materials + ["LayerElementSmoothing"] * smoothing
        elements = "".join(
            f'LayerElement: {{ Type: "{kind}" TypedIndex: {number} }}\n' for kind in kinds
        )
        text += f"Layer: {number} {{ Version: 100\n{elements}}}\n"
    return text


def fbx_file(
    geometry: str,
    *,
    unit: float = 1.0,
    up: str = "y",
    node: str = "",
    materials: Sequence[str] = (),
    picture: str = "",
) -> bytes:
    """A scene of one node, "lamp", showing the geometry; `node` holds its P: lines."""
    vertical, front, side = AXES[up]
    text = _HEAD + "GlobalSettings: {\nVersion: 1000\nProperties70: {\n"
    text += (
        f'P: "UpAxis", "int", "Integer", "",{vertical}\nP: "UpAxisSign", "int", "Integer", "",1\n'
    )
    text += f'P: "FrontAxis", "int", "Integer", "",{front}\n'
    text += f'P: "FrontAxisSign", "int", "Integer", "",{1 if up == "y" else -1}\n'
    text += (
        f'P: "CoordAxis", "int", "Integer", "",{side}\nP: "CoordAxisSign", "int", "Integer", "",1\n'
    )
    text += (
        f'P: "UnitScaleFactor", "double", "Number", "",{unit:g}\n}}\n}}\nObjects: {{\n{geometry}'
    )
    text += f'Model: 20, "Model::lamp", "Mesh" {{\nVersion: 232\nProperties70: {{\n{node}}}\n}}\n'
    links = ["10,20", "20,0"]
    for number, name in enumerate(materials):
        text += f'Material: {30 + number}, "Material::{name}", "" {{ ShadingModel: "phong" }}\n'
        links.append(f"{30 + number},20")
    if picture:
        text += f'Texture: 40, "Texture::map", "" {{ RelativeFilename: "{picture}" }}\n'
    text += "}\nConnections: {\n" + "".join(f'C: "OO",{link}\n' for link in links)
    if picture:
        text += 'C: "OP",40,30, "DiffuseColor"\n'
    return (text + "}\n").encode()
