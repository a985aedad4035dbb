"""Faces large against their neighbours. Common practice, no source: they subdivide badly."""

import pytest
from cages import holed_sheet, looped_cube
from found import found, toml
from shapes import cube, grid, joined, polygons, sphere

from reviewbot.checks.large_face import RULE
from reviewbot.mesh import Part


def high(part: Part) -> Part:
    return joined(part, name="piece_high")


@pytest.mark.parametrize(
    "part",
    [
        high(cube()),
        high(sphere(24, 12)),
        high(looped_cube(0.02)),
        high(holed_sheet(9, 3)),  # three times as large as its neighbours
        high(joined(grid(20, 20), grid(2, 2))),  # no neighbours of each other
        holed_sheet(9, 6),  # not to be subdivided
        high(polygons([], [])),
    ],
)
def test_silent(part: Part) -> None:
    assert found(RULE, part) == []


def test_fires() -> None:
    (finding,) = found(RULE, high(holed_sheet(9, 6)))
    assert (finding.part, finding.severity, finding.count) == ("piece_high", "look", 1)
    assert (finding.value, finding.limit) == pytest.approx((6, 4))
    assert finding.at == pytest.approx((4 / 9, 0, -4 / 9))


def test_the_limit_comes_from_the_settings() -> None:
    assert len(found(RULE, high(holed_sheet(9, 3)), settings=toml("[limits]\nsize_ratio = 2"))) == 1
