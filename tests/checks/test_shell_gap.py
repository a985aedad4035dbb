"""Shells too close for the padding."""

import pytest
from edits import moved, uvs_placed
from found import found, toml
from shapes import cube, grid, joined

from reviewbot.checks.shell_gap import RULE
from reviewbot.mesh import Part

PIXEL = 1 / 2048


def square(u: float, name: str, side: float = 0.2) -> Part:
    return uvs_placed(grid(2, 2, name=name), scale=side, by=(u, 0.1))


def test_silent() -> None:
    assert found(RULE, cube(), square(0.6, "b")) == []
    assert found(RULE, square(0.1, "a"), square(0.3 + 8 * PIXEL, "b")) == []
    assert found(RULE, square(0.1, "a"), square(0.1, "b")) == []  # stacked


def test_fires_for_the_first_by_name() -> None:
    (finding,) = found(RULE, square(0.3 + 3 * PIXEL, "b"), square(0.1, "a"))
    assert (finding.part, finding.severity, finding.count) == ("a", "look", 1)
    assert (finding.value, finding.limit, finding.unit) == (pytest.approx(3), 8, "px")
    assert finding.message == (
        "1 pair of shells (b) lies closer than 8 pixels at 2048, the closest 3; move them apart."
    )


def test_the_padding_is_that_of_the_settings() -> None:
    parts = (square(0.1, "a"), square(0.3 + 6 * PIXEL, "b"))
    assert found(RULE, *parts, settings=toml("[texture]\npadding = 4")) == []
    assert found(RULE, *parts, settings=toml("[texture]\nsize = 4096")) == []
    assert len(found(RULE, *parts, settings=toml("[texture]\nsize = 1024\npadding = 4"))) == 1


def test_pairs_within_a_part_are_counted() -> None:
    row = [moved(square((0.2 + 2 * PIXEL) * k, "x"), (2 * k, 0, 0)) for k in range(4)]
    (finding,) = found(RULE, joined(*row))
    assert finding.count == 3
