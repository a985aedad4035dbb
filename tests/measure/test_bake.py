"""Bakes of pairs whose gaps are known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box, cube, grid, polygons, sphere

from reviewbot.geometry.rays import rays_available
from reviewbot.measure import bake
from reviewbot.measure.bake import Bake, measure_bakes
from reviewbot.measure.surface import surface_of
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def baked(low: Part, *high: Part, distance: float = 0.05) -> Bake:
    """The low part onto the first of the high ones."""
    (found,) = measure_bakes(
        [(low, surface_of(low))],
        [(part, surface_of(part)) for part in high],
        [(0, 0)],
        bake_distance=distance,
    )
    return found


@pytest.mark.parametrize(("radius", "gap"), [(1.1, 0.1), (0.9, -0.1), (1.0, 0.0)])
def test_concentric_spheres_have_the_gap_of_their_radii(radius: float, gap: float) -> None:
    """Rays of a sphere go along its radius."""
    found = baked(sphere(64, 32, name="a_low"), sphere(128, 64, radius=radius, name="a_high"))
    assert (found.low, found.high) == ("a_low", "a_high")
    assert found.reach == pytest.approx(0.05 * 2 * np.sqrt(3), rel=0.01)
    np.testing.assert_allclose(found.gap, gap, atol=0.005)
    assert (found.miss_share, found.caught_share) == (0, 0)
    for mean, largest in (found.low_to_high, found.high_to_low):
        assert mean == pytest.approx(abs(gap), abs=0.005)
        assert largest == pytest.approx(abs(gap), abs=0.005)


@pytest.mark.parametrize("radius", [1.3, 0.7])
def test_what_lies_beyond_the_reach_is_missed_whole(radius: float) -> None:
    found = baked(sphere(32, 16), sphere(32, 16, radius=radius))
    assert found.miss_share == pytest.approx(1)
    assert np.isnan(found.gap).all()
    np.testing.assert_allclose(found.face_missed, 1)
    assert np.isnan(found.face_gap).all()
    assert found.low_to_high[1] == pytest.approx(0.3, abs=0.02)  # distances know no reach


def test_the_same_surface_has_no_gap_and_misses_nothing() -> None:
    for part in (cube(), sphere(24, 12), grid(3, 3)):
        found = baked(part, replace(part, name="again"))
        assert found.miss_share == 0
        assert np.abs(found.gap).max() < 1e-6
        assert found.high_to_low == pytest.approx((0, 0), abs=1e-9)


def test_half_a_high_part_is_half_missed() -> None:
    found = baked(grid(20, 20), grid(10, 20, width=0.5))
    assert found.miss_share == pytest.approx(0.5, abs=0.03)
    assert found.low_to_high[1] == pytest.approx(0.5)
    assert found.high_to_low[1] == pytest.approx(0)
    right = found.point[np.isnan(found.gap)]
    assert right[:, 0].min() > 0.49


def test_no_ray_slips_through_the_gap_over_a_hard_edge() -> None:
    """With averaged normals a rounded cube round a cube is met everywhere; with each face's own,
    the strips beyond its edges would be left out. Common practice, no source."""
    found = baked(cube(side=2.0), sphere(96, 48, radius=1.8), distance=0.3)
    assert found.miss_share == 0
    corner_gap = found.gap[np.linalg.norm(found.point, axis=1) > 1.55]
    assert corner_gap.max() < 0.27


def test_rays_caught_by_another_part_are_told() -> None:
    """A patch of a quarter of the sheet floats between the sheet and its own high part."""
    low, own = grid(20, 20), grid(1, 1)
    above = replace(own, points=own.points + np.array([0, 0.04, 0]))
    patch = grid(1, 1, width=0.5, depth=0.5, name="stranger")
    stranger = replace(patch, points=patch.points + np.array([0, 0.05, 0]))
    found = baked(low, above, stranger)
    assert found.miss_share == 0
    np.testing.assert_allclose(found.gap, 0.04, atol=1e-6)
    assert found.caught_share == pytest.approx(0.25, abs=0.03)
    assert found.point[found.caught][:, 0].max() < 0.52
    assert baked(low, above).caught_share == 0


def test_a_stranger_does_not_count_as_the_high_part() -> None:
    far = box((5, 5, 5), (6, 6, 6), "own")
    stranger = replace(grid(4, 4), name="stranger")
    found = baked(grid(4, 4), far, stranger)
    assert found.miss_share == 1
    assert found.caught_share == 1


def test_degenerate_pairs_raise_nothing() -> None:
    empty = polygons([], [])
    broken = polygons([(0, 0, 0), (1, 0, 0), (0, np.nan, 0)], [(0, 1, 2)])
    with np.errstate(all="ignore"):
        for low in (empty, broken):
            assert np.isnan(baked(low, cube()).miss_share)
        for high in (empty, broken):
            found = baked(cube(), high)
            assert found.miss_share == pytest.approx(1)
            assert np.isnan(found.low_to_high).all()
    assert measure_bakes([], [], [], bake_distance=0.05) == ()


def test_without_rays_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bake, "rays_available", lambda: False)
    pair = (cube(), surface_of(cube()))
    assert measure_bakes([pair], [pair], [(0, 0)], bake_distance=0.05) == ()


@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_turning_moving_and_size_do_not_matter(seed: int) -> None:
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    turn *= np.linalg.det(turn)
    low, high = sphere(24, 12), sphere(40, 20, radius=1.07)
    before = baked(low, high, distance=0.04)
    after = baked(
        *(replace(part, points=5 * part.points @ turn.T + 9) for part in (low, high)), distance=0.04
    )
    # The reach follows the box, which turning changes a little.
    assert after.miss_share == before.miss_share == 0
    assert np.nanmean(after.gap) == pytest.approx(5 * np.nanmean(before.gap), rel=0.01)
    assert after.high_to_low[1] == pytest.approx(5 * before.high_to_low[1], rel=0.05)
