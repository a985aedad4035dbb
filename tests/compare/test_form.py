"""What happened to points and polygons, by its cause and with its figure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from comparing import changes, codes, compared, with_part
from mutations import plants
from mutations.plants import PLANTS
from mutations.reexports import everything_at_once
from mutations.subjects import prop
from shapes import cube, grid, model, sphere

from reviewbot.compare.change import Change
from reviewbot.mesh import Model, Part

EXPORTS = [
    lambda subject: subject,
    lambda subject: everything_at_once(subject, np.random.default_rng(3)),
]
IDS = ["in order", "reordered and rounded"]


def only(before: Model, after: Model) -> Change:
    (change,) = changes(before, after)
    return change


@pytest.mark.parametrize("export", EXPORTS, ids=IDS)
def test_a_moved_part_says_how_far(export) -> None:
    def slide(part: Part) -> Part:
        return replace(part, points=part.points + np.array([0.3, 0, -0.4]))

    change = only(prop(), export(with_part(prop(), "box", slide)))
    assert (change.code, change.part) == ("part-moved", "box")
    assert change.value == pytest.approx(0.5, abs=1e-5)
    assert change.message == "It was moved by 0.5 units, and is otherwise the same form."


@pytest.mark.parametrize("export", EXPORTS, ids=IDS)
def test_a_turned_part_says_by_what_angle(export) -> None:
    def turn(part: Part) -> Part:
        angle = np.radians(15)
        matrix = np.array(
            [[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]]
        )
        middle = part.points.mean(axis=0)
        return replace(part, points=(part.points - middle) @ matrix.T + middle)

    change = only(prop(), export(with_part(prop(), "box", turn)))
    assert change.code == "part-moved"
    assert "turned by 15°" in change.message


@pytest.mark.parametrize("export", EXPORTS, ids=IDS)
def test_moved_points_say_how_many_how_far_and_where(export) -> None:
    spot = np.array([1.5 + 1 / 9 * 4, 0, 0.4 - 1 / 7 * 3])

    def pull(part: Part) -> Part:
        near = np.linalg.norm(part.points - spot, axis=1) < 1e-6
        assert near.sum() == 1
        return replace(part, points=part.points + 0.25 * near[:, None] * np.array([0, 1, 0]))

    change = only(prop(), export(with_part(prop(), "sheet", pull)))
    assert (change.code, change.unit) == ("reshaped", "units")
    assert change.value == pytest.approx(0.25, abs=1e-5)
    assert change.at == pytest.approx(spot + np.array([0, 0.25, 0]), abs=1e-5)
    assert "1 of 80 points" in change.message


def test_a_part_sized_in_place_has_another_form() -> None:
    def size(part: Part) -> Part:
        middle = part.points.mean(axis=0)
        return replace(part, points=(part.points - middle) * 1.5 + middle)

    change = only(prop(), with_part(prop(), "box", size))
    assert change.code == "reshaped"
    assert "1.5 times as large" in change.message


@pytest.mark.parametrize("export", EXPORTS, ids=IDS)
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("triangulated", "260 of 312 faces were cut into 520 triangles"),
        ("faces merged", "were merged into"),
        ("face extruded", "in place of 1 face"),
        ("faces removed", "26 of 312 faces were removed"),
    ],
)
def test_polygons_that_changed_are_counted(export, name: str, words: str) -> None:
    plant = next(plant for plant in PLANTS if plant.name == name)
    subject = model(sphere(26, 12))
    after, _ = plant.plant(subject, np.random.default_rng(1))
    change = only(subject, export(after))
    assert change.code == plant.code
    assert words in change.message


def test_the_same_polygons_cut_otherwise_are_new_topology() -> None:
    """The other diagonal of every quad: as many triangles on the same points."""
    flat = model(grid(8, 6))

    def cut(corners: list[int]) -> Model:
        rows = flat.parts[0].corner_point.reshape(-1, 4)[:, corners].reshape(-1)
        return model(
            replace(
                flat.parts[0],
                corner_point=rows,
                corner_uv=rows,
                face_start=np.arange(0, len(rows) + 1, 3),
                face_material=np.empty(0, np.int32),
                corner_normal=np.empty(0, np.int32),
            )
        )

    change = only(cut([0, 1, 2, 0, 2, 3]), cut([0, 1, 3, 1, 2, 3]))
    assert change.code == "retopologised"
    assert "the surface is kept" in change.message


def test_a_coarser_sphere_says_how_far_the_surface_lies_off() -> None:
    """The middle of a face of a polygon with n corners lies 1 - cos(pi / n) inside the circle."""
    change = only(model(sphere(64, 32)), model(sphere(16, 8)))
    assert change.code == "retopologised"
    assert change.value == pytest.approx(1 - np.cos(np.pi / 16) ** 2, rel=0.5)


def test_an_edge_loop_is_a_subdivision_with_old_points_kept() -> None:
    before = grid(4, 1)
    points = np.concatenate([before.points, before.points[[1, 6]] - [0.1, 0, 0]])
    faces = [[0, 10, 11, 5], [10, 1, 6, 11], [1, 2, 7, 6], [2, 3, 8, 7], [3, 4, 9, 8]]
    after = replace(
        before,
        points=points,
        corner_point=np.concatenate(faces),
        face_start=np.arange(0, 21, 4),
        uvs=np.concatenate([before.uvs, before.uvs[[1, 6]] - [0.1, 0]]),
        corner_uv=np.concatenate(faces),
        face_material=np.empty(0, np.int32),
        corner_normal=np.empty(0, np.int32),
    )
    assert codes(model(before), model(after)) == ["subdivided grid"]


def test_doubled_faces_are_added_faces() -> None:
    one = cube()
    twice = replace(
        one,
        corner_point=np.tile(one.corner_point, 2),
        corner_uv=np.tile(one.corner_uv, 2),
        face_start=np.arange(0, 49, 4),
        face_material=np.empty(0, np.int32),
        corner_normal=np.empty(0, np.int32),
    )
    change = only(model(one), model(twice))
    assert (change.code, change.value) == ("faces-added", 6)
    assert codes(model(twice), model(one)) == ["faces-removed cube"]


def test_uvs_that_still_fit_are_said_to() -> None:
    rng = np.random.default_rng(1)
    small = with_part(
        prop(),
        "sheet",
        lambda p: replace(p, points=p.points + 1e-3 * rng.normal(size=p.points.shape)),
    )
    assert "the UVs still fit" in only(prop(), small).message
    assert compared(prop(), small).matches[2].uvs_fit is True
    long = with_part(prop(), "sheet", lambda p: replace(p, points=p.points * [9, 1, 1]))
    long_change = only(prop(), long)
    assert "the UVs must be redone" in long_change.message
    assert compared(prop(), long).matches[2].uvs_fit is False
    bare = with_part(prop(), "crate", lambda p: replace(p, points=p.points * [9, 1, 1]))
    assert "UV" not in only(prop(), bare).message


def test_new_faces_without_uvs_are_said_to_have_none() -> None:
    def grown(part: Part) -> Part:
        fin = plants.faces_added(replace(part, uvs=part.uvs), np.random.default_rng(1))
        assert fin is not None
        corner_uv = np.array(fin.corner_uv)
        corner_uv[-6:] = -1
        return replace(fin, corner_uv=corner_uv)

    change = only(prop(), with_part(prop(), "globe", grown))
    assert change.code == "faces-added"
    assert "2 new faces have no UVs yet" in change.message


def test_each_code_of_a_plant_is_told_beside_a_whole_part_move() -> None:
    def edit(part: Part) -> Part:
        dented = plants.dented(part, np.random.default_rng(1))
        assert dented is not None
        return replace(dented, points=dented.points + np.array([0, 0, 1.5]))

    after = everything_at_once(with_part(prop(), "globe", edit), np.random.default_rng(1))
    assert sorted(codes(prop(), after)) == ["part-moved globe", "reshaped globe"]


def test_displacements_are_given_for_each_point() -> None:
    after = with_part(prop(), "box", lambda p: replace(p, points=p.points + np.array([0, 0.3, 0])))
    matches = compared(prop(), after).matches
    assert np.allclose(matches[3].displacement, 0.3)
    assert matches[3].form == "moved"
    assert all(len(match.displacement) == 0 for match in matches if match.after != 3)
