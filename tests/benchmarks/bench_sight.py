"""What the measures of sight, subdivision, placement and baking cost, one by one.

Run by hand: python tests/benchmarks/bench_sight.py [QUADS ...]
prints processor seconds, all cores together, for four bumpy rings of so many quads in all.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from assets import PARTS, bumpy_torus, torus_faces

from reviewbot.geometry.polygons import signed_areas
from reviewbot.geometry.rays import RayScene
from reviewbot.measure.bake import measure_bakes
from reviewbot.measure.exposure import Exposure, exposures, look_at_samples
from reviewbot.measure.face_samples import asset_triangles, sample_faces
from reviewbot.measure.placement import measure_placement
from reviewbot.measure.quality import measure_quality
from reviewbot.measure.seam_exposure import SeamExposure, measure_seam_exposure
from reviewbot.measure.seam_sight import look_at_seams, seam_lines
from reviewbot.measure.shells import Shells, find_shells
from reviewbot.measure.subdivision import measure_subdivision
from reviewbot.measure.surface import Surface, surface_of
from reviewbot.measure.texture_budget import measure_texture_budget
from reviewbot.mesh import Part


def rings(quads: int) -> list[Part]:
    across = max(8, int(np.sqrt(quads / 4 / 2)))
    around = max(8, quads // 4 // across)
    corner, uv_corner = torus_faces(around, across)
    parts = []
    for k, name in enumerate(PARTS):
        centre = (2.9 * (k % 2), 0.4, 2.9 * (k // 2))
        points, _, uvs = bumpy_torus(around, across, centre=centre, seed=k)
        part = Part(
            name=name,
            points=points,
            corner_point=corner.reshape(-1),
            face_start=np.arange(0, corner.size + 1, 4),
            uvs=0.02 + 0.46 * uvs + np.array([0.5 * (k % 2), 0.5 * (k // 2)]),
            corner_uv=uv_corner.reshape(-1),
        )
        parts.append(part)
    return parts


def timed(name: str, call: Callable[[], object]) -> object:
    start = time.process_time()
    result = call()
    print(f"  {name:<34}{time.process_time() - start:8.3f} s")
    return result


def seams_of(
    rows: list[tuple[Part, Surface, Shells]], scene: RayScene, found: tuple[Exposure, ...]
) -> list[SeamExposure]:
    lines = [seam_lines(*row) for row in rows]
    open_shares = look_at_seams(lines, scene, lift=1e-4, eyes=np.empty((0, 3)))
    return [
        measure_seam_exposure(*row, lines=one, openness=openness, face_open=exposure.face_open)
        for row, one, openness, exposure in zip(rows, lines, open_shares, found, strict=True)
    ]


def measure(quads: int) -> None:
    parts = rings(quads)
    surfaces = [surface_of(part) for part in parts]
    shells = [find_shells(part) for part in parts]
    areas = [signed_areas(part.uvs, part.corner_uv, part.face_start) for part in parts]
    qualities = [
        measure_quality(surface.points, part.corner_point, part.face_start)
        for part, surface in zip(parts, surfaces, strict=True)
    ]
    print(f"{sum(part.face_count for part in parts)} quads in {len(parts)} parts")
    start = time.process_time()
    asset = timed("triangles", lambda: asset_triangles(parts, surfaces))
    scene = timed("ray scene", lambda: RayScene.of_points(asset.points, asset.triangles, workers=1))
    samples = timed("samples", lambda: sample_faces(asset))
    one_sided = np.zeros(len(samples.face), dtype=bool)
    sight = timed(
        "look from all around",
        lambda: look_at_samples(scene, samples, lift=1e-4, two_sided=one_sided),
    )
    found = timed("sums", lambda: exposures(asset, samples, sight))
    rows = list(zip(parts, surfaces, shells, strict=True))
    timed("seams", lambda: seams_of(rows, scene, found))
    timed(
        "texture budget",
        lambda: measure_texture_budget(
            parts,
            face_uv_area=areas,
            face_hidden=[one.face_hidden for one in found],
            seen_area=[one.seen_area for one in found],
            one_tile=True,
        ),
    )
    timed("placement", lambda: measure_placement([one.points for one in surfaces], "y"))
    print(f"  {'sight and placement, together':<34}{time.process_time() - start:8.3f} s")
    timed(
        "subdivision (only where asked for)",
        lambda: [measure_subdivision(*row) for row in zip(parts, surfaces, qualities, strict=True)],
    )
    high = [replace(part, points=part.points * 1.001) for part in parts]
    bodies = [(part, surface_of(part)) for part in high]
    pairs = [(k, k) for k in range(len(parts))]
    low = list(zip(parts, surfaces, strict=True))
    timed(
        "bakes of four pairs of this size",
        lambda: measure_bakes(low, bodies, pairs, bake_distance=0.05),
    )


if __name__ == "__main__":
    for count in [int(text) for text in sys.argv[1:]] or [10_000, 100_000]:
        measure(count)
