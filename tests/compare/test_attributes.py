"""Welding, winding, normals, smoothing and materials."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from comparing import changes, codes, every_part, with_part
from mutations.plants import _all_wound_back as wound_back
from mutations.plants import dented, some_wound_back, unwelded
from mutations.reexports import everything_at_once
from mutations.subjects import prop
from scipy.spatial.transform import Rotation

from reviewbot.compare.change import Change
from reviewbot.mesh import Model, Part


def only(before: Model, after: Model) -> Change:
    (change,) = changes(before, after)
    return change


def shaken(model: Model) -> Model:
    return everything_at_once(model, np.random.default_rng(5))


def test_unwelded_and_welded_are_each_others_way_back() -> None:
    split = with_part(prop(), "globe", lambda p: unwelded(p, np.random.default_rng(1)) or p)
    change = only(prop(), shaken(split))
    assert (change.code, change.unit) == ("unwelded", "places")
    assert codes(split, shaken(prop())) == ["welded globe"]


def test_winding() -> None:
    rng = np.random.default_rng(1)
    some = with_part(prop(), "globe", lambda p: some_wound_back(p, rng) or p)
    change = only(prop(), shaken(some))
    assert change.code == "winding-flipped"
    assert change.value == prop().parts[0].face_count // 6
    every = only(prop(), every_part(prop(), wound_back))
    assert (every.code, every.part) == ("winding-flipped", "")


def test_normals_that_go_with_a_new_form_are_no_change() -> None:
    """Exporters recompute normals where points moved."""

    def edit(part: Part) -> Part:
        other = dented(part, np.random.default_rng(1))
        assert other is not None
        moved = np.linalg.norm(other.points - part.points, axis=1) > 0
        touched = np.zeros(part.face_count, dtype=bool)
        touched[
            np.repeat(np.arange(part.face_count), np.diff(part.face_start))[
                moved[part.corner_point]
            ]
        ] = True
        normals = np.array(part.normals)
        normals[touched] = np.roll(normals[touched], 1, axis=1)
        return replace(other, normals=normals)

    assert codes(prop(), with_part(prop(), "globe", edit)) == ["reshaped globe"]


def test_normals_alone() -> None:
    bent = with_part(prop(), "globe", lambda p: replace(p, normals=np.roll(p.normals, 1, axis=1)))
    assert "while their form did not" in only(prop(), shaken(bent)).message
    gone = every_part(
        prop(),
        lambda p: replace(p, normals=np.empty((0, 3)), corner_normal=np.empty(0, np.int32)),
    )
    assert only(prop(), gone).message == "The normals of all 5 parts are gone."
    assert only(gone, prop()).code == "normals-changed"


def test_normals_that_follow_a_turn_or_stay_behind_are_no_change() -> None:
    turn = Rotation.from_euler("x", 90, degrees=True).as_matrix()
    behind = every_part(prop(), lambda p: replace(p, points=p.points @ turn.T))
    along = every_part(behind, lambda p: replace(p, normals=p.normals @ turn.T))
    assert codes(prop(), behind) == codes(prop(), along) == ["axes"]


def test_rounded_normals_are_no_change() -> None:
    coarse = every_part(prop(), lambda p: replace(p, normals=np.round(p.normals, 3)))
    assert codes(prop(), coarse) == []


def test_smoothing_is_compared_by_who_is_smoothed_together() -> None:
    renumbered = every_part(prop(), lambda p: replace(p, face_smoothing=p.face_smoothing * 7))
    assert codes(prop(), renumbered) == []
    off = every_part(prop(), lambda p: replace(p, face_smoothing=p.face_smoothing * 0))
    assert only(prop(), off).message == "The smoothing of all 5 parts was switched off."
    silent = every_part(prop(), lambda p: replace(p, face_smoothing=None))
    assert codes(off, silent) == []

    def split(part: Part) -> Part:
        groups = np.array(part.face_smoothing)
        groups[:20] = 2
        return replace(part, face_smoothing=groups)

    change = only(prop(), shaken(with_part(prop(), "ring", split)))
    assert (change.code, change.value) == ("smoothing-changed", 20)


def test_a_material_renamed_everywhere_is_one_change() -> None:
    def rename(part: Part) -> Part:
        return replace(part, materials=tuple("iron" if m == "steel" else m for m in part.materials))

    change = only(prop(), every_part(prop(), rename))
    assert (change.code, change.part) == ("material-changed", "")
    assert change.message == "Material 'steel' became 'iron' on 3 parts (ring, box and crate)."


def test_a_material_on_some_faces() -> None:
    def swap(part: Part) -> Part:
        rows = np.zeros(part.face_count, dtype=np.int32)
        rows[:3] = 1
        return replace(part, materials=(*part.materials, "brass"), face_material=rows)

    change = only(prop(), shaken(with_part(prop(), "box", swap)))
    assert change.code == "material-changed"
    assert change.message == "3 of 6 faces went from material 'steel' to 'brass'."


def test_materials_dropped_and_given() -> None:
    bare = with_part(
        prop(),
        "box",
        lambda p: replace(p, materials=(), face_material=np.full(p.face_count, -1)),
    )
    assert only(prop(), bare).message == "All 6 faces lost the material 'steel'."
    assert only(bare, prop()).message == "All 6 faces got the material 'steel'."
