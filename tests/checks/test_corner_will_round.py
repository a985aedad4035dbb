"""Hard edges without support loops. Common practice, no source: loops keep them sharp."""

import numpy as np
import pytest
from cages import looped_cube, prism
from found import found, toml
from shapes import cube, grid, joined, polygons, sphere, torus

from reviewbot.checks.corner_will_round import RULE
from reviewbot.mesh import Part


def high(part: Part) -> Part:
    return joined(part, name="piece_high")


@pytest.mark.parametrize(
    "part",
    [
        high(looped_cube(0.2)),
        high(looped_cube(0.02)),
        high(sphere(24, 12)),
        high(torus(24, 12)),
        high(grid(4, 4)),
        cube(),  # not to be subdivided
        high(polygons([], [])),
    ],
)
def test_silent(part: Part) -> None:
    assert found(RULE, part) == []


def test_fires_for_a_bare_cube() -> None:
    """By how much, see the limit worked by hand in the tests of the measure."""
    (finding,) = found(RULE, high(cube(side=2.0)))
    assert (finding.part, finding.severity, finding.count) == ("piece_high", "look", 12)
    assert finding.value == pytest.approx(0.159, abs=1e-3)
    assert finding.limit == 0.05
    assert finding.at is not None
    assert np.sort(np.abs(finding.at)) == pytest.approx([0, 1, 1])


def test_fires_for_the_rims_of_a_prism_but_not_for_its_round_side() -> None:
    (finding,) = found(RULE, high(prism(8)))
    assert finding.count == 16


def test_settings_say_which_parts_and_from_where_on() -> None:
    assert len(found(RULE, cube(), settings=toml('[parts]\nsubdivide = ["cube"]'))) == 1
    assert found(RULE, high(cube()), settings=toml("[limits]\ncorner_rounds_share = 0.2")) == []
