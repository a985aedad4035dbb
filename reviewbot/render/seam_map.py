"""Seams on the form: kept, cut and sewn told apart by colour and by dash, hidden ones dimmed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.mesh import FloatArray
from reviewbot.render.canvas import framed, legend
from reviewbot.render.colours import (
    BACKDROP,
    BLUE,
    INK,
    VERMILLION,
    Image,
    light_of,
    srgb_from_linear,
)
from reviewbot.render.lines import LineStyle, draw_lines, over, stroke
from reviewbot.render.panels import pale_light
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer

KEPT = LineStyle(colour=INK, width=2.4, hidden_share=0.16)
CUT = LineStyle(colour=VERMILLION, width=5.0)
SEWN = LineStyle(colour=BLUE, width=5.0, dash=9.0, gap=7.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamLines:
    """Seams as segments (K, 2, 3) in the space of the scenes.

    kept  in both versions, as they lie in the one that is drawn
    cut   only after; sewn  only before
    """

    kept: FloatArray
    cut: FloatArray
    sewn: FloatArray


def seam_image(view: ViewBuffer, shade: Floats32, seams: SeamLines, *, is_after: bool) -> Image:
    """(H, W, 3) one version's seams: kept and cut ones after, kept and sewn ones before."""
    light = draw_lines(pale_light(view, shade), view, seams.kept, KEPT)
    own, style = (seams.cut, CUT) if is_after else (seams.sewn, SEWN)
    return srgb_from_linear(draw_lines(light, view, own, style))


def seam_key(width: int) -> Image:
    """What the lines mean."""
    return legend(
        [
            (_line_swatch(KEPT), "kept"),
            (_line_swatch(CUT), "cut: new in the version after"),
            (_line_swatch(SEWN), "sewn: gone in the version after"),
            (_line_swatch(KEPT, strength=KEPT.hidden_share), "behind the form"),
        ],
        width=width,
    )


def _line_swatch(style: LineStyle, *, strength: float = 1.0) -> Image:
    height, width = 30, 72
    paper = np.broadcast_to(light_of(BACKDROP), (height, width, 3)).astype(np.float32)
    x = np.arange(6, width - 6, 1 / 3)
    if style.dash > 0:
        x = x[np.mod(x - 6, style.dash + style.gap) < style.dash]
    cover = stroke(x, np.full(len(x), height / 2), style.width, height, width)
    return framed(srgb_from_linear(over(paper, cover * np.float32(strength), style.colour)))
