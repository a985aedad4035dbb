"""What a technical artist would write by hand in an afternoon: the yardstick of the benchmarks.

16 views of both versions with trimesh and pyrender, SSIM by scikit-image, silhouette overlap; no UV
work, no report. Nothing of this project is used.

Run: PYOPENGL_PLATFORM=egl python reference_script.py BEFORE.obj AFTER.obj FOLDER
"""

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")

import numpy as np
import pyrender
import trimesh
from PIL import Image
from skimage.metrics import structural_similarity

SIZE, VIEWS = 512, 16


def pose(centre: np.ndarray, reach: float, turn: float) -> np.ndarray:
    eye = centre + reach * np.array([np.sin(turn), 0.3, np.cos(turn)])
    back = (eye - centre) / np.linalg.norm(eye - centre)
    right = np.cross([0, 1, 0], back)
    right /= np.linalg.norm(right)
    matrix = np.eye(4)
    matrix[:3, :3] = np.stack([right, np.cross(back, right), back], axis=1)
    matrix[:3, 3] = eye
    return matrix


def views(mesh: trimesh.Trimesh, bounds: np.ndarray) -> tuple[list, list]:
    centre, reach = bounds.mean(axis=0), 1.6 * np.linalg.norm(np.ptp(bounds, axis=0))
    scene = pyrender.Scene(ambient_light=[0.3, 0.3, 0.3])
    scene.add(pyrender.Mesh.from_trimesh(mesh))
    camera = scene.add(pyrender.PerspectiveCamera(yfov=np.pi / 5))
    light = scene.add(pyrender.DirectionalLight(intensity=4.0))
    renderer = pyrender.OffscreenRenderer(SIZE, SIZE)
    colours, depths = [], []
    for k in range(VIEWS):
        matrix = pose(centre, reach, 2 * np.pi * k / VIEWS)
        scene.set_pose(camera, matrix)
        scene.set_pose(light, matrix)
        colour, depth = renderer.render(scene)
        colours.append(colour)
        depths.append(depth)
    renderer.delete()
    return colours, depths


def main() -> None:
    before, after = (trimesh.load(path, force="mesh") for path in sys.argv[1:3])
    folder = Path(sys.argv[3])
    folder.mkdir(parents=True, exist_ok=True)
    start = time.perf_counter()
    bounds = np.concatenate([before.bounds, after.bounds])
    bounds = np.stack([bounds.min(axis=0), bounds.max(axis=0)])
    old_colours, old_depths = views(before, bounds)
    new_colours, new_depths = views(after, bounds)
    for k in range(VIEWS):
        similarity = structural_similarity(old_colours[k], new_colours[k], channel_axis=2)
        was, now = old_depths[k] > 0, new_depths[k] > 0
        overlap = (was & now).sum() / max(1, (was | now).sum())
        Image.fromarray(np.hstack([old_colours[k], new_colours[k]])).save(folder / f"{k:02}.png")
        print(f"view {k:2}  ssim {similarity:.4f}  silhouette {overlap:.4f}")
    print(f"{time.perf_counter() - start:.2f} s, the files already loaded")


if __name__ == "__main__":
    main()
