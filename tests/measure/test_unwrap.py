"""The unwrap, against shapely and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from edits import (
    face_lists,
    moved,
    uvs_placed,
    with_turned_faces,
    without_uvs,
)
from examined import examined_part
from shapes import cube, grid, joined, polygons, sphere, torus

from reviewbot.measure.unwrap import Unwrap
from reviewbot.mesh import Part, UvSet


def unwrap_of(part: Part) -> Unwrap:
    return examined_part(part).unwrap


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), torus(9, 7)], ids=lambda p: p.name)
def test_areas_and_outlines_are_those_shapely_finds(part: Part) -> None:
    _, faces = face_lists(part)
    shapes = [shapely.Polygon(part.uvs[face]) for face in faces]
    unwrap = unwrap_of(part)
    np.testing.assert_allclose(np.abs(unwrap.face_uv_area), [shape.area for shape in shapes])
    outline = shapely.union_all(shapes, grid_size=1e-9)
    assert unwrap.uv_area == pytest.approx(outline.area, abs=1e-7)
    assert unwrap.perimeter == pytest.approx(outline.length, abs=1e-6)


def disc(sides: int, *, count: int = 1) -> Part:
    turn = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    one = polygons(ring, [range(sides)], uvs=ring[:, :2] / 10 + 0.1, face_uvs=[range(sides)])
    row = [moved(uvs_placed(one, by=(0.2 * k, 0)), (3 * k, 0, 0)) for k in range(count)]
    return joined(*row)


def test_crumbliness_is_one_for_a_disc_and_grows_with_pieces() -> None:
    """Maggiordomo et al. 2020 (from memory): outline over that of one disc of the same area; so n
    equal discs give sqrt(n), a square 2 / sqrt(pi)."""
    assert unwrap_of(disc(512)).crumbliness == pytest.approx(1, abs=1e-4)
    assert unwrap_of(disc(512, count=4)).crumbliness == pytest.approx(2, abs=1e-4)
    assert unwrap_of(grid(3, 3)).crumbliness == pytest.approx(2 / np.sqrt(np.pi))
    assert unwrap_of(grid(3, 3)).solidity == pytest.approx(np.sqrt(np.pi) / 2)
    assert unwrap_of(uvs_placed(grid(3, 3), scale=0.1)).crumbliness == pytest.approx(
        2 / np.sqrt(np.pi)
    )


def mirrored(part: Part) -> Part:
    return uvs_placed(part, scale=(-1, 1), by=(1, 0))


def test_a_shell_that_lies_face_down_is_mirrored() -> None:
    assert unwrap_of(cube()).shell_mirrored.tolist() == [False]
    assert unwrap_of(mirrored(cube())).shell_mirrored.tolist() == [True]
    both = joined(cube(), moved(mirrored(cube()), (3, 0, 0)))
    assert unwrap_of(both).shell_mirrored.tolist() == [False, True]


def test_a_part_inside_out_or_a_face_turned_over_is_not_mirrored_too() -> None:
    inside_out = with_turned_faces(cube(), range(6))
    for part in (inside_out, with_turned_faces(cube(), [2])):
        unwrap = unwrap_of(part)
        assert not unwrap.shell_mirrored.any()
        assert not unwrap.folded.any()


def test_a_mirroring_transform_mirrors_no_uvs_of_its_own() -> None:
    """What is reflected looks reflected from outside, lettering too: as drawn, so shown."""
    unwrap = unwrap_of(replace(cube(), transform=np.diag([-1.0, 1, 1, 1])))
    assert unwrap.shell_mirrored.tolist() == [True]


def test_a_face_folded_over_within_its_shell() -> None:
    part = grid(4, 1)
    uvs = part.uvs.copy()
    uvs[[2, 7], 0] = 0.9  # the line between the second and the third face, past the fourth
    unwrap = unwrap_of(replace(part, uvs=uvs))
    assert np.flatnonzero(unwrap.folded).tolist() == [2]
    assert not unwrap.shell_mirrored.any()


@pytest.mark.parametrize(("width", "is_collapsed"), [(0.0, True), (1e-7, True), (1e-3, False)])
def test_faces_without_uv_area_have_collapsed(width: float, is_collapsed: bool) -> None:
    unwrap = unwrap_of(uvs_placed(grid(1, 1), scale=(width, 1)))
    assert unwrap.collapsed.tolist() == [is_collapsed]


def test_faces_without_surface_may_have_no_uv_area_either() -> None:
    flat = replace(grid(1, 1), points=grid(1, 1).points * [0, 1, 1])
    assert not unwrap_of(uvs_placed(flat, scale=(0, 1))).collapsed.any()


def test_shares_and_lengths() -> None:
    part = joined(grid(1, 1), moved(without_uvs(grid(1, 1, width=3)), (2, 0, 0)))
    unwrap = unwrap_of(part)
    assert unwrap.mapped_share == pytest.approx(0.25)
    assert unwrap.seam_length == 0
    assert unwrap_of(cube(side=2)).seam_length == pytest.approx(14)


def test_further_sets_are_measured_too() -> None:
    part = cube()
    other = UvSet(name="light", uvs=part.uvs[part.corner_uv] * 0.5, corner_uv=np.arange(24))
    half = UvSet(
        name="half", uvs=part.uvs, corner_uv=np.where(np.arange(24) < 12, part.corner_uv, -1)
    )
    first, second = unwrap_of(replace(part, further_uvs=(other, half))).further
    assert (first.name, first.shells, first.mapped_share) == ("light", 1, 1)
    assert first.uv_area == pytest.approx(0.375 / 4)
    assert (second.name, second.mapped_share) == ("half", pytest.approx(0.5))


def test_without_uvs_there_is_nothing() -> None:
    for part in (without_uvs(cube()), polygons(np.empty((0, 3)), [])):
        unwrap = unwrap_of(part)
        assert (unwrap.uv_area, unwrap.perimeter, unwrap.mapped_share) == (0, 0, 0)
        assert np.isnan(unwrap.crumbliness)
