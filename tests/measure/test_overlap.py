"""Overlaps: accidents, copies stacked on purpose, and textures of their own; areas by shapely."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from edits import (
    face_lists,
    moved,
    shuffled,
    unshared,
    uvs_placed,
    with_repeated_faces,
    without_faces,
    without_uvs,
)
from examined import examined
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import cube, grid, joined, sphere, torus

from reviewbot.measure.overlap import Overlaps, overlap_faces
from reviewbot.mesh import Material, Part


def overlaps_of(*parts: Part, materials: tuple[Material, ...] = ()) -> Overlaps:
    return examined(*parts, materials=materials).overlaps


def square(side: float, u: float, v: float, name: str = "square") -> Part:
    return uvs_placed(grid(2, 2, name=name), scale=side, by=(u, v))


def outline(part: Part) -> shapely.Geometry:
    _, faces = face_lists(part)
    return shapely.union_all([shapely.Polygon(part.uvs[face]) for face in faces], grid_size=1e-9)


@settings(max_examples=15, deadline=None)
@given(
    by=st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4)),
    angle=st.floats(0, 6.28),
    seed=st.integers(0, 99),
)
def test_the_area_is_that_of_the_intersection(
    by: tuple[float, float], angle: float, seed: int
) -> None:
    turn = np.array([(np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))])
    other = replace(torus(8, 6, name="b"), uvs=(torus(8, 6).uvs - 0.5) @ turn * 0.7 + 0.5 + by)
    expected = outline(cube()).intersection(outline(other)).area
    overlaps = overlaps_of(shuffled(cube(), seed), unshared(other))
    assert overlaps.area.sum() == pytest.approx(expected, abs=1e-6)


def test_shells_side_by_side_or_inside_a_hole_do_not_overlap() -> None:
    side_by_side = [square(0.5, u, v, f"{u}{v}") for u in (0, 0.5) for v in (0, 0.5)]
    assert len(overlaps_of(*side_by_side).area) == 0
    frame = without_faces(grid(3, 3), [4])
    assert len(overlaps_of(frame, square(0.3, 0.35, 0.35)).area) == 0
    assert len(overlaps_of(frame, square(0.4, 0.3, 0.3)).area) == 1


def test_a_shell_that_lies_over_itself() -> None:
    part = grid(8, 1)
    uvs = part.uvs.copy()
    uvs[:, 0] = np.abs(((uvs[:, 0] * 2) % 1.999) - 0.3)  # folds back and runs over its start
    overlaps = overlaps_of(replace(part, uvs=uvs))
    assert len(overlaps.area) >= 1
    twice_round = torus(8, 4)
    wound = replace(twice_round, uvs=_wound_twice(twice_round))
    (area,) = overlaps_of(wound).area
    assert area == pytest.approx(2 * (0.4**2 - 0.2**2))  # each turn is a square, 2 r^2


def _wound_twice(part: Part) -> np.ndarray:
    """The rectangle bent into a ring that it covers twice."""
    turn, reach = part.uvs[:, 0] * 4 * np.pi, 0.2 + 0.2 * part.uvs[:, 1]
    return np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1) + 0.5


MIRRORED = uvs_placed(grid(3, 3, name="mirrored"), scale=(-1, 1), by=(1, 0))


@pytest.mark.parametrize(
    "copy",
    [
        grid(3, 3),
        moved(grid(3, 3), (5, 0, 0)),
        shuffled(grid(3, 3), 1),
        unshared(grid(3, 3)),
        grid(5, 2),  # the same place, cut into other faces
        MIRRORED,
        uvs_placed(grid(3, 3), by=(1e-5, -1e-5)),
    ],
)
def test_copies_in_one_place_are_stacked_and_no_overlap(copy: Part) -> None:
    """Identical small pieces share one unwrap, stacked; common practice, no source."""
    overlaps = overlaps_of(grid(3, 3, name="first"), replace(copy, name="second"))
    assert len(overlaps.area) == 0
    assert overlaps.is_copy.tolist() == [False, True]
    assert overlaps.stack[0] == overlaps.stack[1]


def test_copies_whole_tiles_aside_need_no_texture_and_are_no_overlap() -> None:
    beside = [uvs_placed(cube(name=f"{k}"), by=(k, 0)) for k in (0, 1, -1)]
    overlaps = overlaps_of(*beside)
    assert overlaps.is_parked.tolist() == [False, True, True]
    assert not overlaps.is_copy.any()


def test_a_stack_that_something_else_lands_on_is_counted_once() -> None:
    rivets = [square(0.2, 0.1, 0.1, f"rivet{k}") for k in range(5)]
    overlaps = overlaps_of(*rivets, square(0.5, 0.2, 0.2, "plate"))
    assert overlaps.area.tolist() == pytest.approx([0.01])
    assert overlaps.share.tolist() == pytest.approx([0.25])


@pytest.mark.parametrize("off", [0.02, 0.2])
def test_a_copy_that_is_off_is_an_overlap_and_told_by_its_likeness(off: float) -> None:
    overlaps = overlaps_of(square(0.5, 0, 0, "a"), square(0.5, off, 0, "b"))
    shared = 0.5 * (0.5 - off)
    assert overlaps.area.tolist() == pytest.approx([shared])
    assert overlaps.likeness.tolist() == pytest.approx([shared / (0.5 - shared)])


def test_faces_lying_on_each_other_in_space_do_not_overlap_too() -> None:
    assert len(overlaps_of(with_repeated_faces(cube(), [0, 1])).area) == 0
    assert len(overlaps_of(joined(cube(), uvs_placed(cube(), by=(0.1, 0.1)))).area) == 0


def in_material(part: Part, name: str) -> Part:
    return replace(part, materials=(name,), face_material=np.zeros(part.face_count, dtype=int))


def test_materials_may_have_textures_of_their_own() -> None:
    a, b = (
        in_material(square(0.5, 0, 0, "a"), "iron"),
        in_material(square(0.5, 0.3, 0, "b"), "glass"),
    )

    def pictured(*files: str | None) -> Overlaps:
        names = ("iron", "glass")
        rows = zip(names, files, strict=True)
        return overlaps_of(
            a, b, materials=tuple(Material(name=n, base_colour_file=f) for n, f in rows)
        )

    assert pictured("one.png", "one.png").apart.tolist() == [False]
    assert pictured("one.png", "two.png").apart.tolist() == []
    assert pictured(None, None).apart.tolist() == [True]
    assert pictured("one.png", None).apart.tolist() == [True]


def test_high_parts_are_not_on_the_atlas() -> None:
    assert len(overlaps_of(cube(name="lid_low"), square(0.9, 0, 0, "lid_high")).area) == 0


def test_the_place_is_where_both_are() -> None:
    small, large = square(0.2, 0.4, 0.4, "small"), square(0.5, 0.5, 0.5, "large")
    examination = examined(small, large)
    assert overlap_faces(examination.atlas, small, 0, 1).tolist() == [3]
    assert overlap_faces(examination.atlas, large, 1, 0).tolist() == [0, 1, 2, 3]  # no middle there


def test_nothing_overlaps_without_uvs() -> None:
    assert len(overlaps_of(without_uvs(cube()), without_uvs(sphere(6, 4))).area) == 0
    assert len(overlaps_of().area) == 0


def two_layers(count: int) -> tuple[Part, Part]:
    """Sheets of count x count faces, each a shell of its own; the second is a little aside."""
    apart = unshared(grid(count, count))
    squares = apart.uvs.reshape(-1, 4, 2)
    middle = squares.mean(axis=1, keepdims=True)
    small = replace(apart, uvs=((squares - middle) * 0.5 + middle).reshape(-1, 2))
    other = uvs_placed(moved(small, (0, 1, 0)), by=(0.125 / count, 0), name="other")
    return small, other


@pytest.mark.parametrize("count", [40, pytest.param(316, marks=pytest.mark.slow)])
def test_layers_of_single_faces_overlap_pair_by_pair(count: int) -> None:
    """At 316 it is two layers of 100,000 faces each."""
    overlaps = overlaps_of(*two_layers(count))
    assert len(overlaps.area) == count * count
    assert overlaps.area.sum() == pytest.approx(0.25 * 0.75, rel=1e-6)
