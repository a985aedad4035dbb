"""How plots of a period look: letters, lines, colours, and how they become files.

Colours are Okabe and Ito's, letters those of the other pictures, paper white: a plot is read in a
comment as it is on the page.
"""

from __future__ import annotations

import io
from functools import cache
from importlib import resources

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from reviewbot.render.colours import INK, MUTED, PAPER, RULE, Rgb
from reviewbot.render.picture import Picture

DPI = 200  # pictures are laid out 1660 pixels wide and shown at half that
WIDTH = 1660 / DPI
TEXT = 24 * 72 / DPI  # points: 24 pixels, read at 12
TITLE = 26 * 72 / DPI
HEAD = 36 * 72 / DPI


@cache
def font(points: float) -> FontProperties:
    """The letters of all pictures, so large."""
    file = resources.files("reviewbot.render").joinpath("fonts/Inter-roman.var.ttf")
    with resources.as_file(file) as path:
        return FontProperties(fname=str(path), size=points)


def colour_of(colour: Rgb) -> tuple[float, float, float]:
    """As shares of 1."""
    red, green, blue = (channel / 255 for channel in colour)
    return red, green, blue


def blank(height: float, title: str) -> Figure:
    """A sheet as wide as all pictures, `height` inches high, under its title."""
    figure = Figure(figsize=(WIDTH, height), dpi=DPI, facecolor=colour_of(PAPER))
    top = 1 - 0.25 / height
    figure.text(0.012, top, title, va="center", fontproperties=font(HEAD), color=colour_of(INK))
    return figure


def dress(axes: Axes, title: str) -> None:
    """Calm axes: a ground line, thin levels, no box."""
    if title:
        axes.set_title(title, loc="left", fontproperties=font(TITLE), color=colour_of(INK))
    axes.set_facecolor(colour_of(PAPER))
    axes.grid(axis="y", color=colour_of(RULE), linewidth=0.8)
    axes.set_axisbelow(True)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(colour_of(MUTED))
    axes.tick_params(which="both", colors=colour_of(MUTED), length=0, pad=5)


def finished(figure: Figure, *, name: str, caption: str, alt: str) -> Picture:
    """The same figure gives the same bytes."""
    for axes in figure.axes:
        for tick in (*axes.get_xticklabels(), *axes.get_yticklabels()):
            tick.set_fontproperties(font(TEXT))
            tick.set_color(colour_of(MUTED))
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=DPI, metadata={"Software": None})
    width, height = (round(inches * DPI) for inches in figure.get_size_inches().tolist())
    return Picture(
        kind="progress",
        name=name,
        data=buffer.getvalue(),
        suffix=".png",
        width=width,
        height=height,
        caption=caption,
        alt=alt,
    )
