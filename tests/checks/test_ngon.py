"""Faces of more than four sides."""

import pytest
from cages import holed_sheet, prism
from found import found
from shapes import cube, grid, sphere

from reviewbot.checks.ngon import RULE


@pytest.mark.parametrize("part", [cube(), sphere(8, 4), grid(3, 3), prism(4)])
def test_silent_on_triangles_and_quads(part) -> None:
    assert found(RULE, part) == []


def test_fires_on_each_larger_face() -> None:
    (finding,) = found(RULE, prism(6))
    assert (finding.severity, finding.count, finding.value) == ("look", 2, 6)
    assert finding.at == pytest.approx((0, 0, 0), abs=1e-9)  # one of its two equal ends
    assert finding.message.startswith("2 faces have more than four sides (up to 6)")


def test_the_place_is_the_largest_of_them() -> None:
    (finding,) = found(RULE, holed_sheet(6, 3))
    assert (finding.count, finding.value) == (1, 12)
    assert finding.at == pytest.approx((2.5 / 6, 0, -2.5 / 6))
