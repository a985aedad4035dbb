"""Edges of three or more faces."""

import pytest
from edits import moved, unshared, with_repeated_faces
from found import found
from shapes import cube, fin, grid, joined, moebius, sphere

from reviewbot.checks.non_manifold_edge import RULE


@pytest.mark.parametrize(
    "part",
    [
        cube(),
        grid(3, 3),
        moebius(9),
        unshared(sphere(8, 4)),
        joined(cube(), moved(cube(), (1, 1, 0))),
    ],
)
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_silent_where_only_a_face_is_repeated() -> None:
    assert found(RULE, with_repeated_faces(cube(), [0, 3])) == []


def test_fires_on_a_fin() -> None:
    (finding,) = found(RULE, fin())
    assert (finding.severity, finding.count, finding.at) == ("stop", 1, (0.5, 0, 0))
    assert finding.message.startswith("At 1 edge more than two faces meet; take it apart")
