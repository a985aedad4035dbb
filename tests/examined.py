"""One part, or several, examined at the default settings, for the tests."""

from __future__ import annotations

from reviewbot.measure.examine import Examination, PartExamination, examine
from reviewbot.mesh import Material, Model, Part
from reviewbot.settings import Settings


def examined(*parts: Part, materials: tuple[Material, ...] = ()) -> Examination:
    return examine(Model(parts=parts, format="obj", materials=materials), Settings())


def examined_part(part: Part) -> PartExamination:
    return examined(part).parts[0]
