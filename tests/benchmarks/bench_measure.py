"""What a whole examination costs, and each measure's share of it.

Run by hand: python tests/benchmarks/bench_measure.py [QUADS ...]
prints processor seconds (all cores together) and seconds on the clock for four bumpy rings of so
many quads in all, and for two such rings with a high one each to bake from and to subdivide; the
most memory the process ever held; and how long overlaps take to be found among single faces in two
layers. The first line of a run costs a little more: libraries load and caches fill.
"""

from __future__ import annotations

import resource
import sys
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from bench_sight import rings

from reviewbot.checks.rules import run_rules
from reviewbot.checks.subject import Subject
from reviewbot.measure import examine as examining
from reviewbot.mesh import Model, Part
from reviewbot.settings import Settings

STEPS = ("measure_", "find_", "build_", "shells_on", "surface_of", "pair_parts", "transform_left")
SETTINGS = Settings()


def with_clocks(spent: dict[str, float]) -> None:
    """Let every step that an examination calls add its processor seconds to `spent`."""
    for name, step in list(vars(examining).items()):
        if callable(step) and name.startswith(STEPS):
            setattr(examining, name, _clocked(name, step, spent))


def _clocked(name: str, step: Callable[..., Any], spent: dict[str, float]) -> Callable[..., Any]:
    def clocked(*values: Any, **named: Any) -> Any:
        start = time.process_time()
        result = step(*values, **named)
        spent[name] += time.process_time() - start
        return result

    return clocked


def baked(parts: list[Part]) -> list[Part]:
    """Two of four rings as low parts, and each again, a little larger, as its high part."""
    low = [replace(part, name=f"{part.name}_low") for part in parts[:2]]
    high = [replace(part, name=f"{part.name}_high", points=1.002 * part.points) for part in parts]
    return [*low, *high[:2]]


def examine_whole(parts: list[Part], spent: dict[str, float]) -> None:
    model = Model(parts=tuple(parts), format="obj")
    spent.clear()
    clock, processor = time.perf_counter(), time.process_time()
    examination = examining.examine(model, SETTINGS)
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    faces = sum(part.face_count for part in parts)
    pairs = len(examination.pairing.bakes)
    print(
        f"{faces:,} quads in {len(parts)} parts, {pairs} pairs: {processor:.2f} s, "
        f"{clock:.2f} s on the clock"
    )
    for name, seconds in sorted(spent.items(), key=lambda row: -row[1]):
        print(f"  {name:<28}{seconds:8.3f} s{100 * seconds / processor:6.1f} %")
    start = time.process_time()
    subject = Subject(path="rings.obj", examination=examination, settings=SETTINGS)
    found = run_rules(subject)
    print(f"  all rules ({len(found)} findings){time.process_time() - start:17.3f} s")
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  most memory held so far {held:,.0f} MB")


def overlap_layers(count: int) -> None:
    """Two layers of count x count single faces, a quarter of a face apart."""
    size = 1 / count
    low = (
        np.stack(np.meshgrid(np.arange(count), np.arange(count)), axis=-1).reshape(-1, 1, 2) * size
    )
    square = np.array([(0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)]) * size
    uvs = (low + square).reshape(-1, 2)
    corners = np.arange(len(uvs))
    layer = Part(
        name="layer",
        points=np.column_stack([uvs, 0 * corners]),
        corner_point=corners,
        face_start=[*corners[::4].tolist(), len(uvs)],
        uvs=uvs,
        corner_uv=corners,
    )
    other = replace(layer, name="other", points=layer.points + 1, uvs=uvs + size / 8)
    parts = tuple(examining.examine_part(part, SETTINGS) for part in (layer, other))
    start = time.process_time()
    atlas = examining.build_atlas(parts, ())
    overlaps = examining.find_overlaps(atlas, texture_size=SETTINGS.texture.size)
    seconds = time.process_time() - start
    print(
        f"{2 * count * count:,} single UV faces in two layers: {seconds:.2f} s, "
        f"{len(overlaps.area):,} overlaps, {overlaps.area.sum():.6f} tiles"
    )


def main() -> None:
    spent: dict[str, float] = defaultdict(float)
    with_clocks(spent)
    for quads in [int(argument) for argument in sys.argv[1:]] or [10_000, 100_000, 1_000_000]:
        parts = rings(quads)
        for version in (parts, baked(parts)):
            examine_whole(version, spent)
    overlap_layers(316)


if __name__ == "__main__":
    main()
