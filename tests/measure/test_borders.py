"""Open borders, and borders that another part takes up."""

import numpy as np
import pytest
from edits import moved, rebuilt, unshared, without_faces
from examined import examined
from shapes import cube, grid, joined, polygons, sphere, torus


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), torus(12, 6), unshared(cube())])
def test_closed_solids_have_none(part) -> None:
    assert len(examined(part).borders[0].sides) == 0


def test_the_rim_of_a_sheet_is_one_loop() -> None:
    (borders,) = examined(grid(4, 2, width=3, depth=1)).borders
    assert borders.loop_length.tolist() == pytest.approx([8])
    np.testing.assert_allclose(borders.loop_middle, [[1.5, 0, -0.5]], atol=1e-12)


@pytest.mark.parametrize("sides", [64, 256])
def test_a_disc_opens_as_far_as_its_rim_could_close(sides: int) -> None:
    """Isoperimetric inequality: equality for the circle."""
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    disc = polygons(np.stack([np.cos(turn), 0 * turn, -np.sin(turn)], axis=1), [range(sides)])
    (borders,) = examined(disc).borders
    assert borders.loop_opening[0] == pytest.approx(1, abs=10 / sides**2)
    assert borders.loop_opening[0] >= 1


def test_a_missing_face_is_a_small_opening() -> None:
    (borders,) = examined(without_faces(sphere(24, 12), [100, 180])).borders
    assert len(borders.loop_length) == 2
    assert (borders.loop_opening < 0.02).all()


def test_parts_that_go_on_over_their_borders_have_none_there() -> None:
    lower, upper = rebuilt(cube(name="lower"), [0, 1, 2]), rebuilt(cube(name="upper"), [3, 4, 5])
    borders = examined(lower, unshared(upper)).borders
    assert [len(one.sides) for one in borders] == [0, 0]
    assert all(one.joined_sides for one in borders)
    apart = examined(lower, moved(upper, (0, 0.01, 0))).borders
    assert all(len(one.sides) for one in apart)


def test_faces_that_only_lie_side_by_side_are_closed() -> None:
    part = joined(grid(2, 2), moved(grid(2, 2), (1, 0, 0)))
    (borders,) = examined(part).borders
    assert borders.loop_length.sum() == pytest.approx(6)
