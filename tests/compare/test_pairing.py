"""Which part is which: by name, by place, by shape."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from comparing import changes, codes, compared, every_part, with_part
from mutations.faces import faces_of, used_points_only, with_faces
from mutations.plants import _joined as joined
from mutations.reexports import everything_at_once
from mutations.subjects import prop, rivets

from reviewbot.mesh import Model, Part


def named(model: Model, name: str) -> Part:
    return next(part for part in model.parts if part.name == name)


def shaken(model: Model) -> Model:
    return everything_at_once(model, np.random.default_rng(9))


def test_a_renamed_part_is_no_new_part() -> None:
    after = with_part(prop(), "box", lambda part: replace(part, name="chest"))
    (change,) = changes(prop(), after)
    assert (change.code, change.part) == ("part-renamed", "chest")
    assert change.message == "'box' is called 'chest' now."


def test_all_parts_renamed_alike_are_one_change() -> None:
    after = every_part(prop(), lambda part: replace(part, name=f"{part.name}_low"))
    (change,) = changes(prop(), after)
    assert (change.code, change.part) == ("part-renamed", "")
    assert "'_low' was put behind" in change.message


def test_all_parts_renamed_each_in_its_own_way_are_still_the_same_parts() -> None:
    names = iter("qwert")
    after = every_part(prop(), lambda part: replace(part, name=next(names)))
    assert codes(prop(), shaken(after)) == sorted(
        (f"part-renamed {name}" for name in "qwert"),
        key=[f"part-renamed {part.name}" for part in shaken(after).parts].index,
    )


def test_renamed_and_moved() -> None:
    def edit(part: Part) -> Part:
        return replace(part, name="chest", points=part.points + np.array([0, 0.7, 0]))

    assert codes(prop(), shaken(with_part(prop(), "box", edit))) == [
        "part-moved chest",
        "part-renamed chest",
    ]


def test_added_and_removed() -> None:
    without = replace(prop(), parts=prop().parts[1:])
    (gone,) = changes(prop(), without)
    assert (gone.code, gone.part) == ("part-removed", "globe")
    (new,) = changes(without, prop())
    assert (new.code, new.part) == ("part-added", "globe")
    assert f"{named(prop(), 'globe').face_count} faces" in new.message


def test_parts_joined_under_either_name() -> None:
    globe, ring, *rest = prop().parts
    for name in ("globe", "ring", "both"):
        after = replace(prop(), parts=(replace(joined(globe, ring), name=name), *rest))
        (change,) = changes(prop(), shaken(after))
        assert (change.code, change.part) == ("parts-joined", name)
        assert change.value == 2


def test_a_part_split_in_two() -> None:
    globe = named(prop(), "globe")
    faces = faces_of(globe)
    pieces = (
        used_points_only(with_faces(globe, faces[:150])),
        used_points_only(with_faces(replace(globe, name="cap"), faces[150:])),
    )
    (change,) = changes(prop(), replace(prop(), parts=(*pieces, *prop().parts[1:])))
    assert change.code == "part-split"
    assert change.message == "'globe' was split into globe and cap."


def test_a_small_piece_split_off() -> None:
    globe = named(prop(), "globe")
    faces = faces_of(globe)
    pieces = (
        used_points_only(with_faces(globe, faces[2:])),
        used_points_only(with_faces(replace(globe, name="chip"), faces[:2])),
    )
    after = replace(prop(), parts=(*pieces, *prop().parts[1:]))
    assert [c.code for c in changes(prop(), after)] == ["part-split"]


def test_identical_copies_are_told_apart_by_place() -> None:
    after = with_part(
        rivets(), "rivet_3", lambda p: replace(p, points=p.points + np.array([0, 0, 0.2]))
    )
    assert codes(rivets(), shaken(after)) == ["part-moved rivet_3"]
    fewer = replace(rivets(), parts=rivets().parts[:4] + rivets().parts[5:])
    assert codes(rivets(), shaken(fewer)) == ["part-removed rivet_4"]


def test_a_copy_left_behind_is_a_new_part() -> None:
    copy = replace(named(prop(), "box"), name="box_copy")
    after = replace(prop(), parts=(*prop().parts, copy))
    assert codes(prop(), after) == ["part-added box_copy"]


def test_parts_of_one_name_are_paired_by_place() -> None:
    same = every_part(rivets(), lambda p: replace(p, name="bolt"))
    assert codes(same, shaken(same)) == []
    moved = replace(
        same,
        parts=(
            *same.parts[:-1],
            replace(same.parts[-1], points=same.parts[-1].points + np.array([0, 0.5, 0])),
        ),
    )
    assert [c.code for c in changes(same, moved)] == ["part-moved"]


def test_swapped_names_follow_the_shapes() -> None:
    names = {"globe": "ring", "ring": "globe"}
    after = every_part(prop(), lambda p: replace(p, name=names.get(p.name, p.name)))
    assert sorted(codes(prop(), after)) == ["part-renamed globe", "part-renamed ring"]


def test_empty_parts_are_parts_too() -> None:
    empty = Part(
        name="nothing", points=np.empty((0, 3)), corner_point=np.empty(0), face_start=np.zeros(1)
    )
    with_empty = replace(prop(), parts=(*prop().parts, empty))
    assert codes(with_empty, with_empty) == []
    assert codes(prop(), with_empty) == ["part-added nothing"]
    nothing = Model(parts=(), format="obj")
    assert codes(nothing, nothing) == []
    assert len(changes(prop(), nothing)) == len(prop().parts)


def test_every_part_of_both_versions_is_matched_once() -> None:
    after = replace(prop(), parts=prop().parts[1:])
    after = with_part(after, "box", lambda part: replace(part, name="chest"))
    matches = compared(prop(), after).matches
    assert sorted(m.before for m in matches if m.before is not None) == [0, 1, 2, 3, 4]
    assert sorted(m.after for m in matches if m.after is not None) == [0, 1, 2, 3]
    assert {m.form for m in matches} == {"same", "removed"}
