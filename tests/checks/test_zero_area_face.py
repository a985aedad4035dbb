"""Faces without area."""

import numpy as np
import pytest
from edits import moved
from found import found
from shapes import cube, joined, polygons, sphere

from reviewbot.checks.zero_area_face import RULE


@pytest.mark.parametrize("part", [cube(), sphere(64, 32), joined(cube(side=1e3), cube(side=0.1))])
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_fires_on_lines_and_points() -> None:
    points = [(0, 0, 0), (1, 0, 0), (0.5, 0, 0), (0, 1, 0)]
    (finding,) = found(RULE, polygons(points, [(0, 1, 2), (3, 3, 3), (0, 2, 3)]))
    assert (finding.severity, finding.count) == ("look", 2)
    assert finding.message.startswith("2 faces have no area")


def test_fires_on_a_merged_away_row() -> None:
    part = sphere(12, 6)
    flat = moved(
        part,
        np.where(np.arange(len(part.points))[:, None] == 1, part.points[2] - part.points[1], 0),
    )
    assert found(RULE, flat)[0].count == 1
