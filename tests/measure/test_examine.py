"""What must not change a measure, and how each scales."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import real_meshes
from edits import moved, rotation, shuffled, unshared, uvs_placed, without_uvs
from examined import examined
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, moebius, polygons, sphere, torus

from reviewbot.measure.summary import Figure, asset_measures, part_measures
from reviewbot.mesh import Part
from reviewbot.readers.formats import read_model

BUMPY = replace(
    torus(10, 6, name="bumpy"),
    points=torus(10, 6).points + np.random.default_rng(5).normal(0, 0.02, (60, 3)),
)
PARTS = [
    cube(),
    sphere(12, 6),
    BUMPY,
    moebius(9),
    joined(cube(), uvs_placed(grid(3, 2), scale=0.4, by=(0.3, 0.6)), name="pieces"),
    without_uvs(grid(2, 2)),
]
SEEDS = st.integers(0, 10**6)


def figures(*parts: Part) -> list[dict[str, Figure]]:
    """Of each part by name, and of the asset."""
    examination = examined(*parts)
    by_name = sorted(examination.parts, key=lambda one: one.part.name)
    return [*(part_measures(one) for one in by_name), asset_measures(examination)]


def assert_alike(
    found: list[dict[str, Figure]], expected: list[dict[str, Figure]], *, rel: float = 1e-7
) -> None:
    for one, other in zip(found, expected, strict=True):
        assert one.keys() == other.keys()
        for key, figure in one.items():
            wanted = other[key]
            if isinstance(wanted, float):
                wanted = pytest.approx(wanted, rel=rel, abs=1e-9)
            assert figure == wanted, key


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_no_measure_depends_on_the_order_of_anything(part: Part, seed: int) -> None:
    assert_alike(figures(shuffled(part, seed)), figures(part))


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_no_measure_depends_on_the_order_of_parts(seed: int) -> None:
    parts = [moved(part, (4 * k, 0, 0), name=f"p{k}") for k, part in enumerate(PARTS)]
    order = np.random.default_rng(seed).permutation(len(parts))
    assert_alike(figures(*(parts[k] for k in order)), figures(*parts))


BOX = {"width", "height", "depth"}  # the upright box round a part does turn with it


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
@settings(max_examples=4, deadline=None)
@given(seed=SEEDS, shift=st.floats(-1e3, 1e3))
def test_no_measure_depends_on_where_the_asset_stands(part: Part, seed: int, shift: float) -> None:
    stood = replace(part, points=part.points @ rotation(seed).T + shift)
    assert_alike(
        [{k: v for k, v in row.items() if k not in BOX} for row in figures(stood)],
        [{k: v for k, v in row.items() if k not in BOX} for row in figures(part)],
        rel=1e-6,
    )


# How each figure grows with the surface's lengths, and with those in the UV plane.
POWERS = {
    "area": (2, 0),
    "volume": (3, 0),
    "width": (1, 0),
    "height": (1, 0),
    "depth": (1, 0),
    "border_length": (1, 0),
    "seam_length": (1, 0),
    "density": (-1, 1),
    "uv_area": (0, 2),
    "tile_use": (0, 2),
    "overlap_area": (0, 2),
}


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
@settings(max_examples=4, deadline=None)
@given(scale=st.floats(1e-3, 1e3), uv_scale=st.floats(0.1, 1))
def test_lengths_areas_and_densities_scale_as_they_should(
    part: Part, scale: float, uv_scale: float
) -> None:
    sized = uvs_placed(replace(part, points=part.points * scale), scale=uv_scale)
    expected = []
    for row in figures(part):
        grown = dict(row)
        for key, (length, uv_length) in POWERS.items():
            if isinstance(grown.get(key), float):
                grown[key] = row[key] * scale**length * uv_scale**uv_length  # type: ignore[operator]
        expected.append(grown)
    assert_alike(figures(sized), expected, rel=1e-6)


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), BUMPY], ids=lambda part: part.name)
def test_what_is_measured_by_value_does_not_depend_on_sharing(part: Part) -> None:
    by_index = {"points", "edges", "euler", "pieces", "open_edges"}
    assert_alike(
        [{k: v for k, v in row.items() if k not in by_index} for row in figures(unshared(part))],
        [{k: v for k, v in row.items() if k not in by_index} for row in figures(part)],
    )


HOSTILE = [
    polygons(np.empty((0, 3)), []),
    polygons([(0, 0, 0)], []),
    polygons([(np.nan,) * 3] * 4, [(0, 1, 2, 3)]),
    polygons([(0, 0, 0), (np.inf, 0, 0), (0, 1, 0)], [(0, 1, 2)]),
    polygons([(1e300, 0, 0), (0, 1e300, 0), (0, 0, -1e300)], [(0, 1, 2)]),
    polygons([(0, 0, 0)] * 4, [(0, 1, 2, 3)]),
    polygons([(0, 0, 0), (1, 0, 0)], [(0, 1), (1, 0)]),
    polygons([(0, 0, 0), (1, 0, 0)], [(0, 0, 0), (1,), ()]),
    polygons(
        [(0, 0, 0), (1, 0, 0), (0, 1, 0)],
        [(0, 1, 2)],
        uvs=[(np.nan, 0), (np.inf, 1), (1e300, -1e300)],
        face_uvs=[(0, 1, 2)],
    ),
    uvs_placed(cube(), scale=1e9),
    uvs_placed(cube(), scale=1e-12),
    replace(cube(), transform=np.zeros((4, 4))),
]


@pytest.mark.parametrize("part", HOSTILE, ids=range(len(HOSTILE)))
def test_no_input_makes_it_raise(part: Part) -> None:
    for row in figures(part) + figures(cube(), part):
        assert all(v is None or isinstance(v, str) or math.isfinite(v) for v in row.values())


@pytest.mark.slow
def test_real_meshes_are_measured_whole() -> None:
    paths = [*real_meshes.myosuite_objs(), *real_meshes.compas_objs()]
    paths += real_meshes.openmesh_objs()
    for path in paths:
        if path.stat().st_size < 2_000_000:
            parts = read_model(path.read_bytes(), path=str(path)).parts
            rows = figures(*parts)
            assert rows[-1]["faces"] == sum(row["faces"] for row in rows[:-1])  # type: ignore[misc]
