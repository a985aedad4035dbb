"""Made meshes of a wanted size for the benchmarks: four bumpy bodies of quads with UVs and normals.

Run by hand: python tests/benchmarks/assets.py FOLDER QUADS
writes FOLDER/before_QUADS.obj and FOLDER/after_QUADS.obj; the second has a dent in one part,
another part moved, and the UVs of a third one packed elsewhere.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

PARTS = ("hull", "ring", "knob", "foot")


def bumpy_torus(
    around: int, across: int, *, centre: tuple[float, float, float], seed: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points (around * across, 3), normals alike, and UVs ((around + 1) * (across + 1), 2)."""
    t, s = np.meshgrid(
        np.linspace(0, 2 * np.pi, around, endpoint=False),
        np.linspace(0, 2 * np.pi, across, endpoint=False),
    )
    tube = 0.35 + 0.03 * np.sin(5 * t + seed) * np.cos(4 * s)
    reach = 1 + tube * np.cos(s)
    points = np.stack([reach * np.sin(t), tube * np.sin(s), reach * np.cos(t)], axis=-1)
    normals = np.stack([np.cos(s) * np.sin(t), np.sin(s), np.cos(s) * np.cos(t)], axis=-1)
    u, v = np.meshgrid(np.linspace(0, 1, around + 1), np.linspace(0, 1, across + 1))
    uvs = np.stack([u, v], axis=-1)
    return points.reshape(-1, 3) + centre, normals.reshape(-1, 3), uvs.reshape(-1, 2)


def torus_faces(around: int, across: int) -> tuple[np.ndarray, np.ndarray]:
    """Point and UV indices of every quad, (around * across, 4) each."""
    point = np.pad(np.arange(around * across).reshape(across, around), ((0, 1), (0, 1)), "wrap")
    uv = np.arange((around + 1) * (across + 1)).reshape(across + 1, around + 1)
    return _quads(point), _quads(uv)


def _quads(index: np.ndarray) -> np.ndarray:
    rows = [index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]]
    return np.stack(rows, axis=-1).reshape(-1, 4)


def write_pair(folder: Path, quads: int) -> tuple[Path, Path]:
    """Both versions as OBJ; about `quads` faces each, split over four parts."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = folder / f"before_{quads}.obj", folder / f"after_{quads}.obj"
    for path, edited in zip(paths, (False, True), strict=True):
        if not path.exists():
            _write(path, quads, edited=edited)
    return paths


def _write(path: Path, quads: int, *, edited: bool) -> None:
    across = max(8, int(np.sqrt(quads / 4 / 2)))
    around = max(8, quads // 4 // across)
    corner, uv_corner = torus_faces(around, across)
    with path.open("w") as out:
        for k, name in enumerate(PARTS):
            centre = (2.9 * (k % 2), 0.4, 2.9 * (k // 2))
            points, normals, uvs = bumpy_torus(around, across, centre=centre, seed=k)
            uvs = 0.02 + 0.46 * uvs + np.array([0.5 * (k % 2), 0.5 * (k // 2)])
            if edited and name == "hull":
                away = np.linalg.norm(points - points[0], axis=1)
                points = points - 0.1 * normals * np.exp(-((away / 0.3) ** 2))[:, None]
            if edited and name == "ring":
                points = points + np.array([0.0, 0.15, 0.0])
            if edited and name == "knob":
                uvs = uvs * 0.9 + 0.01
            out.write(f"o {name}\n")
            for kind, rows in (("v", points), ("vt", uvs), ("vn", normals)):
                np.savetxt(out, rows, fmt=f"{kind} " + " ".join(["%.6f"] * rows.shape[1]))
            first = 1 + k * len(points)
            first_uv = 1 + k * len(uvs)
            rows = np.stack([corner + first, uv_corner + first_uv, corner + first], axis=-1)
            np.savetxt(out, rows.reshape(-1, 12), fmt="f" + " %d/%d/%d" * 4)


if __name__ == "__main__":
    for written in write_pair(Path(sys.argv[1]), int(sys.argv[2])):
        print(written)
