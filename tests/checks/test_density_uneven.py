"""Uneven texture density."""

import pytest
from edits import moved, uvs_placed, without_faces, without_uvs
from found import found, toml
from shapes import box, cube, joined, sphere

from reviewbot.checks.density_uneven import RULE
from reviewbot.mesh import Part


def small(part: Part, scale: float, x: float, name: str = "") -> Part:
    return moved(uvs_placed(part, scale=scale), (x, 0, 0), name=name)


def test_silent_on_even_parts() -> None:
    assert found(RULE, joined(cube(), small(cube(), 0.6, 3))) == []
    assert found(RULE, cube(), small(cube(), 0.6, 3, "b"), without_uvs(sphere(8, 4))) == []


def test_fires_on_a_shell_unlike_the_rest_of_its_part() -> None:
    part = joined(cube(side=2), small(cube(side=2), 1, 3), small(cube(), 0.1, 7))
    (finding,) = found(RULE, part)
    assert (finding.severity, finding.count) == ("look", 1)
    assert finding.value == pytest.approx(5)  # half the size, a tenth of the UVs
    assert finding.at[0] > 6


def test_notes_a_part_unlike_the_others() -> None:
    (finding,) = found(RULE, cube(), small(cube(), 1, 3, "b"), small(cube(), 0.3, 6, "c"))
    assert (finding.severity, finding.part) == ("note", "c")
    assert finding.value == pytest.approx(1 / 0.3)


def test_silent_where_importance_says_so() -> None:
    parts = (cube(), small(cube(), 1, 3, "b"), small(cube(), 0.3, 6, "c"))
    for kind in ("hero", "hidden"):
        assert found(RULE, *parts, settings=toml(f'[parts]\n{kind} = ["c"]')) == []


def test_silent_on_less_texture_where_nobody_looks() -> None:
    """What is hidden gets very little; common practice, no source."""
    shell = joined(box((-9, -9, -9), (9, 9, 9)), small(cube(side=3), 0.01, 0))
    assert found(RULE, shell) == []
    seen = joined(without_faces(box((-9, -9, -9), (9, 9, 9)), [0]), small(cube(side=3), 0.01, 20))
    assert len(found(RULE, seen)) == 1


def test_silent_on_specks_and_collapsed_shells() -> None:
    assert found(RULE, joined(cube(), small(cube(side=0.01), 1, 3))) == []
    assert found(RULE, joined(cube(), small(cube(), 0, 3))) == []
