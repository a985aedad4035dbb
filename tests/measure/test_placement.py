"""Placement: transforms, the asset's foot, its size."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from reviewbot.measure.placement import measure_placement, transform_left, unit_factor

BOX = np.array([(x, y, z) for x in (-1.0, 1.0) for y in (0.0, 3.0) for z in (-0.5, 0.5)])


def matrix(linear: np.ndarray, shift: tuple[float, float, float] = (0, 0, 0)) -> np.ndarray:
    whole = np.eye(4)
    whole[:3, :3], whole[:3, 3] = linear, shift
    return whole


def test_identity_holds_nothing() -> None:
    left = transform_left(np.eye(4))
    assert left.is_nothing
    assert (left.shift, left.degrees, left.mirrored) == (0, 0, False)


def test_rounding_of_an_export_holds_nothing() -> None:
    assert transform_left(np.eye(4) + np.float32(1e-7)).is_nothing


@given(
    seed=st.integers(0, 10**6),
    degrees=st.floats(0.01, 179.9),
    shift=st.floats(0.01, 100),
)
def test_rigid_transforms_are_read_back(seed: int, degrees: float, shift: float) -> None:
    """Against SciPy's `Rotation`."""
    axis = np.random.default_rng(seed).normal(size=3)
    axis /= np.linalg.norm(axis)
    turn = Rotation.from_rotvec(np.radians(degrees) * axis)
    left = transform_left(matrix(turn.as_matrix(), (0, shift, 0)))
    assert left.degrees == pytest.approx(np.degrees(turn.magnitude()), rel=1e-6)
    assert left.shift == pytest.approx(shift)
    assert left.is_rigid
    assert not left.is_nothing


def test_scale_and_mirror_are_told_from_the_turn() -> None:
    turn = Rotation.from_euler("xyz", [10, 20, 30], degrees=True)
    left = transform_left(matrix(turn.as_matrix() @ np.diag([3.0, 2.0, 0.5])))
    assert left.scale == pytest.approx([3, 2, 0.5])
    assert left.degrees == pytest.approx(np.degrees(turn.magnitude()))
    assert not left.mirrored
    mirrored = transform_left(matrix(np.diag([-1.0, 1.0, 1.0])))
    assert mirrored.mirrored
    assert not mirrored.is_rigid


def test_a_flattening_transform_has_no_turn_and_raises_nothing() -> None:
    assert np.isnan(transform_left(matrix(np.diag([1.0, 0.0, 1.0]))).degrees)
    assert np.isnan(transform_left(np.zeros((4, 4))).degrees)


def test_bottom_centre_of_a_box() -> None:
    placed = measure_placement([BOX + np.array([5, 1, 2])], "y")
    assert placed.bottom_centre.tolist() == [5, 1, 2]
    assert placed.longest == 3
    assert placed.off_origin == pytest.approx(np.sqrt(30) / 3)
    assert measure_placement([BOX], "y").off_origin == 0


def test_a_handle_to_one_side_does_not_move_the_foot() -> None:
    handle = np.array([(1.0, 2.0, 0.0), (2.0, 2.5, 0.0)])
    placed = measure_placement([BOX, handle], "y")
    assert placed.bottom_centre[0] == 0.5
    assert placed.foot_centre.tolist() == [0, 0, 0]
    assert placed.off_origin == 0


def test_up_says_what_is_the_bottom() -> None:
    lying = BOX[:, [0, 2, 1]]
    assert measure_placement([lying], "z").off_origin == 0
    assert measure_placement([lying], "y").off_origin > 0.1


def test_nothing_and_broken_points() -> None:
    assert np.isnan(measure_placement([], "y").off_origin)
    broken = np.array([(np.nan, 0, 0), (0, np.inf, 0)])
    assert np.isnan(measure_placement([broken], "y").longest)
    assert measure_placement([BOX, broken], "y").longest == 3


@pytest.mark.parametrize(
    ("longest", "smallest", "largest", "factor"),
    [
        (0.4, 0.2, 0.6, None),  # in range
        (40.0, 0.2, 0.6, 100.0),  # metres written as centimetres
        (0.004, 0.2, 0.6, 0.01),
        (400.0, 0.2, 0.6, 1000.0),
        (0.4 * 39.37, 0.38, 0.42, 39.37),  # inches in a metre
        (0.4 / 2.54, 0.38, 0.42, 1 / 2.54),  # an inch is 2.54 cm by definition
        (0.4 / 0.3048, 0.38, 0.42, 1 / 0.3048),  # a foot is 0.3048 m by definition
        (0.9, 0.2, 0.6, 2.54),
        (0.7, 0.69, None, None),
        (5.0, None, 0.6, 100.0),
        (0.61, 0.55, 0.6, None),  # a little too large: no unit explains it
        (float("nan"), 0.2, 0.6, None),
        (0.0, 0.2, 0.6, None),
    ],
)
def test_unit_factors(
    longest: float, smallest: float | None, largest: float | None, factor: float | None
) -> None:
    found = unit_factor(longest, smallest, largest)
    assert found == (pytest.approx(factor) if factor else None)


@given(seed=st.integers(0, 10**6))
def test_order_does_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(40, 3))
    mixed = rng.permutation(points)
    first = measure_placement([points], "y")
    second = measure_placement([mixed[:7], mixed[7:]], "y")
    assert first.off_origin == second.off_origin
    np.testing.assert_array_equal(first.foot_centre, second.foot_centre)
