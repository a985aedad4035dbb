"""Copies stacked on purpose are said, not blamed."""

from edits import moved, uvs_placed
from found import found
from shapes import cube, grid, joined, sphere

from reviewbot.checks.uv_stacked import RULE


def test_silent_without_copies() -> None:
    assert found(RULE, cube(), uvs_placed(sphere(8, 4), scale=0.3, by=(0.6, 0.6))) == []
    assert found(RULE) == []


def test_says_what_is_saved() -> None:
    rivets = joined(
        *(moved(uvs_placed(cube(), scale=0.2), (3 * k, 0, 0)) for k in range(6)), name="rivets"
    )
    (finding,) = found(
        RULE, rivets, moved(uvs_placed(grid(2, 2), scale=0.1, by=(0.8, 0)), (0, 9, 0))
    )
    assert (finding.severity, finding.count, finding.part) == ("note", 5, "")
    assert finding.message == (
        "6 identical shells share 1 place in the UVs (rivets), which saves texture."
    )


def test_says_how_many_are_mirrored() -> None:
    other = uvs_placed(moved(grid(3, 3), (3, 0, 0)), scale=(-1, 1), by=(1, 0))
    (finding,) = found(RULE, joined(grid(3, 3), other, name="wings"))
    assert finding.message.startswith("2 identical shells, 1 of them mirrored, share 1 place")
