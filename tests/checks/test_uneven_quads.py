"""Faces of uneven size or shape. Common practice, no source: even before sculpting."""

import numpy as np
import pytest
from cages import looped_cube
from found import found, toml
from shapes import cube, grid, joined, polygons, sphere, torus

from reviewbot.checks.uneven_quads import RULE
from reviewbot.mesh import Part


def high(part: Part) -> Part:
    return joined(part, name="piece_high")


def slanted_sheet() -> Part:
    """Quads with corners of about 11 degrees."""
    sheet = grid(6, 6)
    slant = np.array([[1, 0, 0], [0, 1, 0], [-0.98, 0, 0.2]])
    return polygons(sheet.points @ slant, sheet.corner_point.reshape(-1, 4).tolist())


UNEVEN = joined(grid(20, 20), grid(2, 2))  # half the surface ten times as coarse


@pytest.mark.parametrize(
    "part",
    [
        high(cube()),
        high(sphere(24, 12)),
        high(torus(24, 12)),
        high(looped_cube(0.02)),  # support loops are narrow, and right
        high(joined(grid(20, 20), grid(12, 12))),
        UNEVEN,  # not to be subdivided
        high(polygons([], [])),
    ],
)
def test_silent(part: Part) -> None:
    assert found(RULE, part) == []


def test_silent_for_a_sculpt_that_was_reduced_to_triangles() -> None:
    fine, coarse = sphere(24, 2, radius=0.1), sphere(6, 2, radius=3)
    assert found(RULE, high(joined(fine, coarse))) == []


def test_fires_for_uneven_sizes() -> None:
    (finding,) = found(RULE, high(UNEVEN))
    assert (finding.part, finding.severity, finding.limit) == ("piece_high", "look", 4.0)
    assert finding.value == pytest.approx(10)


def test_fires_for_slanted_quads() -> None:
    (finding,) = found(RULE, high(slanted_sheet()))
    assert (finding.value, finding.count) == (1.0, 36)
    assert "slanted" in finding.message


def test_settings_say_which_parts_and_from_where_on() -> None:
    assert len(found(RULE, UNEVEN, settings=toml('[parts]\nsubdivide = ["*"]'))) == 1
    assert found(RULE, high(UNEVEN), settings=toml("[limits]\nsize_ratio = 11")) == []
