"""Trees handed over through Embree's own interface are those that its binding builds."""

import gc

import numpy as np
import pytest
from shapes import grid, polygons, sphere

from reviewbot.geometry import embree
from reviewbot.geometry.embree import embree_available, pair_up, plant_tree
from reviewbot.geometry.triangles import triangulate
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not embree_available(), reason="embreex has no wheel for this machine"
)
BALL = sphere(24, 13)
_RING = np.linspace(0, 2 * np.pi, 9, endpoint=False)
FAN = polygons(  # of seven triangles, so that one of them stays alone
    points=np.stack([np.cos(_RING), np.sin(_RING), 0.2 * np.cos(2 * _RING)], axis=1),
    faces=[list(range(9))],
)


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
    tree = plant_tree(points, triangles)
    assert tree.paired is not None
    kept = [len(buffer) for buffer in tree.buffers]
    assert kept == [points.size + 1, tree.paired.quads.size + 1]


def test_lone_triangles_go_in_as_they_are() -> None:
    points, triangles = arrays(BALL)
    apart = triangles[::2]
    tree = plant_tree(points, apart)
    assert tree.paired is None
    assert [len(buffer) for buffer in tree.buffers] == [points.size + 1, apart.size + 1]


def test_the_binding_alone_keeps_nothing(by_the_binding: None) -> None:
    assert plant_tree(*arrays(BALL)).buffers == ()


@pytest.mark.parametrize("part", [BALL, grid(30, 20), FAN], ids=["ball", "grid", "fan"])
def test_either_way_the_same_triangles_are_met(part: Part, monkeypatch: pytest.MonkeyPatch) -> None:
    start, along = rays(20000)
    reach = np.full(len(start), 2, dtype=np.float32)
    handed = plant_tree(*arrays(part))
    monkeypatch.setattr(embree, "_is_laid_out_so", lambda _: False)
    built = plant_tree(*arrays(part))
    assert handed.paired is not None
    assert built.paired is None
    met = handed.first_triangles(start, along)
    assert len(np.unique(met)) > 0.75 * len(arrays(part)[1])
    assert np.array_equal(met, built.first_triangles(start, along))
    stopped = handed.is_stopped(start, along, reach)
    assert 100 < stopped.sum() < (met >= 0).sum()
    assert np.array_equal(stopped, built.is_stopped(start, along, reach))


@pytest.mark.parametrize("part", [BALL, grid(5, 4), FAN], ids=["ball", "grid", "fan"])
def test_pairs_hold_each_triangle_once_with_its_corners(part: Part) -> None:
    _, triangles = arrays(part)
    paired = pair_up(triangles)
    held = np.concatenate([paired.first, paired.first[paired.is_pair] + 1])
    assert sorted(held) == list(range(len(triangles)))
    halves = zip(
        [*paired.quads[:, [0, 1, 3]], *paired.quads[paired.is_pair][:, [2, 3, 1]]],
        triangles[held],
        strict=True,
    )
    for half, triangle in halves:
        turns = [np.roll(triangle, k).tolist() for k in range(3)]
        assert half.tolist() in turns  # wound alike


def test_one_triangle_is_a_pair_with_nothing() -> None:
    paired = pair_up(np.array([[4, 5, 6]], dtype=np.int32))
    assert paired.quads.tolist() == [[4, 5, 6, 6]]
    assert paired.is_pair.tolist() == [False]


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
