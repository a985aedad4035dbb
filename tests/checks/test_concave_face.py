"""Quads with a corner turned inwards."""

import numpy as np
import pytest
from cages import holed_sheet
from found import found
from shapes import cube, polygons, sphere, torus

from reviewbot.checks.concave_face import RULE
from reviewbot.mesh import Part


def quad(inwards: float) -> Part:
    """A square of side 1 one corner of which lies so far along the diagonal towards the middle."""
    return polygons(
        [(0, 0, 0), (1, 0, 0), (1 - inwards, 1 - inwards, 0), (0, 1, 0)], [(0, 1, 2, 3)]
    )


@pytest.mark.parametrize("inwards", [0, 0.3, 0.499])
def test_silent_up_to_a_straight_corner(inwards: float) -> None:
    assert found(RULE, quad(inwards)) == []


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), torus(9, 5), holed_sheet(6, 3)])
def test_silent_on_ordinary_shapes_and_ngons(part: Part) -> None:
    assert found(RULE, part) == []


def test_fires_on_an_arrowhead_and_a_crossing() -> None:
    (finding,) = found(RULE, quad(0.7))
    assert (finding.severity, finding.count) == ("look", 1)
    assert finding.at is not None
    crossing = polygons([(0, 0, 0), (2, 1.5, 0), (2, 0, 0), (0, 1, 0)], [(0, 1, 2, 3)])
    assert found(RULE, crossing)[0].count == 1


def test_silent_on_what_has_collapsed() -> None:
    assert found(RULE, polygons(np.zeros((4, 3)), [(0, 1, 2, 3)])) == []
