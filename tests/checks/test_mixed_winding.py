"""Faces turned against their neighbours."""

import pytest
from edits import moved, unshared, with_turned_faces
from found import found
from shapes import cube, grid, joined, moebius, sphere

from reviewbot.checks.mixed_winding import RULE


@pytest.mark.parametrize(
    "part", [cube(), unshared(cube()), sphere(8, 4), with_turned_faces(cube(), range(6))]
)
def test_silent(part) -> None:
    assert found(RULE, part) == []


@pytest.mark.parametrize("part", [sphere(12, 6), unshared(sphere(12, 6))], ids=["shared", "soup"])
def test_fires(part) -> None:
    (finding,) = found(RULE, with_turned_faces(part, [5, 30]))
    assert (finding.severity, finding.count) == ("stop", 2)
    assert finding.message.startswith("2 faces look the other way than their neighbours")


def test_sheets_side_by_side_that_look_opposite_ways_are_worth_a_look() -> None:
    other = with_turned_faces(grid(2, 2), range(4))
    (finding,) = found(RULE, joined(grid(3, 2), moved(other, (1, 0, 0))))
    assert (finding.severity, finding.count) == ("look", 4)


def test_a_one_sided_band_cannot_be_mended_by_turning() -> None:
    (finding,) = found(RULE, moebius(9))
    assert finding.severity == "look"
    assert "only one side" in finding.message
