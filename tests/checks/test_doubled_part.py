"""Parts lying on identical ones."""

import pytest
from edits import moved, shuffled
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.doubled_part import RULE


def test_silent_on_parts_in_their_own_places() -> None:
    assert found(RULE, cube(), moved(cube(name="b"), (0.01, 0, 0)), sphere(8, 4)) == []


def test_silent_on_a_low_part_and_its_equal_high_one() -> None:
    """A part that is not sculpted may be exported twice; common practice, no source."""
    assert found(RULE, cube(name="knob_low"), cube(name="knob_high")) == []


@pytest.mark.parametrize("order", [1, -1])
def test_fires_on_the_later_by_name(order: int) -> None:
    parts = [
        cube(name="rivet"),
        shuffled(cube(name="rivet_copy"), 3),
        moved(cube(name="z"), (5, 0, 0)),
    ]
    (finding,) = found(RULE, *parts[::order])
    assert (finding.part, finding.severity, finding.count) == ("rivet_copy", "stop", 1)
    assert finding.message == "This part lies exactly on an identical one (rivet); delete the copy."


def test_fires_on_a_part_that_lies_on_a_piece() -> None:
    rivets = joined(cube(), moved(cube(), (3, 0, 0)), name="rivets")
    (finding,) = found(RULE, rivets, moved(cube(name="a"), (3, 0, 0)))
    assert finding.part == "a"


def test_fires_on_pieces_within_a_part() -> None:
    (finding,) = found(RULE, joined(grid(2, 2), cube(), cube(), cube()))
    assert (finding.count, finding.severity) == (2, "stop")
    assert finding.message.startswith("2 pieces of this part lie exactly on identical ones")
