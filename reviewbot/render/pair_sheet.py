"""Sheets of several views, each before left and after right: checker, heat maps, seams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.render.canvas import NOTE, beside, flow, framed, sheet, text, under
from reviewbot.render.colours import MUTED, Image, srgb_from_linear
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.heat import HeatScale, colours_of, share_on
from reviewbot.render.panels import named_views, pair
from reviewbot.render.picture import Picture

_BAR_WIDTH, _BAR_HEIGHT = 560, 30


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewPair:
    """One view, cropped alike; None where there is no such version."""

    name: str
    before: Image | None
    after: Image | None


def laid_out(pairs: Sequence[ViewPair]) -> Image:
    """All views, in even rows."""
    return flow([pair(view.name, view.before, view.after) for view in pairs])


def pair_sheet(
    pairs: Sequence[ViewPair],
    body: Sequence[Image],
    *,
    kind: str,
    title: str,
    note: str,
    caption: str,
    code: str = "",
) -> Picture:
    """A sheet of views.

    body     the views laid out, and their key below
    note     how to read it, printed in the picture
    caption  what it shows; the views are added
    """
    names = named_views([view.name for view in pairs])
    versions = _versions(pairs)
    return shaded_picture(
        sheet(title, note, body),
        kind=kind,
        name=kind,
        caption=f"{caption} Seen in {names}{versions}.",
        alt=f"{title}: {names}{versions}",
        code=code,
    )


def _versions(pairs: Sequence[ViewPair]) -> str:
    both = any(view.before is not None and view.after is not None for view in pairs)
    return ", before left and after right" if both else ""


def scale_key(scale: HeatScale, *, no_value: str) -> Image:
    """The scale as a bar with its values, and what its ends mean."""
    colours = srgb_from_linear(colours_of(scale, np.linspace(0, 1, _BAR_WIDTH)))
    bar = np.broadcast_to(colours, (_BAR_HEIGHT, _BAR_WIDTH, 3)).copy()
    values = _tick_line(scale)
    high = f"{scale.high_means} ({scale.unit})" if scale.unit else scale.high_means
    means = [text(scale.low_means), under([framed(bar), values], gap=2), text(high)]
    return under([beside(means, gap=14), text(no_value, colour=MUTED)], gap=4)


def _tick_line(scale: HeatScale) -> Image:
    line = np.full((round(NOTE * 1.35), _BAR_WIDTH, 3), 255, dtype=np.uint8)
    places = share_on(scale, np.array(scale.ticks, dtype=np.float64))
    for value, place in zip(scale.ticks, places.tolist(), strict=True):
        word = text(f"{value:g}")
        middle = round(place * (_BAR_WIDTH - 1))
        left = int(np.clip(middle - word.shape[1] // 2, 0, _BAR_WIDTH - word.shape[1]))
        line[: word.shape[0], left : left + word.shape[1]] = word
    return line
