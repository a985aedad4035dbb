"""A part that was subdivided as a whole, and what else was done to it before the step or after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from comparing import changes
from mutations import plants
from mutations.reexports import everything_at_once
from shapes import grid, model, sphere, torus

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.stepped import Stepped, find_step
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Model, Part

Edit = Callable[[Part, np.random.Generator], Part | None]
TOLERANCE = 1e-5


def edited(part: Part, *edits: Edit) -> Part:
    for edit in edits:
        done = edit(part, np.random.default_rng(4))
        assert done is not None
        part = done
    return part


def body(part: Part) -> Body:
    return body_of(part, find_shells(part))


def step_between(before: Part, after: Part) -> Stepped | None:
    still = np.zeros(before.face_count, dtype=bool)
    return find_step(body(before), body(after), still, TOLERANCE)


def told(before: Part, after: Part) -> list[str]:
    disordered = everything_at_once(model(after), np.random.default_rng(5))
    codes = [[change.code for change in changes(model(before), one)]
             for one in (model(after), disordered)]  # fmt: skip
    assert codes[0] == codes[1]
    return sorted(codes[0])


def bumpy() -> Part:
    ball = sphere(16, 10)
    bump = 1 + 0.2 * np.sin(3 * ball.points[:, :1] + 1) * np.cos(2 * ball.points[:, 1:2] + 0.5)
    return replace(ball, points=ball.points * bump)


@pytest.mark.parametrize("smooth", [False, True])
def test_a_step_is_found_with_where_each_face_came_from(smooth: bool) -> None:
    step = plants.subdivided_smooth if smooth else plants.subdivided_flat
    found = step_between(bumpy(), edited(bumpy(), step))
    assert found is not None
    assert found.smooth == smooth
    assert (found.smoothed_by > 0) == smooth
    assert found.recut is None
    assert found.moved_by == 0
    assert not found.moved.any()
    sizes = np.diff(bumpy().face_start)
    assert np.bincount(found.face).tolist() == sizes.tolist()


def test_how_far_points_went_besides_is_known() -> None:
    after = edited(bumpy(), plants.subdivided_flat)
    wide = replace(after, points=after.points * [1.5, 1, 1])
    found = step_between(bumpy(), wide)
    assert found is not None
    assert found.moved_by == pytest.approx(0.5 * np.abs(bumpy().points[:, 0]).max(), rel=0.05)


@pytest.mark.parametrize(
    "other",
    [sphere(32, 20), torus(40, 20), replace(sphere(33, 19), points=sphere(33, 19).points * 1.02)],
    ids=["another ball", "a ring", "a ball a little larger"],
)
def test_other_polygons_of_about_as_many_places_are_no_step(other: Part) -> None:
    assert step_between(bumpy(), other) is None


def test_no_step_gives_as_many_places_or_fewer() -> None:
    assert step_between(bumpy(), bumpy()) is None
    assert step_between(edited(bumpy(), plants.subdivided_flat), bumpy()) is None


def test_nothing_to_compare_is_no_step() -> None:
    nowhere = replace(bumpy(), points=np.full_like(bumpy().points, np.nan))
    assert step_between(nowhere, bumpy()) is None


@pytest.mark.parametrize("step", [plants.subdivided_flat, plants.subdivided_smooth])
def test_a_step_alone_is_told_alone(step: Edit) -> None:
    for part in (bumpy(), grid(9, 7), torus(14, 9)):
        assert told(part, edited(part, step)) == ["subdivided"]


def test_two_steps_are_told_as_one_change() -> None:
    twice = edited(bumpy(), plants.subdivided_smooth, plants.subdivided_smooth)
    assert told(bumpy(), twice) == ["subdivided"]


@pytest.mark.parametrize(
    ("edits", "codes"),
    [
        ([plants.subdivided_flat, plants.faces_removed], ["faces-removed", "subdivided"]),
        ([plants.subdivided_flat, plants.faces_added], ["faces-added", "subdivided"]),
        ([plants.subdivided_flat, plants.triangulated], ["subdivided", "triangulated"]),
        ([plants.triangulated, plants.subdivided_flat], ["subdivided", "triangulated"]),
        ([plants.partly_triangulated, plants.subdivided_smooth], ["subdivided", "triangulated"]),
        ([plants.faces_merged, plants.subdivided_flat], ["faces-merged", "subdivided"]),
        ([plants.faces_removed, plants.subdivided_flat], ["faces-removed", "subdivided"]),
        ([plants.stretched, plants.subdivided_flat], ["reshaped", "subdivided"]),
        ([plants.stretched, plants.subdivided_smooth], ["reshaped", "subdivided"]),
        ([plants.subdivided_smooth, plants.stretched], ["reshaped", "subdivided"]),
    ],
)
def test_what_was_done_before_the_step_or_after_it_is_told_besides(
    edits: list[Edit], codes: list[str]
) -> None:
    assert told(bumpy(), edited(bumpy(), *edits)) == codes


def test_pieces_of_a_step_that_were_merged_are_told_besides() -> None:
    bare = replace(bumpy(), uvs=np.empty((0, 2)), corner_uv=np.empty(0, np.int32))
    after = edited(bare, plants.subdivided_flat, plants.faces_merged)
    assert told(bare, after) == ["faces-merged", "subdivided"]


def test_four_equal_parts_that_were_each_subdivided_are_not_taken_for_one() -> None:
    """Together three of them have just as many faces as one is short of its four times as many."""
    legs = [replace(bumpy(), name=f"leg_{k}", points=bumpy().points + np.array([4 * k, 0, 0]))
            for k in range(4)]  # fmt: skip
    after = Model(parts=tuple(edited(leg, plants.subdivided_flat) for leg in legs), format="obj")
    assert [change.code for change in changes(model(*legs), after)] == ["subdivided"]
