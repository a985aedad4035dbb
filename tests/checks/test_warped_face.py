"""Quads folded along a diagonal."""

import numpy as np
import pytest
from edits import moved
from found import found, toml
from shapes import cube, joined, polygons, sphere, torus

from reviewbot.checks.warped_face import RULE
from reviewbot.mesh import Part


def folded(degrees: float, *, side: float = 1.0) -> Part:
    """Two right triangles that share a diagonal, at an angle."""
    half = side / np.sqrt(2)
    turn = np.radians(degrees)
    points = [
        (half, 0, 0),
        (0, half, 0),
        (-half * np.cos(turn), 0, half * np.sin(turn)),
        (0, -half, 0),
    ]
    return polygons(points, [(0, 1, 2, 3)])


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), torus(12, 8), folded(29)])
def test_silent(part: Part) -> None:
    assert found(RULE, part) == []


@pytest.mark.parametrize("degrees", [31, 60, 85])
def test_fires_with_the_angle_of_the_fold(degrees: float) -> None:
    (finding,) = found(RULE, folded(degrees))
    assert finding.value >= degrees - 1e-6
    assert (finding.severity, finding.count, finding.limit) == ("look", 1, 30)


def test_the_limit_is_the_settings_own() -> None:
    assert found(RULE, folded(20), settings=toml("[limits]\nwarped_degrees = 15"))
    assert not found(RULE, folded(60), settings=toml("[limits]\nwarped_degrees = 85"))


def test_silent_on_what_is_too_shallow_to_see() -> None:
    assert found(RULE, joined(cube(side=100), moved(folded(60, side=0.3), (0, 60, 0)))) == []
