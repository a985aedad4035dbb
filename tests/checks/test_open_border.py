"""Holes, and sheets that are meant to be open."""

import pytest
from edits import rebuilt, unshared, without_faces
from found import found, toml
from shapes import cube, grid, sphere, torus

from reviewbot.checks.open_border import RULE


@pytest.mark.parametrize("part", [cube(), unshared(cube()), torus(9, 6)])
def test_silent_on_solids(part) -> None:
    assert found(RULE, part) == []


def test_silent_where_another_part_goes_on() -> None:
    lower, upper = rebuilt(cube(name="lower"), [0, 1, 2]), rebuilt(cube(name="upper"), [3, 4, 5])
    assert found(RULE, lower, upper) == []


def test_silent_on_what_the_settings_call_open() -> None:
    flag = grid(3, 3, name="flag_low")
    assert found(RULE, flag, settings=toml('[parts]\nopen_sheets = ["flag_*"]')) == []
    assert (
        found(RULE, without_faces(cube(), [0]), settings=toml('[parts]\nopen_sheets = ["*"]')) == []
    )


def test_fires_on_a_hole() -> None:
    (finding,) = found(RULE, without_faces(sphere(24, 12), [100, 180]))
    assert (finding.severity, finding.count, finding.unit) == ("look", 2, "units")
    assert finding.message.startswith("2 holes")
    (finding,) = found(RULE, without_faces(cube(), [0]))
    assert (finding.count, finding.value, finding.at) == (1, 4, (0, 0, 0.5))


def test_notes_the_rim_of_a_sheet() -> None:
    (finding,) = found(RULE, grid(3, 3))
    assert (finding.severity, finding.count, finding.value) == ("note", 1, pytest.approx(4))
    assert "open_sheets" in finding.message
