"""How finely the props are modelled, and outlines drawn with as much of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.demo.shapes import rounded
from reviewbot.mesh import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """How finely the lantern is modelled.

    around  quads round the widest bodies, per step of 8
    bevel   pieces a bevel is made of: 0 sharp, 1 cut, more round
    finest  smaller bevels are left to the bake, metres
    smooth  pieces between two knots of a curve
    rod     sides of a rod
    """

    around: int
    bevel: int
    finest: float
    smooth: int
    rod: int


LOW = Detail(around=1, bevel=1, finest=0.00055, smooth=2, rod=6)
HIGH = Detail(around=2, bevel=3, finest=0.0, smooth=6, rod=12)


def edged(corners: Sequence[tuple[float, float, float]], detail: Detail) -> FloatArray:
    """An outline with as much of its bevels as the detail has room for."""
    kept = [(r, y, bevel if bevel >= detail.finest else 0.0) for r, y, bevel in corners]
    return rounded(kept, detail.bevel)


def spot(radius: float, height: float) -> FloatArray:
    return np.array([[radius, height, 0.0]])
