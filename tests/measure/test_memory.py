"""Equal parts are measured once; unequal ones never stand for each other."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from threading import Barrier

import numpy as np
import pytest
from shapes import cube, model, sphere

from reviewbot.measure.examine import Examination, examine
from reviewbot.measure.memory import Memory, mark_of
from reviewbot.mesh import Model, Part, UvSet
from reviewbot.settings import PartSettings, Settings


def both(before: Model, after: Model) -> tuple[Examination, Examination]:
    memory = Memory()
    return (
        examine(before, Settings(), memory=memory),
        examine(after, Settings(), memory=memory),
    )


def test_work_of_one_key_is_done_once_by_many_threads() -> None:
    memory, started, done = Memory(), Barrier(4), []

    def ask(_: int) -> list[int]:
        started.wait()
        return memory.answers(
            [(mark_of(str(n)), lambda n=n: done.append(n) or n * n) for n in range(50)]
        )

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(ask, range(4)))
    assert answers == [[n * n for n in range(50)]] * 4
    assert sorted(done) == list(range(50))


def test_what_the_work_raises_reaches_all_that_ask() -> None:
    memory = Memory()
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            memory.answer(b"key", lambda: 1 / 0)


def test_marks_tell_contents_apart() -> None:
    values = (
        np.arange(6),
        np.arange(6).reshape(2, 3),
        np.arange(6, dtype=np.int32),
        np.arange(6.0),
        None,
        "None",
        b"None",
        ("a", "b"),
        ("ab",),
        (),
    )
    assert len({mark_of(value) for value in values}) == len(values)
    assert mark_of("a", "bc") != mark_of("ab", "c")
    assert mark_of(np.array([np.nan])) == mark_of(np.array([np.nan]))


def test_no_mark_is_made_of_what_has_no_content() -> None:
    with pytest.raises(TypeError):
        mark_of(object())


def test_an_equal_part_is_the_same_record_in_both_versions() -> None:
    moved = replace(sphere(12, 6), points=sphere(12, 6).points + 5.0)
    before, after = both(model(cube(), sphere(12, 6)), model(cube(), moved))
    assert after.parts[0] is before.parts[0]
    assert after.model.parts[0] is before.model.parts[0]
    assert after.parts[1].surface is not before.parts[1].surface
    np.testing.assert_array_equal(after.parts[1].surface.points, moved.points)


def test_other_uvs_leave_the_form_and_what_is_seen_of_it() -> None:
    whole = cube()
    lost = replace(whole, uvs=np.where(whole.uvs > 0.5, np.nan, whole.uvs))
    before, after = both(model(whole), model(lost))
    assert after.parts[0].surface is before.parts[0].surface
    assert after.parts[0].shells is not before.parts[0].shells
    assert before.parts[0].topology.bad_uvs == 0
    assert after.parts[0].topology.bad_uvs == np.count_nonzero((whole.uvs > 0.5).any(axis=1))
    seen = [one.viewing[0] for one in (before, after)]
    if seen[0] is not None and seen[1] is not None:  # else no rays can be traced here
        assert seen[1].exposure is seen[0].exposure
        assert seen[1].budget != seen[0].budget


def test_every_field_of_a_part_counts() -> None:
    """With any one field changed, the record that comes back holds the part as it now is."""
    part = cube()
    corners, faces = len(part.corner_point), part.face_count
    other = {
        "name": "crate",
        "points": part.points * 2.0,
        "corner_point": np.roll(part.corner_point, 1),
        "face_start": np.r_[part.face_start[:-2], part.face_start[-1], part.face_start[-1]],
        "uvs": part.uvs * 0.5,
        "corner_uv": np.full(corners, -1),
        "further_uvs": (UvSet(name="light", uvs=part.uvs, corner_uv=part.corner_uv),),
        "materials": ("brass",),
        "face_material": np.zeros(faces),
        "face_smoothing": np.ones(faces),
        "normals": np.eye(3),
        "corner_normal": np.zeros(corners),
        "transform": np.diag([1.0, 2.0, 1.0, 1.0]),
    }
    assert set(other) == {field.name for field in fields(Part)}
    part = replace(part, materials=("tin",), normals=np.ones((1, 3)))
    memory = Memory()
    first = examine(model(part), Settings(), memory=memory)
    for name, value in other.items():
        changed = replace(part, **{name: value})
        found = examine(model(changed), Settings(), memory=memory).parts[0]
        assert found.part is changed, name
        assert found is not first.parts[0], name


def test_other_settings_are_another_question() -> None:
    memory, asset = Memory(), model(cube())
    cage = Settings(parts=PartSettings(subdivide=("*",)))
    plain = examine(asset, Settings(), memory=memory)
    subdivided = examine(asset, cage, memory=memory)
    assert plain.parts[0].subdivision is None
    assert subdivided.parts[0].subdivision is not None


def test_a_shared_memory_changes_no_figure() -> None:
    before, after = model(cube(), sphere(12, 6)), model(sphere(12, 6), cube())
    _, shared = both(before, after)
    alone = examine(after, Settings())
    for name in ("face_area", "face_centre", "lengths"):
        for one, other in zip(shared.parts, alone.parts, strict=True):
            np.testing.assert_array_equal(getattr(one.surface, name), getattr(other.surface, name))
    for seen, told in zip(shared.viewing, alone.viewing, strict=True):
        assert (seen is None) == (told is None)
        if seen is not None and told is not None:
            np.testing.assert_array_equal(seen.exposure.face_seen, told.exposure.face_seen)
            assert seen.budget == told.budget
