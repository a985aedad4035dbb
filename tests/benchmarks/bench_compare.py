"""Time of comparing two measured versions, without pictures, on one core.

Run by hand: python tests/benchmarks/bench_compare.py [QUADS ...]   (100000 and 1000000 unless told)

Aims: under 1.5 s at 100,000 quads; under 15 s and 2.5 GB at a million. Each case runs in a process
of its own, so that its peak memory is its own; seconds are of the processor, not of the wall.
Beside them stands a plain nearest-point query (SciPy's k-d tree) over the points of both
versions, which is what any comparison by value has to do at least once.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.assets import PARTS, bumpy_torus, torus_faces
from scipy.spatial import cKDTree

from reviewbot.compare.comparison import compare_parts
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part
from reviewbot.settings import Settings

Parts = list[Part]


def asset(quads: int) -> Parts:
    """Four bumpy bodies, about so many quads together."""
    across = max(8, int(np.sqrt(quads / 8)))
    around = max(8, quads // 4 // across)
    corner, uv_corner = torus_faces(around, across)
    parts = []
    for k, name in enumerate(PARTS):
        centre = (2.9 * (k % 2), 0.4, 2.9 * (k // 2))
        points, normals, uvs = bumpy_torus(around, across, centre=centre, seed=k)
        parts.append(
            Part(
                name=name,
                points=points,
                corner_point=corner.reshape(-1),
                face_start=np.arange(0, corner.size + 1, 4),
                uvs=0.02 + 0.46 * uvs + np.array([0.5 * (k % 2), 0.5 * (k // 2)]),
                corner_uv=uv_corner.reshape(-1),
                normals=normals,
                corner_normal=corner.reshape(-1),
            )
        )
    return parts


def unchanged(parts: Parts) -> Parts:
    return parts


def edited(parts: Parts) -> Parts:
    """A dent, a part moved, a part's UVs gone."""
    hull, ring, knob, foot = parts
    away = np.linalg.norm(hull.points - hull.points[0], axis=1)
    dent = 0.1 * hull.normals * np.exp(-((away / 0.3) ** 2))[:, None]
    return [
        replace(hull, points=hull.points - dent),
        replace(ring, points=ring.points + np.array([0.0, 0.15, 0.0])),
        replace(knob, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32)),
        foot,
    ]


def reordered(parts: Parts) -> Parts:
    """Points, faces and start corners shuffled, coordinates rounded to a millionth."""
    return [_shuffled(part, np.random.default_rng(seed)) for seed, part in enumerate(parts)]


def _shuffled(part: Part, rng: np.random.Generator) -> Part:
    points, faces = rng.permutation(len(part.points)), rng.permutation(part.face_count)
    place = np.argsort(points)

    def rows(indices: np.ndarray) -> np.ndarray:
        return np.roll(indices.reshape(-1, 4)[faces], 1, axis=1).reshape(-1)

    return replace(
        part,
        points=np.round(part.points[points], 6),
        corner_point=rows(place[part.corner_point]),
        corner_uv=rows(part.corner_uv) if len(part.uvs) else part.corner_uv,
        corner_normal=rows(part.corner_normal),
    )


def scaled(parts: Parts) -> Parts:
    return [replace(part, points=part.points * 100) for part in parts]


def reordered_and_edited(parts: Parts) -> Parts:
    return reordered(edited(parts))


def triangulated(parts: Parts) -> Parts:
    return [_cut(part) for part in parts]


def _cut(part: Part) -> Part:
    def rows(indices: np.ndarray) -> np.ndarray:
        return indices.reshape(-1, 4)[:, [0, 1, 2, 0, 2, 3]].reshape(-1)

    return replace(
        part,
        corner_point=rows(part.corner_point),
        corner_uv=rows(part.corner_uv),
        corner_normal=rows(part.corner_normal),
        face_start=np.arange(0, 6 * part.face_count + 1, 3),
        face_material=np.empty(0, np.int32),
    )


CASES: dict[str, Callable[[Parts], Parts]] = {
    "unchanged": unchanged,
    "edited": edited,
    "reordered": reordered,
    "reordered_and_edited": reordered_and_edited,
    "scaled": scaled,
    "triangulated": triangulated,
}


def run_case(name: str, quads: int) -> None:
    """Print one line: seconds, peak memory, what was told, and the plain query's seconds."""
    before, after = asset(quads), CASES[name](asset(quads))
    measured = [[(part, find_shells(part)) for part in parts] for parts in (before, after)]
    start = time.process_time()
    told = compare_parts(*measured, Settings()).changes
    seconds = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    old, new = (np.concatenate([part.points for part in parts]) for parts in (before, after))
    start = time.process_time()
    cKDTree(old).query(new)
    plain = time.process_time() - start
    codes = ", ".join(dict.fromkeys(change.code for change in told)) or "nothing"
    print(
        f"{quads:>9,} {name:22}{seconds:7.2f} s {peak:7.0f} MB  {plain:6.2f} s  {codes}", flush=True
    )


def main() -> None:
    if len(sys.argv) == 3 and sys.argv[1] in CASES:
        run_case(sys.argv[1], int(sys.argv[2]))
        return
    print(f"{'quads':>9} {'case':22}{'compare':>9} {'peak':>10}  {'k-d tree':>8}  told")
    for quads in [int(word) for word in sys.argv[1:]] or [100_000, 1_000_000]:
        for name in CASES:
            subprocess.run([sys.executable, __file__, name, str(quads)], check=True)


if __name__ == "__main__":
    main()
