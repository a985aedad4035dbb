"""Pictures that materials ask for and that are not there."""

from dataclasses import replace

import numpy as np
from shapes import cube, model

from reviewbot.checks.finding import Finding
from reviewbot.checks.subject import Subject
from reviewbot.checks.texture_missing import RULE
from reviewbot.measure.examine import examine
from reviewbot.mesh import Material, Part
from reviewbot.readers.textures import textures_of
from reviewbot.settings import Settings

HERE = {"maps/glass.png": b"any bytes: they are only looked for"}


def painted(name: str, material: str) -> Part:
    part = cube(name=name)
    return replace(part, materials=(material,), face_material=np.zeros(part.face_count, np.int32))


def found(parts: list[Part], *materials: Material) -> list[Finding]:
    of = replace(model(*parts), materials=materials)
    textures = textures_of(of, HERE.get, place="in the repository at this commit", decode=None)
    examination = examine(of, Settings(), textures=textures)
    subject = Subject(path="props/lamp.obj", examination=examination, settings=Settings())
    return list(RULE.find(subject))


def test_silent() -> None:
    glass = Material(name="glass", base_colour_file="maps/glass.png")
    unused = Material(name="unused", base_colour_file="maps/gone.png")
    inside = Material(name="inside", base_colour_file="gone.png", base_colour_data=b"1")
    parts = [painted("globe", "glass"), painted("cap", "inside"), painted("hook", "iron")]
    assert found(parts, glass, unused, inside, Material(name="iron")) == []
    assert found([], unused) == []


def test_fires_once_a_picture_and_says_who_names_it() -> None:
    brass = Material(name="brass", base_colour_file="maps/brass.png", named_in="lamp.mtl")
    old = Material(name="old brass", base_colour_file="maps/brass.png", named_in="lamp.mtl")
    (one,) = found([painted("cap", "brass"), painted("base", "old brass")], brass, old)
    assert (one.code, one.severity, one.part, one.count) == ("texture-missing", "look", "", 2)
    assert one.message.startswith(
        "'lamp.mtl' names the picture 'maps/brass.png' for material 'brass' and 1 more, but it is "
        "not in the repository at this commit;"
    )


def test_fires_for_a_place_on_one_machine_at_its_part() -> None:
    iron = Material(name="iron", base_colour_file="D:\\work\\iron.png")
    (one,) = found([painted("hook", "iron"), painted("rod", "none")], iron)
    assert one.part == "hook"
    assert "'lamp.obj' names the picture 'D:\\work\\iron.png'" in one.message
    assert "a path on a drive" in one.message
