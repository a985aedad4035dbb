"""What is seen of parts standing together, for the tests."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.polygons import signed_areas
from reviewbot.measure.memory import Memory
from reviewbot.measure.shells import find_shells
from reviewbot.measure.surface import surface_of
from reviewbot.measure.viewing import Viewing, measure_viewing
from reviewbot.mesh import FloatArray, Part
from reviewbot.settings import Settings

NO_EYES = np.empty((0, 3))


def viewed(
    *parts: Part, settings: Settings | None = None, eyes: FloatArray = NO_EYES
) -> list[Viewing]:
    """One viewing a part; fails where one is not shown."""
    found = viewed_or_none(*parts, settings=settings, eyes=eyes)
    assert None not in found
    return [one for one in found if one is not None]


def viewed_or_none(
    *parts: Part, settings: Settings | None = None, eyes: FloatArray = NO_EYES
) -> tuple[Viewing | None, ...]:
    return measure_viewing(
        parts,
        [surface_of(part) for part in parts],
        [find_shells(part) for part in parts],
        [signed_areas(part.uvs, part.corner_uv, part.face_start) for part in parts],
        settings or Settings(),
        eyes=eyes,
        memory=Memory(),
    )
