"""What covers polygons laid anew, and where they face, by what lies nearest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from comparing import changes
from mutations.plants import _all_wound_back as wound_back
from mutations.plants import retopologised
from mutations.reexports import everything_at_once
from shapes import model, sphere

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.laid_anew import NOT_LAID_ANEW, LaidAnew, tell_laid_anew
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part


def body(part: Part) -> Body:
    return body_of(part, find_shells(part))


def ball(columns: int, rows: int, *, materials: tuple[str, ...] = ("tin",)) -> Part:
    """Smoothed all over; the first of two materials below the middle, the second above it."""
    part = sphere(columns, rows)
    middles = np.add.reduceat(part.points[part.corner_point, 1], part.face_start[:-1])
    return replace(
        part,
        materials=materials,
        face_material=((middles > 0) & (len(materials) > 1)).astype(np.int32),
        face_smoothing=np.ones(part.face_count, dtype=np.int32),
    )


def found(before: Part, after: Part) -> LaidAnew:
    return tell_laid_anew(body(before), body(after))


def is_quiet(story: LaidAnew) -> bool:
    return not (len(story.lost) or len(story.smoothing) or story.flipped.any() or story.materials)


BEFORE, AFTER = ball(30, 20), ball(17, 11)


@pytest.mark.parametrize("after", [AFTER, ball(61, 37)], ids=["fewer", "more"])
def test_other_polygons_alone_are_quiet(after: Part) -> None:
    assert is_quiet(found(BEFORE, after))


def test_a_border_between_materials_may_run_a_little_elsewhere() -> None:
    materials = ("tin", "brass")
    assert is_quiet(found(ball(30, 20, materials=materials), ball(17, 11, materials=materials)))


def test_another_material_is_told_with_its_name() -> None:
    (change,) = found(BEFORE, replace(AFTER, materials=("glass",))).materials
    assert (change.before, change.after, change.whole) == ("tin", "glass", True)
    assert len(change.faces) == AFTER.face_count


def test_a_patch_of_another_material_is_told_from_a_tenth_of_the_faces_on() -> None:
    def patched(part: Part, share: float) -> Part:
        rows = np.arange(part.face_count) < share * part.face_count
        return replace(part, materials=("tin", "brass"), face_material=rows.astype(np.int32))

    (change,) = found(patched(BEFORE, 0), patched(AFTER, 0.3)).materials
    assert (change.before, change.after) == ("tin", "brass")
    assert len(change.faces) == np.ceil(0.3 * AFTER.face_count)
    rare = replace(patched(BEFORE, 0), face_material=np.arange(BEFORE.face_count) // 599)
    assert not found(rare, patched(AFTER, 0.05)).materials


def test_smoothing_switched_off() -> None:
    off = replace(AFTER, face_smoothing=np.zeros(AFTER.face_count, dtype=np.int32))
    assert len(found(BEFORE, off).smoothing) == AFTER.face_count
    assert len(found(replace(BEFORE, face_smoothing=None), off).smoothing) == 0


def test_faces_that_look_the_other_way() -> None:
    assert found(BEFORE, wound_back(AFTER)).flipped.all()


def test_uvs_that_only_some_faces_lost() -> None:
    corner = np.array(AFTER.corner_uv)
    third = AFTER.face_start[AFTER.face_count // 3]
    corner[:third] = -1
    story = found(BEFORE, replace(AFTER, corner_uv=corner))
    assert len(story.lost) == AFTER.face_count // 3


def test_faces_that_lie_nowhere_tell_nothing() -> None:
    nowhere = replace(AFTER, points=np.full_like(AFTER.points, np.nan))
    assert found(BEFORE, nowhere) is NOT_LAID_ANEW
    assert found(nowhere, AFTER) is NOT_LAID_ANEW


def test_a_retopology_says_besides_that_the_material_is_another() -> None:
    before = ball(30, 20)
    after = retopologised(before, np.random.default_rng(4))
    assert after is not None
    for one, codes in (
        (after, ["retopologised"]),
        (replace(after, materials=("glass",)), ["material-changed", "retopologised"]),
    ):
        shuffled = everything_at_once(model(one), np.random.default_rng(6))
        assert sorted(change.code for change in changes(model(before), shuffled)) == codes
