"""Trees handed over through Embree's own interface are those that its binding builds."""

import gc

import numpy as np
import pytest
from shapes import grid, sphere

from reviewbot.geometry import embree
from reviewbot.geometry.embree import embree_available, plant_tree
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not embree_available(), reason="embreex has no wheel for this machine"
)
BALL = sphere(24, 13)


def arrays(part: Part) -> tuple[np.ndarray, np.ndarray]:
    corners, _ = triangulate(part.points, part.corner_point, part.face_start)
    return part.points.astype(np.float32), part.corner_point[corners]


def rays(count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    origins = rng.normal(size=(count, 3)) * 2
    aims = rng.normal(size=(count, 3)) * 0.7 - origins
    return origins.astype(np.float32), aims.astype(np.float32)


@pytest.fixture
def by_the_binding(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embree, "_is_laid_out_so", lambda _: False)


def test_the_installed_binding_is_laid_out_as_expected() -> None:
    points, triangles = arrays(BALL)
    kept = [len(buffer) for buffer in plant_tree(points, triangles).buffers]
    assert kept == [points.size + 1, triangles.size + 1]


def test_the_binding_alone_keeps_nothing(by_the_binding: None) -> None:
    assert plant_tree(*arrays(BALL)).buffers == ()


@pytest.mark.parametrize("part", [BALL, grid(30, 20)], ids=["ball", "grid"])
def test_either_way_the_same_triangles_are_met(part: Part, monkeypatch: pytest.MonkeyPatch) -> None:
    handed = plant_tree(*arrays(part)).run(*rays(4000))
    monkeypatch.setattr(embree, "_is_laid_out_so", lambda _: False)
    built = plant_tree(*arrays(part)).run(*rays(4000))
    assert (handed >= 0).sum() > 100
    assert np.array_equal(handed, built)


def test_a_tree_outlives_the_arrays_it_was_made_of() -> None:
    points, triangles = arrays(BALL)
    tree = plant_tree(points, triangles)
    expected = tree.run(*rays(500)).copy()
    points[:] = np.nan
    triangles[:] = 0
    del points, triangles
    gc.collect()
    assert np.array_equal(tree.run(*rays(500)), expected)


def test_many_trees_come_and_go() -> None:
    """The device they share is given back as often as it is asked for, and no more."""
    first = plant_tree(*arrays(BALL))
    expected = first.run(*rays(200))
    for _ in range(300):
        plant_tree(*arrays(BALL))
    assert np.array_equal(first.run(*rays(200)), expected)


def test_another_layout_is_noticed() -> None:
    class Stranger:
        is_committed = 0

    assert not embree._is_laid_out_so(Stranger())
