"""Where the asset stands. Common practice, no source: the middle of its bottom on the origin."""

import pytest
from found import found, toml
from shapes import box, cube, polygons

from reviewbot.checks.off_origin import RULE
from reviewbot.mesh import Part

STANDING = box((-1, 0, -0.5), (1, 3, 0.5))
HANDLE = box((1, 1, -0.1), (2, 2, 0.1), "handle")


@pytest.mark.parametrize(
    "parts",
    [
        (STANDING,),
        (STANDING, HANDLE),  # stands on its foot, whatever sticks out
        (box((-1, 0.01, -0.5), (1, 3.01, 0.5)),),  # within what anybody sees
        (polygons([], []),),
        (),
    ],
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts) == []


def test_silent_where_the_settings_let_it_stand_anywhere() -> None:
    anywhere = toml('[placement]\norigin = "any"')
    assert found(RULE, box((8, 8, 8), (9, 9, 9)), settings=anywhere) == []


@pytest.mark.parametrize(
    ("part", "severity", "value"),
    [
        (cube(), "note", 0.5),  # about its own middle
        (box((-1, 0.3, -1), (1, 3.3, 1)), "note", 0.1),  # floats
        (box((9, 0, -1), (11, 4, 1)), "look", 2.5),  # left somewhere in a scene
    ],
)
def test_fires(part: Part, severity: str, value: float) -> None:
    (finding,) = found(RULE, part)
    assert (finding.part, finding.severity) == ("", severity)
    assert finding.value == pytest.approx(value)
    assert finding.at is not None


def test_the_axis_that_is_up_comes_from_the_file_else_from_the_settings() -> None:
    lying = box((-1, -0.5, 0), (1, 0.5, 3))
    assert found(RULE, lying, up_axis="z") == []
    assert found(RULE, lying, settings=toml('[placement]\nup = "z"')) == []
    assert len(found(RULE, lying)) == 1
