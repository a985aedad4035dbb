"""Two faces on the same points."""

import pytest
from edits import moved, shuffled, unshared, with_repeated_faces
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.duplicate_face import RULE


@pytest.mark.parametrize(
    "part",
    [cube(), unshared(cube()), sphere(12, 6), joined(cube(), moved(cube(), (1, 1, 0)))],
)
def test_silent(part) -> None:
    assert found(RULE, part) == []


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("seed", [0, 1])
def test_fires_whatever_start_corner_and_winding(turned: bool, seed: int) -> None:
    part = shuffled(with_repeated_faces(sphere(12, 6), [3, 20], turned=turned), seed)
    (finding,) = found(RULE, part)
    assert (finding.severity, finding.count) == ("stop", 2)
    assert finding.message == "2 faces lie exactly on another one; delete the doubles."


def test_solids_standing_on_each_other_are_worth_a_look() -> None:
    (finding,) = found(RULE, joined(cube(), moved(cube(), (1, 0, 0))))
    assert (finding.severity, finding.count) == ("look", 1)
    assert finding.at == pytest.approx((0.5, 0, 0))


def test_a_piece_that_is_there_twice_is_a_doubled_part() -> None:
    assert found(RULE, joined(cube(), grid(2, 2), grid(2, 2))) == []
