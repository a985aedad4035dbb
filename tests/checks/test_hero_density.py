"""Hero parts with less texture than ordinary ones."""

from dataclasses import replace

import pytest
from found import found, toml
from shapes import cube, grid

from reviewbot.checks.hero_density import RULE
from reviewbot.mesh import Part

HERO = toml('[parts]\nhero = ["plate*"]\nhidden = ["*_under"]')


def sheet(name: str, scale: float) -> Part:
    """A unit square with this much of the tile along each side: 2048 * scale pixels a unit."""
    part = grid(2, 2, name=name)
    return replace(part, uvs=part.uvs * scale)


@pytest.mark.parametrize(
    "parts",
    [
        (sheet("plate", 0.5), sheet("wall", 0.5)),
        (sheet("plate", 0.9), sheet("wall", 0.5)),
        (sheet("plate", 0.48), sheet("wall", 0.5)),  # left over from packing
        (sheet("plate", 0.2),),  # nothing to compare with
        (sheet("plate", 0.2), sheet("foot_under", 0.5)),  # hidden parts are no measure
        (sheet("plate", 0.2), sheet("wall_high", 0.5)),  # neither are high ones
        (replace(cube(name="plate"), uvs=[], corner_uv=[]), sheet("wall", 0.5)),
    ],
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts, settings=HERO) == []
    assert found(RULE, *parts) == []


def test_fires() -> None:
    parts = sheet("plate", 0.25), sheet("wall", 0.5), sheet("floor", 0.5)
    (finding,) = found(RULE, *parts, settings=HERO)
    assert (finding.code, finding.part, finding.unit) == ("density-uneven", "plate", "px/unit")
    assert (finding.value, finding.limit) == pytest.approx((512, 1024))
    assert found(RULE, *parts) == []  # without heroes nobody is one
