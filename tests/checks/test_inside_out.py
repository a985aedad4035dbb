"""Solids turned inside out."""

import pytest
from edits import moved, with_turned_faces
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.inside_out import RULE

INWARDS = with_turned_faces(cube(), range(6))


@pytest.mark.parametrize(
    "part",
    [
        cube(),
        grid(3, 3),
        sphere(8, 4),
        joined(cube(side=3), INWARDS),
        with_turned_faces(cube(), [0]),
    ],
)
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_fires() -> None:
    (finding,) = found(RULE, INWARDS)
    assert (finding.severity, finding.count, finding.value) == ("stop", 1, pytest.approx(1))
    assert finding.message.startswith("This part is inside out")
    (finding,) = found(RULE, joined(cube(), moved(INWARDS, (3, 0, 0))))
    assert finding.message.startswith("1 closed piece of this part")
    assert finding.at[0] > 2
