"""Coordinates that are no numbers."""

from dataclasses import replace

import numpy as np
import pytest
from found import found
from shapes import cube, grid, polygons, sphere

from reviewbot.checks.bad_coordinate import RULE


@pytest.mark.parametrize("part", [cube(), sphere(8, 4), polygons(np.empty((0, 3)), [])])
def test_silent(part) -> None:
    assert found(RULE, part) == []


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_fires_on_points(value: float) -> None:
    points = grid(2, 2).points.copy()
    points[4, 1] = value
    (finding,) = found(RULE, replace(grid(2, 2), points=points))
    assert (finding.severity, finding.count, finding.part) == ("stop", 1, "grid")
    assert finding.at is not None
    assert np.isfinite(finding.at).all()
    assert finding.message.startswith("1 point has a coordinate")


def test_fires_on_uvs_and_loose_points_too() -> None:
    uvs = grid(2, 2).uvs.copy()
    uvs[0] = np.nan
    points = np.concatenate([grid(2, 2).points, [(np.nan,) * 3]])
    (finding,) = found(RULE, replace(grid(2, 2), points=points, uvs=uvs))
    assert finding.count == 2
    assert finding.message.startswith("1 point and 1 UV have a coordinate")
