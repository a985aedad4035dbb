"""What happened to UVs, by value."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from comparing import changes, codes, compared, every_part, with_part
from hypothesis import given, settings
from hypothesis import strategies as st
from mutations.plants import triangulated
from mutations.reexports import everything_at_once, one_uv_entry_a_corner
from mutations.subjects import boxes_net, prop
from shapes import cube, grid, joined, model, sphere

from reviewbot.compare.change import Change
from reviewbot.compare.uv_fit import fit_uv_maps
from reviewbot.mesh import Model, Part


def only(before: Model, after: Model) -> Change:
    (change,) = changes(before, after)
    return change


def with_uvs(part: Part, uvs: np.ndarray) -> Part:
    return replace(part, uvs=uvs)


def corner_uvs(part: Part, edit) -> Part:
    """The part with one UV entry a corner, changed by `edit` on (F, 4, 2)."""
    loose = one_uv_entry_a_corner(part, np.random.default_rng(0))
    return replace(loose, uvs=edit(np.array(loose.uvs).reshape(-1, 4, 2)).reshape(-1, 2))


def test_lost_and_added() -> None:
    bare = with_part(
        prop(), "ring", lambda p: replace(p, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))
    )
    lost = only(prop(), bare)
    assert (lost.code, lost.part, lost.message) == ("uv-lost", "ring", "Its UVs are gone.")
    assert codes(bare, prop()) == ["uv-added ring"]
    assert compared(prop(), bare).matches[1].unwrap == "lost"


def test_uvs_lost_on_some_faces_are_counted() -> None:
    def drop(part: Part) -> Part:
        corner_uv = np.array(part.corner_uv)
        corner_uv[: 4 * 5] = -1
        return replace(part, corner_uv=corner_uv)

    change = only(prop(), with_part(prop(), "ring", drop))
    assert (change.code, change.value) == ("uv-lost", 5)
    assert "5 of 288 faces" in change.message


def test_all_uvs_lost_are_one_change() -> None:
    bare = every_part(
        prop(), lambda p: replace(p, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))
    )
    change = only(prop(), bare)
    assert (change.code, change.part) == ("uv-lost", "")


def test_uvs_fallen_onto_one_point_are_lost() -> None:
    after = with_part(prop(), "ring", lambda p: with_uvs(p, np.full_like(p.uvs, 0.5)))
    assert codes(prop(), after) == ["uv-lost ring"]


@pytest.mark.parametrize(("axis", "words"), [(0, "along U"), (1, "along V")])
def test_a_flipped_axis(axis: int, words: str) -> None:
    def flip(part: Part) -> Part:
        uvs = np.array(part.uvs)
        uvs[:, axis] = 1 - uvs[:, axis]
        return with_uvs(part, uvs)

    change = only(prop(), with_part(prop(), "box", flip))
    assert change.code == "uv-flipped"
    assert words in change.message
    whole = only(prop(), every_part(prop(), flip))
    assert (whole.code, whole.part) == ("uv-flipped", "")


def test_some_shells_turned_over_are_mirrored() -> None:
    def mirror(uv: np.ndarray) -> np.ndarray:
        uv[2, :, 0] = 2 * uv[2, :, 0].mean() - uv[2, :, 0]
        return uv

    before = model(boxes_net(1.0, "box"))
    after = model(corner_uvs(before.parts[0], mirror))
    change = only(before, after)
    assert (change.code, change.value) == ("uv-mirrored", 1)
    assert "1 of 6 UV shells" in change.message


def test_one_map_for_all_shells_is_said() -> None:
    after = with_part(prop(), "box", lambda p: with_uvs(p, p.uvs * 0.5 + 0.25))
    change = only(prop(), after)
    assert change.code == "uv-moved"
    assert "made 0.5 times as large" in change.message
    turned = with_part(
        prop(), "box", lambda p: with_uvs(p, np.stack([1 - p.uvs[:, 1], p.uvs[:, 0]], axis=1))
    )
    assert "turned by 90°" in only(prop(), turned).message


def test_a_repack_is_said_once_with_the_number_of_shells() -> None:
    def repack(uv: np.ndarray) -> np.ndarray:
        return uv * 0.8 + np.arange(6)[:, None, None] * [0.02, 0.01]

    before = model(boxes_net(1.0, "box"))
    change = only(before, model(corner_uvs(before.parts[0], repack)))
    assert (change.code, change.value, change.unit) == ("uv-moved", 6, "shells")


def test_where_shells_went_is_known() -> None:
    """Two shells of six change places; one more goes to another tile."""

    def swap(uv: np.ndarray) -> np.ndarray:
        uv[[1, 5]] += (uv[[5, 1]] - uv[[1, 5]]).mean(axis=1, keepdims=True)
        uv[2] += [1, 0]
        return uv

    before = model(boxes_net(1.0, "box"))
    (match,) = compared(before, model(corner_uvs(before.parts[0], swap))).matches
    first, second, third = (0.35, 0.1), (0.6, 0.35), (0.6, 0.1)
    reach = 0.1 * np.sqrt(2)  # from the middle of a square of 0.2 to its corners
    assert match.shells_moved == pytest.approx(
        np.array(
            [
                (*first, *second, reach),
                (*third, 1.6, 0.1, reach),
                (*second, *first, reach),
            ]
        ),
        abs=1e-6,
    )
    assert not len(compared(before, before).matches[0].shells_moved)


def test_whole_tiles() -> None:
    after = with_part(prop(), "box", lambda p: with_uvs(p, p.uvs + np.array([1, 0])))
    change = only(prop(), after)
    assert change.code == "uv-tile-moved"
    assert "1 along U" in change.message


def test_cut_seams_have_a_length_and_a_share() -> None:
    """The cube's net has seven seams (any net of a convex solid with V corners cuts V - 1
    edges); a wall of the cross cut off is one seam more, of the side's length."""

    def cut(uv: np.ndarray) -> np.ndarray:
        uv[3] += [0.0, 0.3]
        return uv

    before = model(cube(side=2.0))
    after = model(corner_uvs(before.parts[0], cut))
    change = only(before, after)
    assert change.code == "seams-cut"
    assert change.value == pytest.approx(2.0)
    assert "14% of the seams before" in change.message
    back = only(after, before)
    assert back.code == "seams-sewn"
    assert back.value == pytest.approx(2.0)
    match = compared(before, after).matches[0]
    assert match.unwrap == "recut"
    assert match.cut.shape == (1, 2, 3)
    assert np.linalg.norm(match.cut[0, 0] - match.cut[0, 1]) == pytest.approx(2.0)
    assert len(match.kept) == 7


def test_lengths_are_in_the_unit_of_the_version_after() -> None:
    def cut(uv: np.ndarray) -> np.ndarray:
        uv[3] += [0.0, 0.3]
        return uv

    before = model(cube(side=2.0))
    part = corner_uvs(before.parts[0], cut)
    _, change = changes(before, model(replace(part, points=part.points * 100)))
    assert change.value == pytest.approx(200.0)


def test_another_form_with_the_same_seams() -> None:
    bend = with_part(
        prop(), "sheet", lambda p: with_uvs(p, np.stack([p.uvs[:, 0] ** 2, p.uvs[:, 1]], axis=1))
    )
    change = only(prop(), bend)
    assert change.code == "uv-reshaped"
    assert compared(prop(), bend).matches[2].unwrap == "reshaped"


def test_uvs_are_compared_through_a_change_of_form() -> None:
    def edit(part: Part) -> Part:
        cut = triangulated(part, np.random.default_rng(1))
        assert cut is not None
        return replace(cut, uvs=cut.uvs * [1, -1] + [0, 1])

    after = everything_at_once(with_part(prop(), "globe", edit), np.random.default_rng(1))
    assert sorted(codes(prop(), after)) == ["triangulated globe", "uv-flipped globe"]


def test_identical_copies_with_stacked_uvs_stay_apart() -> None:
    """Both copies share one unwrap; one copy's shell moves."""
    two = joined(sphere(8, 6), replace(sphere(8, 6), points=sphere(8, 6).points + 3.0))
    before = model(two)
    uvs = np.array(two.uvs)
    uvs[len(uvs) // 2 :] += [0.3, 0.1]
    change = only(before, model(replace(two, uvs=uvs)))
    assert (change.code, change.value) == ("uv-moved", 1)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_most_of_a_shell_settles_its_map(seed: int, mirrored: bool) -> None:
    rng = np.random.default_rng(seed)
    before = rng.uniform(size=40) + 1j * rng.uniform(size=40)
    turn, shift = 0.7 * np.exp(1j * rng.uniform(0, 6)), complex(*rng.normal(size=2))
    after = turn * (before.conj() if mirrored else before) + shift
    after[:10] += rng.normal(size=10)
    maps = fit_uv_maps(before, after, np.zeros(40, dtype=np.int32), 1)
    assert bool(maps.mirrored[0]) == mirrored
    assert maps.turn[0] == pytest.approx(turn, abs=1e-4)
    assert maps.shift[0] == pytest.approx(shift, abs=1e-4)


def test_a_sheet_without_uvs_has_nothing_to_say() -> None:
    bare = replace(grid(3, 3), uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))
    assert changes(model(bare), model(bare)) == ()
    assert compared(model(bare), model(bare)).matches[0].unwrap == "none"
