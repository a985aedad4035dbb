"""How long each step of picturing takes, beside a plain pyrender render of the same views.

Run by hand: python tests/benchmarks/bench_render.py [QUADS ...]
prints milliseconds for 16 views at 512 pixels, wall clock and processor time, for each size given
(10,000, 100,000 and 1,000,000 quads unless told); the least of three runs, one at the largest.
The figures hold for the machine and its load; compare within one run only.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")

import numpy as np
from assets import write_pair

from reviewbot.mesh import Model
from reviewbot.readers.formats import read_model
from reviewbot.render.album import draw_album
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.backends import BackendName, open_backend
from reviewbot.render.camera import framing, turntable
from reviewbot.render.checker import checker_light
from reviewbot.render.clay import clay_light, form_shade
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.differences import differences_of
from reviewbot.render.gl_backend import gl_unavailable_because
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.version import Version
from reviewbot.render.visibility import ViewBuffer, draw_views

VIEWS, SIZE = 16, 512
RENDERERS: tuple[BackendName, ...] = ("ray", "gl")
T = TypeVar("T")


def timed(name: str, task: Callable[[], T], runs: int = 3) -> T:
    wall, busy = float("inf"), float("inf")
    for _ in range(runs):
        start, start_busy = time.perf_counter(), time.process_time()
        result = task()
        wall = min(wall, time.perf_counter() - start)
        busy = min(busy, time.process_time() - start_busy)
    print(f"  {name:<46}{1000 * wall:9.0f} ms {1000 * busy:9.0f} ms of processor")
    return result


def clay(view: ViewBuffer) -> np.ndarray:
    return picture(view.samples, clay_light(view))


def clay_and_checker(view: ViewBuffer) -> tuple[np.ndarray, np.ndarray]:
    light = clay_light(view)
    board = checker_light(view, form_shade(light), cells=64)
    return picture(view.samples, light), picture(view.samples, board)


def view_image(view: ViewBuffer) -> ViewImage:
    return ViewImage(name=view.camera.name, clay=clay(view), mask=mask(view.samples))


def plain_pyrender(model: Model) -> Callable[[], list]:
    """16 views of the same mesh as a script would render them, mesh set-up left out."""
    import pyrender
    import trimesh

    scene_of = build_scene(model)
    scene = pyrender.Scene(ambient_light=[0.3, 0.3, 0.3])
    scene.add(
        pyrender.Mesh.from_trimesh(
            trimesh.Trimesh(scene_of.points, scene_of.triangles, process=False)
        )
    )
    frame = framing(scene_of)
    camera = scene.add(pyrender.OrthographicCamera(frame.span / 2, frame.span / 2, zfar=1e4))
    light = scene.add(pyrender.DirectionalLight(intensity=4.0))
    renderer = pyrender.OffscreenRenderer(SIZE, SIZE)

    def run() -> list:
        seen = []
        for view in turntable(frame, VIEWS):
            pose = np.eye(4)
            pose[:3, :3] = view.axes.T
            pose[:3, 3] = view.centre + view.axes[2] * frame.span * 2
            scene.set_pose(camera, pose)
            scene.set_pose(light, pose)
            seen.append(renderer.render(scene))
        return seen

    return run


def bench_back_end(renderer: BackendName, scene: Scene, runs: int) -> list[ViewImage]:
    cameras = turntable(framing(scene), VIEWS)
    backend = timed(f"{renderer}: ready to be seen", lambda: open_backend(renderer, scene), 1)
    timed(
        f"{renderer}: one triangle a pixel, 16 views",
        lambda: [
            backend.middle_triangles(camera, np.ones((SIZE, SIZE), dtype=bool))
            for camera in cameras
        ],
        runs,
    )
    for name, draw in (("clay", clay), ("clay and checker", clay_and_checker)):
        timed(
            f"{renderer}: 16 views, {name}",
            partial(draw_views, scene, cameras, backend, SIZE, draw),
            runs,
        )
    images = draw_views(scene, cameras, backend, SIZE, view_image)
    backend.close()
    return images


def bench(quads: int, folder: Path) -> None:
    before, after = (
        read_model(path.read_bytes(), path=path.name) for path in write_pair(folder, quads)
    )
    runs = 1 if quads > 300_000 else 3
    print(f"{quads:,} quads")
    scene = timed("scene from a model", lambda: build_scene(before), runs)
    for renderer in RENDERERS if gl_unavailable_because() is None else RENDERERS[:1]:
        old = bench_back_end(renderer, scene, runs)
    other = build_scene(after)
    cameras = turntable(framing(scene), VIEWS)
    backend = open_backend("ray", other)
    new = draw_views(other, cameras, backend, SIZE, view_image)
    backend.close()
    timed("SSIM, FLIP, outlines of 16 views", lambda: differences_of(old, new), runs)
    timed(
        "the whole album of both versions",
        lambda: draw_album(
            Version(scene=scene), Version(scene=other), AlbumSettings(title="bench.obj")
        ),
        1,
    )
    timed("beside it: 16 plain pyrender views of one version", plain_pyrender(before), runs)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"  most memory held by this process so far {peak:9.0f} MB\n")


def main() -> None:
    sizes = [int(word.replace(",", "")) for word in sys.argv[1:]] or [10_000, 100_000, 1_000_000]
    with TemporaryDirectory() as folder:
        for quads in sizes:
            bench(quads, Path(folder))


if __name__ == "__main__":
    main()
