"""Surfaces joined by a point."""

import pytest
from found import found
from shapes import cube, grid, polygons, sphere

from reviewbot.checks.non_manifold_vertex import RULE


@pytest.mark.parametrize("part", [cube(), grid(3, 3), sphere(8, 4)])
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_fires_where_two_sheets_share_a_corner() -> None:
    points = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 1, 0), (2, 2, 0), (1, 2, 0)]
    (finding,) = found(RULE, polygons(points, [(0, 1, 2, 3), (2, 4, 5, 6)]))
    assert (finding.severity, finding.count, finding.at) == ("look", 1, (1, 1, 0))
