"""One mesh of a million quads in every format: this project beside other libraries that read it.

Run by hand: python tests/benchmarks/bench_formats.py [QUADS [KIND...]]   (1000000, all of them)
Each reading is a fresh process: processor seconds from bytes on the disk to a mesh in memory,
without imports, and the peak memory of the largest process. This project reads within its usual
limits. Formats that hold triangles only get two for every quad.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from assets import bumpy_torus, torus_faces
from bench_reading import ISOLATED, READERS, measured
from readers.fbx_binary import binary_fbx
from readers.fbx_files import fbx_file, mesh_text
from readers.gltf_files import UINT, GltfFile

TRIMESH = ("import trimesh", "trimesh.load(path, process=False)")
UFBX = {"ufbx, not into arrays": ("import ufbx", "ufbx.load_file(path)")}
OTHERS = {
    ".obj": {name: code for name, code in READERS.items() if "reviewbot" not in name},
    ".glb": {"trimesh": TRIMESH},
    ".ply": {
        "trimesh": TRIMESH,
        "vtk": ("import vtk; r = vtk.vtkPLYReader(); r.SetFileName(path)", "r.Update()"),
    },
    ".stl": {
        "trimesh": TRIMESH,
        "vtk": ("import vtk; r = vtk.vtkSTLReader(); r.SetFileName(path)", "r.Update()"),
    },
    ".fbx": UFBX,
    "text.fbx": UFBX,
    ".usdc": {
        "usd-core, arrays alone": (
            "from pxr import Usd, UsdGeom; import numpy as np",
            "stage = Usd.Stage.Open(path)\n"
            "for a in stage.GetPrimAtPath('/lamp').GetAttributes(): np.array(a.Get())",
        )
    },
}


class Mesh:
    """Quads with UVs, and the same as triangles on one entry a point and UV."""

    def __init__(self, quads: int) -> None:
        across = int(np.sqrt(quads / 2))
        around = quads // across
        self.points, _, self.uvs = bumpy_torus(around, across, centre=(0, 0, 0), seed=1)
        self.faces, self.uv_faces = torus_faces(around, across)
        self.point_of_uv = np.empty(len(self.uvs), dtype=np.int64)
        self.point_of_uv[self.uv_faces] = self.faces
        self.triangles = self.uv_faces[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)


def write_obj(mesh: Mesh, path: Path) -> None:
    corners = np.stack([mesh.faces, mesh.uv_faces], axis=-1).reshape(-1, 8) + 1
    with path.open("w") as file:
        np.savetxt(file, mesh.points, fmt="v %.6f %.6f %.6f")
        np.savetxt(file, mesh.uvs, fmt="vt %.6f %.6f")
        np.savetxt(file, corners, fmt="f %d/%d %d/%d %d/%d %d/%d")


def write_glb(mesh: Mesh, path: Path) -> None:
    file = GltfFile()
    position = file.add_accessor(mesh.points[mesh.point_of_uv])
    uv = file.add_accessor(mesh.uvs * [1, -1] + [0, 1])
    indices = file.add_accessor(mesh.triangles.reshape(-1), UINT)
    attributes = {"POSITION": position, "TEXCOORD_0": uv}
    file.add_mesh([{"attributes": attributes, "indices": indices}])
    file.add_node(mesh=0)
    path.write_bytes(file.glb())


def write_ply(mesh: Mesh, path: Path) -> None:
    head = f"ply\nformat binary_little_endian 1.0\nelement vertex {len(mesh.points)}\n"
    head += "".join(f"property float {axis}\n" for axis in "xyz")
    head += f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    faces = np.empty(len(mesh.faces), dtype=[("size", "u1"), ("corners", "<i4", 4)])
    faces["size"], faces["corners"] = 4, mesh.faces
    path.write_bytes(head.encode() + mesh.points.astype("<f4").tobytes() + faces.tobytes())


def write_stl(mesh: Mesh, path: Path) -> None:
    triangles = mesh.points[mesh.point_of_uv[mesh.triangles]]
    records = np.zeros(
        len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")]
    )
    records["corners"] = triangles
    count = np.array([len(triangles)], dtype="<u4").tobytes()
    path.write_bytes(bytes(80) + count + records.tobytes())


def write_fbx(mesh: Mesh, path: Path) -> None:
    uvs = {"map1": (mesh.uvs, mesh.uv_faces.reshape(-1))}
    path.write_bytes(binary_fbx(mesh.points, mesh.faces, uvs=uvs))


def write_text_fbx(mesh: Mesh, path: Path) -> None:
    uvs = {"map1": (mesh.uvs.tolist(), mesh.uv_faces.reshape(-1).tolist())}
    geometry = mesh_text(points=mesh.points.tolist(), faces=mesh.faces.tolist(), uvs=uvs)
    path.write_bytes(fbx_file(geometry))


def write_usdc(mesh: Mesh, path: Path) -> None:
    from pxr import Sdf, Usd, UsdGeom, Vt

    stage = Usd.Stage.CreateNew(str(path))
    written = UsdGeom.Mesh.Define(stage, "/lamp")
    written.GetPointsAttr().Set(Vt.Vec3fArray.FromNumpy(mesh.points.astype(np.float32)))
    counts = np.full(len(mesh.faces), 4, dtype=np.int32)
    written.GetFaceVertexCountsAttr().Set(Vt.IntArray.FromNumpy(counts))
    corners = mesh.faces.reshape(-1).astype(np.int32)
    written.GetFaceVertexIndicesAttr().Set(Vt.IntArray.FromNumpy(corners))
    primvar = UsdGeom.PrimvarsAPI(written).CreatePrimvar(
        "st", Sdf.ValueTypeNames.TexCoord2fArray, UsdGeom.Tokens.faceVarying
    )
    primvar.Set(Vt.Vec2fArray.FromNumpy(mesh.uvs.astype(np.float32)))
    primvar.SetIndices(Vt.IntArray.FromNumpy(mesh.uv_faces.reshape(-1).astype(np.int32)))
    stage.Save()


WRITERS: dict[str, Callable[[Mesh, Path], None]] = {
    ".obj": write_obj,
    ".glb": write_glb,
    ".ply": write_ply,
    ".stl": write_stl,
    ".fbx": write_fbx,
    "text.fbx": write_text_fbx,
    ".usdc": write_usdc,
}
NEEDS = {".fbx": "ufbx", "text.fbx": "ufbx", ".usdc": "pxr"}


def main() -> None:
    if len(sys.argv) == 5:  # writing takes a process of its own: peaks are passed on to children
        _, kind, path, quads = sys.argv[1:]
        WRITERS[kind](Mesh(int(quads)), Path(path))
        return
    quads = sys.argv[1] if len(sys.argv) > 1 else "1000000"
    with tempfile.TemporaryDirectory() as folder:
        for kind in sys.argv[2:] or WRITERS:
            library = NEEDS.get(kind)
            if library and importlib.util.find_spec(library) is None:
                print(f"{kind}: {library} is not installed")
                continue
            path = Path(folder) / f"mesh{kind}"
            subprocess.run([sys.executable, __file__, "write", kind, str(path), quads], check=True)
            print(f"{kind}: {quads} quads, {path.stat().st_size / 1e6:.0f} MB")
            for name, (prepare, load) in {"reviewbot, isolated": ISOLATED, **OTHERS[kind]}.items():
                print(f"  {name:24} {measured(path, prepare, load, runs=1)}", flush=True)
            path.unlink()


if __name__ == "__main__":
    main()
