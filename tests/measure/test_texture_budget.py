"""Where texture goes: stacked copies once, waste only where no copy is seen."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapes import cube, grid, polygons

from reviewbot.geometry.polygons import signed_areas
from reviewbot.measure.texture_budget import TextureBudget, measure_texture_budget, uv_keys
from reviewbot.mesh import Part


def budgets(
    parts: list[Part],
    *,
    hidden: list[float] | None = None,
    seen: list[float] | None = None,
    one_tile: bool = True,
) -> tuple[TextureBudget, ...]:
    hidden = hidden or [0.0] * len(parts)
    return measure_texture_budget(
        parts,
        face_uv_area=[signed_areas(p.uvs, p.corner_uv, p.face_start) for p in parts],
        face_hidden=[np.full(p.face_count, h) for p, h in zip(parts, hidden, strict=True)],
        seen_area=seen or [1.0] * len(parts),
        one_tile=one_tile,
    )


def at(part: Part, *, scale: float = 1.0, shift: tuple[float, float] = (0.0, 0.0)) -> Part:
    return replace(part, uvs=part.uvs * scale + shift)


def test_shares_of_texture_and_of_sight() -> None:
    sheet = grid(4, 4)
    large, small = at(sheet, scale=0.6), at(sheet, scale=0.3, shift=(0.65, 0.65))
    first, second = budgets([large, small], seen=[1.0, 3.0])
    assert (first.texture, second.texture) == pytest.approx((0.36, 0.09))
    assert (first.texture_share, second.texture_share) == pytest.approx((0.8, 0.2))
    assert (first.seen_share, second.seen_share) == (0.25, 0.75)


def test_copies_stacked_exactly_cost_once() -> None:
    """Common practice, no source: identical pieces share one unwrap, which saves texture."""
    sheet = at(grid(4, 4), scale=0.5)
    mirrored = replace(sheet, corner_uv=sheet.corner_uv.reshape(-1, 4)[:, ::-1].reshape(-1))
    found = budgets([sheet, sheet, mirrored, at(grid(4, 4), scale=0.5, shift=(0.5, 0.5))])
    assert [one.texture for one in found] == pytest.approx([1 / 12, 1 / 12, 1 / 12, 0.25])


def test_a_copy_a_tile_further_is_the_same_texture_unless_there_are_more_tiles() -> None:
    sheet = at(grid(4, 4), scale=0.5, shift=(0.2, 0.1))
    moved = at(sheet, shift=(1.0, -2.0))
    assert sum(one.texture for one in budgets([sheet, moved])) == pytest.approx(0.25)
    assert sum(one.texture for one in budgets([sheet, moved], one_tile=False)) == pytest.approx(0.5)


def test_sheets_up_to_the_tile_s_border_are_copies_too() -> None:
    whole = grid(1, 1)
    moved = at(whole, shift=(1.0, 0.0))
    assert sum(one.texture for one in budgets([whole, moved])) == pytest.approx(1)


def test_rounding_of_an_export_does_not_tell_copies_apart() -> None:
    sheet = at(grid(20, 20), scale=0.37, shift=(0.011, 0.007))
    rounded = replace(sheet, uvs=np.round(sheet.uvs, 6))
    assert sum(one.texture for one in budgets([sheet, rounded])) < 0.37**2 * 1.1


def test_texture_is_wasted_only_where_no_copy_is_seen() -> None:
    sheet = at(grid(4, 4), scale=0.5)
    other = at(grid(4, 4), scale=0.5, shift=(0.5, 0.5))
    hidden_copy = budgets([sheet, sheet, other], hidden=[0.0, 1.0, 0.25])
    assert [one.hidden_share for one in hidden_copy] == pytest.approx([0, 0, 0.125])
    both = budgets([sheet, sheet, other], hidden=[1.0, 1.0, 0.0])
    assert sum(one.hidden_share for one in both) == pytest.approx(0.5)


def test_nothing_mapped_and_nothing_seen() -> None:
    bare = polygons(cube().points, [(0, 1, 3, 2)])
    (found,) = budgets([bare], seen=[0.0])
    assert found.texture == 0
    assert np.isnan([found.texture_share, found.seen_share, found.hidden_share]).all()
    assert budgets([]) == ()


@given(roll=st.integers(0, 3), flip=st.booleans())
def test_keys_do_not_ask_for_the_first_corner_or_the_direction(roll: int, flip: bool) -> None:
    part = grid(3, 2)
    corner_uv = np.roll(part.corner_uv.reshape(-1, 4), roll, axis=1)[:, :: -1 if flip else 1]
    turned = replace(part, corner_uv=corner_uv.reshape(-1))
    keys = uv_keys(part, one_tile=True)
    np.testing.assert_array_equal(uv_keys(turned, one_tile=True), keys)
    assert len(np.unique(keys)) == 6
