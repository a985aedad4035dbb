"""The colour of clay, and the breath of colour that tells parts apart."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import IndexArray
from reviewbot.render.colours import category_lights
from reviewbot.render.samples import Floats32

_CLAY = np.array([0.42, 0.40, 0.375])  # light it throws back: a warm mid-grey
_PART_TINT = 0.11


def part_albedo(part_colour: IndexArray) -> Floats32:
    """(parts, 3) clay with a breath of each part's colour; plain for a single part."""
    if len(part_colour) < 2:
        return np.tile(_CLAY, (len(part_colour), 1)).astype(np.float32)
    tints = category_lights(part_colour).astype(np.float64)
    tints *= _CLAY.mean() / tints.mean(axis=1, keepdims=True)
    return np.asarray((1 - _PART_TINT) * _CLAY + _PART_TINT * tints, dtype=np.float32)
