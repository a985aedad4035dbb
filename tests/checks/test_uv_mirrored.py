"""Mirrored and folded UVs."""

from dataclasses import replace

import pytest
from edits import moved, uvs_placed, with_turned_faces, without_uvs
from found import found, toml
from shapes import cube, grid, joined, sphere

from reviewbot.checks.uv_mirrored import RULE
from reviewbot.mesh import Part


def mirrored(part: Part, *, by: float = 1.0, name: str = "") -> Part:
    return uvs_placed(part, scale=(-1, 1), by=(by, 0), name=name)


@pytest.mark.parametrize("part", [cube(), sphere(8, 4), grid(3, 3), without_uvs(cube())])
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_silent_on_a_part_inside_out() -> None:
    assert found(RULE, with_turned_faces(cube(), range(6))) == []
    assert found(RULE, with_turned_faces(cube(), [2])) == []


def test_silent_on_a_half_stacked_on_its_upright_half() -> None:
    """Two halves of one symmetric thing share an unwrap; common practice, no source."""
    left = uvs_placed(grid(3, 3), scale=0.5)
    right = moved(mirrored(left, by=0.5), (2, 0, 0))
    assert found(RULE, joined(left, right)) == []
    assert found(RULE, left, replace(right, name="right")) == []


def test_silent_where_the_settings_allow_it() -> None:
    settings = toml('[parts]\nmirrored = ["wing_*"]')
    assert found(RULE, mirrored(cube(name="wing_l")), settings=settings) == []


def test_fires_on_a_shell_face_down() -> None:
    (finding,) = found(
        RULE, joined(uvs_placed(cube(), scale=0.4), moved(mirrored(cube()), (3, 0, 0)))
    )
    assert (finding.severity, finding.count) == ("look", 1)
    assert finding.message == "In the UVs 1 shell lies mirrored; turn it over."
    assert finding.at[0] > 2


def test_says_that_an_open_part_may_look_the_wrong_way_itself() -> None:
    (finding,) = found(RULE, with_turned_faces(grid(3, 3), range(9)))
    assert "if they look the wrong way" in finding.message


def test_fires_on_a_fold() -> None:
    uvs = grid(4, 1).uvs.copy()
    uvs[[2, 7], 0] = 0.9
    (finding,) = found(RULE, replace(grid(4, 1), uvs=uvs))
    assert (finding.count, "folded over" in finding.message) == (1, True)


def test_silent_on_a_speck() -> None:
    assert (
        found(RULE, joined(cube(), moved(uvs_placed(mirrored(cube()), scale=0.01), (3, 0, 0))))
        == []
    )


def test_silent_on_a_fold_that_takes_no_room() -> None:
    uvs = grid(4, 1).uvs.copy()
    uvs[[2, 7], 0] = 0.75 + 1e-4
    assert found(RULE, replace(grid(4, 1), uvs=uvs)) == []
