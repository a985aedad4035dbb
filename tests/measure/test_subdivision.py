"""What subdivision will do to a cage: sharp corners, support loops, even and uneven faces."""

import numpy as np
import pytest
from cages import holed_sheet, looped_cube, prism
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, polygons, sphere, torus

from reviewbot.measure.quality import measure_quality
from reviewbot.measure.subdivision import Subdivision, measure_subdivision, weighted_spread
from reviewbot.measure.surface import surface_of
from reviewbot.mesh import Part


def measured(part: Part) -> Subdivision:
    quality = measure_quality(part.points, part.corner_point, part.face_start)
    return measure_subdivision(part, surface_of(part), quality)


def test_all_edges_of_a_bare_cube_round_off() -> None:
    """By hand from Catmull & Clark 1978 and Halstead et al. 1993, cube of side 2: after one step
    the edge point is (3/4, 3/4, 0), ends 5/9, faces 1, neighbours 3/4 and 3/4 along the faces:
    limit (16 * 3/4 + 4 * (2 * 5/9 + 1) + 4 * 3/4) / 36 = 0.6512 in both directions across."""
    rounding = measured(cube(side=2.0)).rounding
    across = (16 * 0.75 + 4 * (2 * 5 / 9 + 1) + 2 * 0.75) / 36
    assert len(rounding.edge) == 12
    np.testing.assert_allclose(rounding.shift, np.sqrt(2) * (1 - across) / np.sqrt(12))


def test_support_loops_hold_the_corner() -> None:
    """Common practice, no source: loops near an edge keep it sharp, the nearer the sharper."""
    shifts = [measured(looped_cube(loop)).rounding.shift.max() for loop in (0.5, 0.2, 0.05)]
    bare = measured(cube(side=2.0)).rounding.shift.max()
    assert bare > 0.15 > shifts[0] > shifts[1] > shifts[2]
    assert shifts[1] < 0.05
    # The move is in proportion to the loop: a local cube corner is similar to any other.
    assert shifts[1] / shifts[2] == pytest.approx(4, rel=0.05)


@pytest.mark.parametrize(
    "part", [sphere(24, 12), torus(24, 12), grid(4, 4)], ids=lambda part: part.name
)
def test_smooth_and_flat_parts_have_no_hard_edge(part: Part) -> None:
    assert len(measured(part).rounding.edge) == 0


def test_an_eight_sided_prism_is_round_and_a_hexagonal_one_is_not() -> None:
    """Common practice, no source."""
    assert len(measured(prism(8)).rounding.edge) == 16
    assert len(measured(prism(6)).rounding.edge) == 18


def test_smoothing_groups_say_which_edges_are_meant_to_be_smooth() -> None:
    bare = prism(6)

    def with_groups(groups: list[int]) -> Part:
        return Part(
            name="prism",
            points=bare.points,
            corner_point=bare.corner_point,
            face_start=bare.face_start,
            face_smoothing=np.array(groups),
        )

    assert len(measured(with_groups([1] * 6 + [2, 2])).rounding.edge) == 12
    assert len(measured(with_groups([0] * 6 + [2, 2])).rounding.edge) == 18
    assert len(measured(with_groups([1] * 8)).rounding.edge) == 18  # says nothing
    assert len(measured(with_groups([0] * 8)).rounding.edge) == 18


def test_split_points_and_turned_faces_change_nothing() -> None:
    part = cube()
    split = polygons(part.points[part.corner_point], np.arange(24).reshape(6, 4).tolist())
    faces = part.corner_point.reshape(-1, 4).tolist()
    turned = polygons(part.points, [faces[0][::-1], *faces[1:]])
    expected = measured(part).rounding.shift
    np.testing.assert_allclose(measured(split).rounding.shift, expected)
    np.testing.assert_allclose(measured(turned).rounding.shift, expected)


def test_shares_and_poles_of_known_shapes() -> None:
    ball = measured(sphere(24, 12))
    assert ball.quad_share == 240 / 288
    assert (ball.poles, ball.most_edges) == (2, 24)
    assert (measured(torus(8, 6)).poles, measured(cube()).poles) == (0, 8)
    assert measured(grid(3, 3)).poles == 0  # border points are judged by nobody
    assert measured(cube()).edge_variation == pytest.approx(0)
    assert measured(cube()).reach_spread == pytest.approx(1)
    slanted = polygons([(0, 0, 0), (1, 0, 0), (1.98, 0.2, 0), (0.98, 0.2, 0)], [(0, 1, 2, 3)])
    assert measured(slanted).poor_share == 1  # corners of about 11 degrees: sine 0.2
    assert measured(cube()).poor_share == 0


def test_a_large_face_among_small_ones_is_told() -> None:
    """Of a 5 x 5 sheet the middle 3 x 3 faces are one: its diagonal is three times any other's."""
    against = measured(holed_sheet(5, 3)).against_around
    assert against[0] == pytest.approx(3)
    assert np.max(against[1:]) == pytest.approx(1)


def test_support_loops_make_no_face_large() -> None:
    found = measured(looped_cube(0.02))
    assert np.nanmax(found.against_around) < 2.1
    assert found.reach_spread < 1.5


def test_weighted_spread_by_hand() -> None:
    values, weights = np.array([1.0, 2.0, 8.0]), np.array([0.3, 0.4, 0.3])
    assert weighted_spread(values, weights) == 8 / 1
    assert weighted_spread(values, np.array([0.2, 0.6, 0.2])) == 1
    assert np.isnan(weighted_spread(np.empty(0), np.empty(0)))
    assert weighted_spread(np.array([np.nan, 3.0]), np.ones(2)) == 1


def test_degenerate_parts_give_figures_and_raise_nothing() -> None:
    empty = measured(polygons([], []))
    assert np.isnan(empty.quad_share)
    assert len(empty.rounding.edge) == 0
    broken = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, np.nan, 0), (0, 0, 0)]
    with np.errstate(all="ignore"):
        measured(polygons(broken, [(0, 1, 2, 3), (0, 4, 0), (0, 1), (0, 1, 2, 3)]))


@settings(max_examples=25)
@given(seed=st.integers(0, 10**6))
def test_order_place_turn_and_size_do_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = joined(cube(), sphere(7, 5), prism(6))
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    spin = rng.permutation(len(part.points))
    points = np.empty_like(part.points)
    points[spin] = 3 * part.points @ turn.T + 5
    pairs = zip(part.face_start[:-1], part.face_start[1:], strict=True)
    faces = [np.roll(spin[part.corner_point[a:b]], seed).tolist() for a, b in pairs]
    order = rng.permutation(len(faces))
    first, second = measured(part), measured(polygons(points, [faces[f] for f in order]))
    # Sizes are those of the box round the part, which turns: compare moves, not their share.
    ratio = surface_of(part).size * 3 / surface_of(polygons(points, [faces[f] for f in order])).size
    np.testing.assert_allclose(
        np.sort(second.rounding.shift), np.sort(first.rounding.shift) * ratio, atol=1e-9
    )
    for name in ("quad_share", "poor_share", "reach_spread", "edge_variation", "poles"):
        assert getattr(second, name) == pytest.approx(getattr(first, name), rel=1e-6), name
    np.testing.assert_allclose(second.against_around, first.against_around[order], rtol=1e-6)
