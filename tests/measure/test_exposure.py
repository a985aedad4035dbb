"""What is seen from all around, against analytic visibility."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box, cube, grid, joined, polygons, sphere, torus
from viewed import viewed, viewed_or_none

from reviewbot.geometry.polygons import face_areas
from reviewbot.geometry.rays import rays_available
from reviewbot.measure import viewing
from reviewbot.mesh import Part
from reviewbot.settings import PartSettings, Settings

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def area_of(part: Part) -> float:
    return float(face_areas(part.points, part.corner_point, part.face_start).sum())


CONVEX = [cube(), sphere(24, 12), box((0, 0, 0), (5, 0.1, 2), "plank")]


@pytest.mark.parametrize("part", CONVEX, ids=lambda part: part.name)
def test_a_convex_solid_shows_every_face_to_half_of_all_directions(part: Part) -> None:
    """Convexity: a face is seen from everywhere before its plane and from nowhere behind it."""
    exposure = viewed(part)[0].exposure
    np.testing.assert_array_equal(exposure.face_seen, 0.5)
    np.testing.assert_array_equal(exposure.face_hidden, 0.0)
    assert exposure.hidden_share == 0


@pytest.mark.parametrize("part", CONVEX, ids=lambda part: part.name)
def test_a_convex_solid_s_mean_picture_is_a_quarter_of_its_surface(part: Part) -> None:
    """Cauchy's surface-area formula."""
    assert viewed(part)[0].exposure.seen_area == pytest.approx(area_of(part) / 4)


def test_of_nested_spheres_only_the_outer_one_is_seen() -> None:
    outer, inner = viewed(sphere(32, 16), sphere(24, 12, radius=0.9, name="inner"))
    np.testing.assert_array_equal(outer.exposure.face_seen, 0.5)
    np.testing.assert_array_equal(inner.exposure.face_seen, 0.0)
    assert inner.exposure.hidden_share == pytest.approx(1)
    assert (inner.exposure.seen_area, inner.budget.seen_share) == (0, 0)
    assert inner.budget.hidden_share == pytest.approx(0.5, rel=0.02)  # both fill the tile


def test_an_open_sheet_is_seen_from_both_sides() -> None:
    exposure = viewed(grid(4, 4))[0].exposure
    np.testing.assert_array_equal(exposure.face_seen, 1.0)
    assert exposure.seen_area == pytest.approx(0.5)  # 1/4 a side, each of area 1


def test_a_solid_wound_inwards_is_seen_all_the_same() -> None:
    exposure = viewed(sphere(24, 12, flipped=True))[0].exposure
    np.testing.assert_array_equal(exposure.face_seen, 0.5)


@pytest.mark.parametrize("degrees", [30.0, 60.0, 75.0])
def test_a_disc_overhead_takes_its_cone_of_directions(degrees: float) -> None:
    """Solid angle of a cone of half-angle t: 2 pi (1 - cos t), of 4 pi (Archimedes)."""
    reach = np.tan(np.radians(degrees))
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    rim = np.stack([reach * np.cos(turn), 0 * turn + 1.0, -reach * np.sin(turn)], axis=1)
    disc = polygons(rim, [list(range(200))], name="disc")
    patch = box((-0.01, -0.01, -0.01), (0.01, 0.0, 0.01), "patch")
    exposure = viewed(disc, patch)[1].exposure
    expected = 0.5 - (1 - np.cos(np.radians(degrees))) / 2
    assert exposure.face_seen[4] == pytest.approx(expected, abs=1.5 / 64)


def test_what_is_stuck_into_another_part_is_hidden_by_its_share() -> None:
    """A bar of length 4 through a cube of side 2: half of each long side is inside."""
    bar, block = viewed(
        box((-2, -0.1, -0.1), (2, 0.1, 0.1), "bar"), box((-1, -1, -1), (1, 1, 1), "block")
    )
    long_sides = bar.exposure.face_hidden[[0, 2, 4, 5]]
    np.testing.assert_allclose(long_sides, 0.5, atol=0.03)
    np.testing.assert_array_equal(bar.exposure.face_hidden[[1, 3]], 0)
    assert block.exposure.hidden_share == pytest.approx(0, abs=0.01)


def test_glass_does_not_hide_what_is_behind_it() -> None:
    flame = sphere(24, 12, radius=0.5, name="flame")
    globe = sphere(32, 16, name="globe_glass")
    assert viewed(flame, globe)[0].exposure.hidden_share == 0
    opaque = Settings(parts=PartSettings(see_through=()))
    assert viewed(flame, globe, settings=opaque)[0].exposure.hidden_share == pytest.approx(1)


def test_glass_may_be_told_by_its_material() -> None:
    ball = sphere(32, 16, name="globe")
    clear = replace(ball, materials=("brass", "Glass"), face_material=[1] * 512)
    brass = replace(ball, materials=("brass", "Glass"), face_material=[0] * 512)
    flame = sphere(24, 12, radius=0.5, name="flame")
    assert viewed(flame, clear)[0].exposure.hidden_share == 0
    assert viewed(flame, brass)[0].exposure.hidden_share == pytest.approx(1)


def test_high_parts_do_not_stand_before_their_low_ones() -> None:
    low, high = sphere(12, 8, name="ball_low"), sphere(48, 24, radius=1.01, name="ball_high")
    found = viewed_or_none(low, high)
    assert found[0] is not None
    assert found[0].exposure.hidden_share == 0
    assert found[1] is None
    assert viewed(high)[0].exposure.hidden_share == 0


@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e5])
@pytest.mark.parametrize("shift", [0.0, 1e3])
def test_size_and_far_off_origins_cost_nothing(scale: float, shift: float) -> None:
    parts = [sphere(24, 12), sphere(24, 12, radius=0.95, name="inner")]
    far = [replace(part, points=(part.points + shift) * scale) for part in parts]
    outer, inner = viewed(*far)
    np.testing.assert_array_equal(outer.exposure.face_seen, 0.5)
    assert inner.exposure.hidden_share == pytest.approx(1)


def test_degenerate_parts_raise_nothing() -> None:
    empty, flat = polygons([], []), polygons([(0, 0, 0)] * 3, [(0, 1, 2)])
    broken = polygons([(0, 0, 0), (1, 0, 0), (0, np.nan, 0)], [(0, 1, 2)])
    with np.errstate(all="ignore"):
        found = viewed(empty, flat, broken, cube())
        alone = viewed(empty)
    assert [one.exposure.seen_area for one in found[:3]] == [0, 0, 0]
    assert np.isnan(found[1].exposure.face_seen).all()
    np.testing.assert_array_equal(found[3].exposure.face_seen, 0.5)
    assert alone[0].exposure.seen_area == 0
    assert viewed() == []


def test_without_rays_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(viewing, "rays_available", lambda: False)
    assert viewed_or_none(cube(), torus(8, 6)) == (None, None)


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_order_does_not_matter_and_turning_stays_within_sampling(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bar = box((-2, -0.13, -0.11), (2, 0.1, 0.12), "bar")
    parts = [joined(sphere(14, 9), torus(13, 7, radius=1.5), name="ball"), bar]
    order = [rng.permutation(part.face_count) for part in parts]
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn *= np.linalg.det(turn)
    first = viewed(*parts)
    mixed = [reordered(part, faces, seed) for part, faces in zip(parts, order, strict=True)]
    second = viewed(*mixed[::-1])[::-1]
    third = viewed(*(replace(part, points=3 * part.points @ turn.T + 5) for part in parts))
    for before, same, turned, faces in zip(first, second, third, order, strict=True):
        np.testing.assert_allclose(same.exposure.face_seen, before.exposure.face_seen[faces])
        assert same.exposure.seen_area == pytest.approx(before.exposure.seen_area)
        assert turned.exposure.seen_area == pytest.approx(9 * before.exposure.seen_area, rel=0.05)
        assert turned.budget.seen_share == pytest.approx(before.budget.seen_share, abs=0.01)
        assert turned.exposure.hidden_share == pytest.approx(before.exposure.hidden_share, abs=0.02)


def reordered(part: Part, faces: np.ndarray, seed: int) -> Part:
    corners = [part.corner_point[part.face_start[f] : part.face_start[f + 1]] for f in faces]
    uvs = [part.corner_uv[part.face_start[f] : part.face_start[f + 1]] for f in faces]
    return polygons(
        part.points,
        [np.roll(one, seed).tolist() for one in corners],
        uvs=part.uvs,
        face_uvs=[np.roll(one, seed).tolist() for one in uvs],
        name=part.name,
    )
