"""What happens to a whole asset is one change, whatever else happened to its parts."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from comparing import changes, codes, compared, every_part, with_part
from mutations.plants import dented
from mutations.reexports import everything_at_once
from mutations.subjects import prop, rivets, single
from scipy.spatial.transform import Rotation

from reviewbot.compare.whole import named_factor
from reviewbot.geometry.rigid import moved
from reviewbot.mesh import Model, Part

Z_UP = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]], dtype=float)


def turned(
    model: Model, linear: np.ndarray, shift: tuple[float, float, float] = (0, 0, 0)
) -> Model:
    return every_part(model, lambda p: replace(p, points=p.points @ linear.T + np.array(shift)))


def without_uvs(part: Part) -> Part:
    return replace(part, uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (100.0, "metres are written as centimetres"),
        (0.01, "centimetres are written as metres"),
        (1000.0, "metres are written as millimetres"),
        (0.001, "millimetres are written as metres"),
        (10.0, "centimetres are written as millimetres"),
        (0.1, "millimetres are written as centimetres"),
        (2.54, "inches are written as centimetres"),
        (1 / 2.54, "centimetres are written as inches"),
        (39.37007874, "metres are written as inches"),
        (0.0254, "inches are written as metres"),
        (0.3048, "feet are written as metres"),
        (3.280839895, "metres are written as feet"),
        (12.0, "feet are written as inches"),
        (30.48, "feet are written as centimetres"),
        (25.4, "inches are written as millimetres"),
        (0.9144, "yards are written as metres"),
        (3.0, "yards are written as feet"),
    ],
)
def test_factors_between_units_are_named(factor: float, words: str) -> None:
    """Factors of the international yard and pound agreement (1959) and the SI, from memory."""
    assert words in named_factor(factor)


@pytest.mark.parametrize("factor", [1.7, 0.5, 7.0])
def test_other_factors_have_no_name(factor: float) -> None:
    assert named_factor(factor) == ""


@pytest.mark.parametrize("subject", [prop(), rivets(), single()], ids=["prop", "rivets", "single"])
@pytest.mark.parametrize("factor", [100, 0.01, 2.54, 0.001, 1.7])
def test_a_size_is_one_change_with_its_figure(subject: Model, factor: float) -> None:
    (change,) = changes(subject, turned(subject, factor * np.eye(3)))
    assert (change.code, change.part) == ("scale", "")
    assert change.value == pytest.approx(factor, rel=1e-6)


def test_turns_say_which_axis_became_which() -> None:
    (change,) = changes(prop(), turned(prop(), Z_UP))
    assert change.code == "axes"
    assert change.value == 90
    assert "Y up became Z up" in change.message
    (change,) = changes(prop(), turned(prop(), Z_UP.T))
    assert "Z up became Y up" in change.message
    (change,) = changes(prop(), turned(prop(), np.diag([-1.0, 1.0, -1.0])))
    assert "180°" in change.message
    assert "about Y" in change.message


@pytest.mark.parametrize("axis", range(3))
def test_a_mirroring_says_its_axis(axis: int) -> None:
    sides = np.ones(3)
    sides[axis] = -1
    (change,) = changes(prop(), turned(prop(), np.diag(sides)))
    assert change.code == "mirror"
    assert f"along {'XYZ'[axis]}" in change.message


def test_a_shift_says_how_far_and_where() -> None:
    (change,) = changes(prop(), turned(prop(), np.eye(3), (0, -2.5, 0)))
    assert change.code == "offset"
    assert change.value == pytest.approx(2.5)
    assert "2.5 along -Y" in change.message


def test_several_at_once_are_each_told_once() -> None:
    after = turned(prop(), 100 * Z_UP, (300, 0, 0))
    assert codes(prop(), after) == ["scale", "axes", "offset"]


def test_sizing_about_the_assets_own_middle_is_no_shift() -> None:
    spots = np.concatenate([part.points for part in prop().parts])
    middle = (spots.min(axis=0) + spots.max(axis=0)) / 2
    after = turned(prop(), 3 * np.eye(3), tuple(middle - 3 * middle))
    assert codes(prop(), after) == ["scale"]


def test_the_rest_is_compared_after_undoing_it() -> None:
    rng = np.random.default_rng(2)
    after = with_part(prop(), "globe", lambda part: dented(part, rng) or part)
    after = with_part(after, "ring", without_uvs)
    after = replace(after, parts=after.parts[:-1])
    after = everything_at_once(turned(after, 100 * Z_UP), rng)
    assert sorted(codes(prop(), after)) == [
        "axes",
        "part-removed crate",
        "reshaped globe",
        "scale",
        "uv-lost ring",
    ]


def test_figures_are_in_the_unit_of_the_version_after() -> None:
    def lifted(part: Part) -> Part:
        points = np.array(part.points)
        points[points[:, 1] > 1.99] += [0, 0.5, 0]
        return replace(part, points=points)

    after = turned(with_part(prop(), "globe", lifted), 10 * np.eye(3))
    scale, reshaped = changes(prop(), after)
    assert scale.code == "scale"
    assert reshaped.value == pytest.approx(5.0)
    assert reshaped.at == pytest.approx((0, 25, 0), abs=1e-6)


def test_the_way_back_is_given() -> None:
    after = turned(prop(), 100 * Z_UP, (5, 6, 7))
    found = compared(prop(), after)
    for old, new in zip(prop().parts, after.parts, strict=True):
        assert np.allclose(moved(new.points, found.undo), old.points, atol=1e-5)
    assert np.array_equal(compared(prop(), prop()).undo, np.eye(4))


def test_all_parts_turned_freely_together_are_one_change() -> None:
    turn = Rotation.from_euler("y", 30, degrees=True).as_matrix()
    (change,) = changes(prop(), turned(prop(), turn))
    assert (change.code, change.part) == ("part-moved", "")
    assert "30° about Y" in change.message


def test_one_of_two_parts_moved_is_not_the_asset_moved() -> None:
    two = replace(prop(), parts=prop().parts[:2])
    after = with_part(two, "globe", lambda p: replace(p, points=p.points + np.array([0.4, 0, 0])))
    assert codes(two, after) == ["part-moved globe"]


def test_a_round_asset_turned_in_itself_is_told_by_its_uvs() -> None:
    """Places alone say nothing here: every point lies where another one lay."""
    ring = replace(prop(), parts=(replace(prop().parts[1], points=prop().parts[1].points),))
    ring = every_part(ring, lambda p: replace(p, points=p.points - p.points.mean(axis=0)))
    quarter = np.array([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], dtype=float)
    after = everything_at_once(turned(ring, quarter), np.random.default_rng(1))
    assert codes(ring, after) == ["axes"]


def test_a_flipped_uv_axis_on_a_symmetric_asset_is_not_a_mirroring() -> None:
    ring = replace(prop(), parts=(prop().parts[1],))
    after = every_part(ring, lambda p: replace(p, uvs=p.uvs * [-1, 1] + [1, 0]))
    assert codes(ring, everything_at_once(after, np.random.default_rng(1))) == ["uv-flipped ring"]


@pytest.mark.parametrize("rewound", [False, True])
def test_exports_that_turn_the_faces_over_when_mirroring_make_no_difference(rewound: bool) -> None:
    after = turned(prop(), np.diag([1.0, 1.0, -1.0]))
    if rewound:
        after = every_part(after, wound_back)
    assert codes(prop(), after) == ["mirror"]


def wound_back(part: Part) -> Part:
    start = part.face_start.tolist()
    order = np.concatenate([np.arange(b - 1, a - 1, -1) for a, b in pairwise(start)])
    return replace(
        part,
        corner_point=part.corner_point[order],
        corner_uv=part.corner_uv[order],
        corner_normal=part.corner_normal[order],
    )
