"""Pieces that were moved besides being split off, or before they were joined."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from comparing import changes
from mutations.faces import faces_of, used_points_only, with_faces
from mutations.plants import _joined as joined
from mutations.reexports import everything_at_once
from scipy.spatial.transform import Rotation
from shapes import cube, grid, model, sphere, torus

from reviewbot.compare.astray import find_strays, laid_back
from reviewbot.compare.body import body_of
from reviewbot.compare.change import Change
from reviewbot.compare.pairing import pair_parts
from reviewbot.geometry.polygons import newell_vectors
from reviewbot.geometry.rigid import turn_of
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Model, Part

TURN = Rotation.from_rotvec([0, 0.4, 0.3]).as_matrix()
SHIFT = np.array([0.5, 0.9, -0.2])


def shaded(part: Part) -> Part:
    vectors = newell_vectors(part.points, part.corner_point, part.face_start)
    return replace(
        part,
        normals=vectors / np.linalg.norm(vectors, axis=1)[:, None],
        corner_normal=np.repeat(np.arange(part.face_count), np.diff(part.face_start)),
    )


def bumpy() -> Part:
    ball = sphere(16, 10, name="shade")
    bump = 1 + 0.2 * np.sin(3 * ball.points[:, :1] + 1) * np.cos(2 * ball.points[:, 1:2] + 0.5)
    return shaded(replace(ball, points=ball.points * bump))


def foot() -> Part:
    return shaded(replace(cube(name="foot"), points=cube().points + np.array([0, -3, 0])))


def halves(part: Part) -> tuple[Part, Part]:
    faces = faces_of(part)
    middle = len(faces) // 2
    return tuple(
        used_points_only(replace(with_faces(part, some), name=name))
        for some, name in ((faces[:middle], part.name), (faces[middle:], f"{part.name}_top"))
    )


def moved(part: Part, *, normals: bool = True) -> Part:
    turned = part.normals @ TURN.T if normals else part.normals
    return replace(part, points=part.points @ TURN.T + SHIFT, normals=turned)


def told(before: Model, after: Model) -> tuple[Change, ...]:
    plain = changes(before, after)
    disordered = changes(before, everything_at_once(after, np.random.default_rng(2)))
    key = [sorted((change.code, change.part) for change in some) for some in (plain, disordered)]
    assert key[0] == key[1]
    return plain


@pytest.mark.parametrize("normals", [True, False], ids=["normals turned", "normals left behind"])
def test_a_piece_split_off_and_moved(normals: bool) -> None:
    lower, top = halves(bumpy())
    after = model(lower, moved(top, normals=normals), foot())
    split, move = sorted(told(model(bumpy(), foot()), after), key=lambda c: c.code, reverse=True)
    assert (split.code, move.code, move.part) == ("part-split", "part-moved", "shade_top")
    middle = (top.points.min(axis=0) + top.points.max(axis=0)) / 2
    went = np.linalg.norm(middle @ TURN.T + SHIFT - middle)
    assert move.value == pytest.approx(went, rel=1e-3)


@pytest.mark.parametrize("normals", [True, False], ids=["normals turned", "normals left behind"])
def test_a_part_moved_before_it_was_joined(normals: bool) -> None:
    ring = shaded(torus(14, 9, name="ring"))
    one = joined(bumpy(), moved(ring, normals=normals))
    found = told(model(bumpy(), ring, foot()), model(one, foot()))
    assert sorted(change.code for change in found) == ["part-moved", "parts-joined"]
    (move,) = [change for change in found if change.code == "part-moved"]
    assert "'ring'" in move.message


def test_normals_that_were_bent_on_the_moved_piece_are_told_all_the_same() -> None:
    lower, top = halves(bumpy())
    bent = top.normals + np.array([0.0, 0.8, 0.3])
    other = replace(moved(top), normals=bent / np.linalg.norm(bent, axis=1)[:, None])
    codes = sorted(
        change.code for change in told(model(bumpy(), foot()), model(lower, other, foot()))
    )
    assert codes == ["normals-changed", "part-moved", "part-split"]


def test_a_piece_split_off_where_it_lay_went_nowhere() -> None:
    (split,) = told(model(bumpy(), foot()), model(*halves(bumpy()), foot()))
    assert split.code == "part-split"


def test_a_new_part_of_about_as_many_faces_is_no_piece() -> None:
    lower, top = halves(bumpy())
    other = shaded(grid(top.face_count // 4 + 1, 4, name="sheet"))
    other = replace(other, points=other.points + np.array([5, 0, 0]))
    assert 0 < other.face_count - top.face_count <= 4
    codes = sorted(
        change.code for change in told(model(bumpy(), foot()), model(lower, other, foot()))
    )
    assert codes == ["faces-removed", "part-added"]


def test_a_bent_copy_joined_to_its_like_is_not_taken_for_the_like() -> None:
    """Both copies are laid where the one lies that was not bent; one place holds one piece."""
    copy = replace(bumpy(), name="copy", points=bumpy().points + np.array([4, 0, 0]))
    wide = replace(bumpy(), points=bumpy().points * [1, 1.3, 1])
    found = told(model(bumpy(), copy, foot()), model(joined(wide, copy), foot()))
    assert sorted(change.code for change in found) == ["parts-joined", "reshaped"]


def test_the_way_back_is_known() -> None:
    lower, top = halves(bumpy())
    before = [body_of(part, find_shells(part)) for part in (bumpy(),)]
    after = [body_of(part, find_shells(part)) for part in (lower, moved(top))]
    (stray,) = find_strays(pair_parts(before, after, 1e-5), before, after, 1e-5)
    assert (stray.row, stray.after) == (1, True)
    assert turn_of(stray.turn)[0] == pytest.approx(np.degrees(0.5), abs=1e-3)
    back = laid_back(after, [stray], after=True)
    assert back[0] is after[0]
    assert back[1].points == pytest.approx(top.points, abs=1e-5)
    assert laid_back(before, [stray], after=False)[0] is before[0]


def test_nothing_strays_where_nothing_changed() -> None:
    bodies = [body_of(part, find_shells(part)) for part in (bumpy(), foot())]
    assert not find_strays(pair_parts(bodies, bodies, 1e-5), bodies, bodies, 1e-5)
