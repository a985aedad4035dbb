"""Stretched UVs."""

from dataclasses import replace

import pytest
from edits import moved, uvs_placed, without_uvs
from found import found, toml
from shapes import cube, grid, joined, sphere
from tubes import square_tube

from reviewbot.checks.uv_stretch import RULE


@pytest.mark.parametrize(
    "part",
    [
        cube(),
        uvs_placed(cube(), scale=0.1),
        without_uvs(sphere(8, 4)),
        grid(2, 2, width=2, depth=2),
    ],
)
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_silent_on_shells_of_other_density() -> None:
    part = joined(cube(), moved(uvs_placed(cube(), scale=0.2), (3, 0, 0)))
    assert found(RULE, part) == []


def test_silent_on_a_little() -> None:
    part = joined(cube(), moved(grid(1, 1, width=0.6, depth=0.2), (3, 0, 0)))
    assert found(RULE, part) == []


@pytest.mark.parametrize("ratio", [3, 1 / 3])
def test_fires_on_what_is_drawn_out_or_squeezed(ratio: float) -> None:
    """UVs `ratio` times as wide are off by sqrt(ratio) either way."""
    (finding,) = found(RULE, uvs_placed(cube(), scale=(0.3 * ratio, 0.3)))
    assert (finding.severity, finding.count, finding.value) == ("look", 6, pytest.approx(1))
    assert (
        found(
            RULE,
            uvs_placed(cube(), scale=(0.3 * ratio, 0.3)),
            settings=toml("[limits]\nstretch = 1.8"),
        )
        == []
    )


def test_the_place_is_where_most_is_off() -> None:
    uvs = grid(8, 1).uvs.copy()
    uvs[uvs[:, 0] > 0.99, 0] += 0.25  # the last face of eight is three times as wide
    (finding,) = found(RULE, replace(grid(8, 1, width=8), uvs=uvs * [0.8, 0.1]))
    assert (finding.count, finding.value) == (1, pytest.approx(1 / 8))
    assert finding.at == pytest.approx((7.5, 0, -0.5))


def test_a_note_on_a_hidden_part_and_nothing_on_a_high_one() -> None:
    part = uvs_placed(cube(), scale=(1, 0.2))
    assert found(RULE, part, settings=toml('[parts]\nhidden = ["cube"]'))[0].severity == "note"
    assert found(RULE, replace(part, name="cube_high")) == []


def test_silent_on_a_tube_unrolled_flat() -> None:
    assert found(RULE, uvs_placed(square_tube(1), scale=(0.5, 1))) == []
