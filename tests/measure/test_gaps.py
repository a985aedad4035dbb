"""Gaps between shells; distances by shapely."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from edits import moved, rebuilt, uvs_placed
from examined import examined
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid

from reviewbot.measure.gaps import Gaps, segment_ends
from reviewbot.mesh import Material, Part

PIXEL = 1 / 2048  # of the default texture; the default padding is 8 pixels


def gaps_of(*parts: Part, materials: tuple[Material, ...] = ()) -> Gaps:
    return examined(*parts, materials=materials).gaps


def square(u: float, v: float, name: str = "square", side: float = 0.2) -> Part:
    return uvs_placed(grid(2, 2, name=name), scale=side, by=(u, v))


@pytest.mark.parametrize("pixels", [0.5, 3, 7.5])
def test_shells_nearer_than_the_padding_are_found(pixels: float) -> None:
    gaps = gaps_of(square(0.1, 0.1, "a"), square(0.3 + pixels * PIXEL, 0.15, "b"))
    assert gaps.pixels.tolist() == pytest.approx([pixels])


def test_shells_at_the_padding_or_farther_are_not() -> None:
    assert len(gaps_of(square(0.1, 0.1, "a"), square(0.3 + 8 * PIXEL, 0.1, "b")).pixels) == 0


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_the_distance_is_that_between_the_outlines(seed: int) -> None:
    random = np.random.default_rng(seed)
    sheet = grid(2, 2)
    uvs = [
        sheet.uvs @ random.normal(size=(2, 2)) * 0.2 + by
        for by in ((0.5, 0.5), 0.5 + random.normal(size=2) * 0.3)
    ]
    outlines = [shapely.Polygon(uv[[0, 2, 8, 6]]) for uv in uvs]
    expected = outlines[0].distance(outlines[1]) / PIXEL
    found = gaps_of(*(replace(sheet, uvs=uv, name=f"{k}") for k, uv in enumerate(uvs))).pixels
    if outlines[0].intersects(outlines[1]):
        assert len(found) == 0
    elif expected < 7.9:
        assert found.tolist() == pytest.approx([expected])
    elif expected > 8.1:
        assert len(found) == 0


def test_copies_overlaps_and_other_textures_have_no_gap() -> None:
    assert len(gaps_of(square(0, 0, "a"), square(0, 0, "b")).pixels) == 0
    assert len(gaps_of(square(0, 0, "a"), square(0.15, 0, "b")).pixels) == 0
    near = square(0.2 + 2 * PIXEL, 0, "b")
    iron = replace(square(0, 0, "a"), materials=("iron",), face_material=np.zeros(4, dtype=int))
    assert len(gaps_of(iron, near).pixels) == 0
    assert len(gaps_of(square(0, 0, "a"), near).pixels) == 1


def test_parts_of_one_surface_that_go_on_in_the_plane_have_no_gap() -> None:
    left, right = rebuilt(grid(2, 1, name="left"), [0]), rebuilt(grid(2, 1, name="right"), [1])
    assert len(gaps_of(left, right).pixels) == 0
    assert gaps_of(left, moved(right, (0.1, 0, 0))).pixels.tolist() == [0]


def test_the_place_is_on_the_border_that_is_close() -> None:
    parts = [square(0.1, 0.1, "a"), square(0.3 + 2 * PIXEL, 0.1, "b")]
    gaps = gaps_of(*parts)
    examination = examined(*parts)
    ends = segment_ends(examination.atlas, examination.parts, gaps.segment)
    assert ends[0, :, 0].max() == 1  # the sheet's right edge in space


def test_closest_pairs_come_first_and_each_pair_once() -> None:
    row = [square(0.25 * k + k * k * PIXEL, 0.1, f"{k}", side=0.249) for k in range(3)]
    pixels = gaps_of(*row).pixels
    assert len(pixels) == 2
    assert pixels[0] < pixels[1]
    assert len(gaps_of(cube()).pixels) == 0
