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
    knurl   quads round a knurled body
    carved  with what is left to the sculpt: knurls, the plate's waves
    """

    around: int
    bevel: int
    finest: float
    smooth: int
    rod: int
    knurl: int
    carved: bool

    @property
    def teeth(self) -> int:
        """Teeth of a knurl, four quads each; 0 where it is left smooth."""
        return self.knurl // 4 if self.carved else 0


LOW = Detail(around=1, bevel=1, finest=0.00055, smooth=2, rod=6, knurl=16, carved=False)
HIGH = Detail(around=2, bevel=3, finest=0.0, smooth=6, rod=12, knurl=64, carved=True)


def edged(corners: Sequence[tuple[float, float, float]], detail: Detail) -> FloatArray:
    """An outline with as much of its bevels as the detail has room for."""
    kept = [(r, y, bevel if bevel >= detail.finest else 0.0) for r, y, bevel in corners]
    return rounded(kept, detail.bevel)


def spot(radius: float, height: float) -> FloatArray:
    return np.array([[radius, height, 0.0]])
