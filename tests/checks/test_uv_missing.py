"""Faces without UVs."""

from dataclasses import replace

import numpy as np
import pytest
from edits import moved, without_uvs
from found import found, toml
from shapes import cube, polygons, sphere

from reviewbot.checks.subject import Subject
from reviewbot.checks.uv_missing import RULE
from reviewbot.measure.examine import examine
from reviewbot.mesh import Model
from reviewbot.settings import Settings

BARE = without_uvs(cube(name="handle"))


def test_silent_on_mapped_and_on_high_parts() -> None:
    assert found(RULE, cube(), sphere(8, 4)) == []
    assert found(RULE, cube(name="lid_low"), without_uvs(cube(name="lid_high"))) == []
    assert found(RULE, polygons(np.empty((0, 3)), [])) == []
    assert found(RULE, polygons(np.zeros((3, 3)), [(0, 1, 2)])) == []  # a face without area


def test_a_stop_where_others_are_unwrapped() -> None:
    (finding,) = found(RULE, cube(), BARE)
    assert (finding.part, finding.severity, finding.count) == ("handle", "stop", 6)
    assert finding.message == "This part has no UVs; unwrap it."


def test_a_stop_where_they_were_there_before() -> None:
    (finding,) = found(RULE, BARE, before=(cube(name="handle"),))
    assert (finding.part, finding.severity) == ("handle", "stop")
    (finding,) = found(RULE, BARE, moved(BARE, (3, 0, 0), name="b"), before=(cube(name="b"),))
    assert (finding.part, finding.severity) == ("", "stop")


def test_a_look_before_unwrapping_has_begun_and_said_once() -> None:
    (finding,) = found(RULE, BARE)
    assert (finding.part, finding.severity) == ("handle", "look")
    (finding,) = found(RULE, BARE, moved(BARE, (3, 0, 0), name="b"))
    assert (finding.part, finding.severity, finding.count) == ("", "look", 12)
    assert finding.message == "None of the 2 parts has UVs; unwrap them."


def test_some_faces_without() -> None:
    corner_uv = cube().corner_uv.copy()
    corner_uv[[0, 9]] = -1
    (finding,) = found(RULE, replace(cube(), corner_uv=corner_uv))
    assert (finding.severity, finding.count) == ("stop", 2)
    assert finding.value == pytest.approx(1 / 3)
    assert finding.message == "2 faces have no UVs; unwrap them too."


def test_a_look_on_a_hidden_part() -> None:
    settings = toml('[parts]\nhidden = ["handle"]')
    assert found(RULE, cube(), BARE, settings=settings)[0].severity == "look"


def test_a_format_without_uvs_is_named_as_the_cause() -> None:
    """STL holds normals and corners, and nothing else (the format's description, from memory)."""
    model = Model(parts=(BARE,), format="stl")
    subject = Subject(path="prop.stl", examination=examine(model, Settings()), settings=Settings())
    (finding,) = RULE.find(subject)
    assert "STL files cannot carry any, so export to a format that does." in finding.message
