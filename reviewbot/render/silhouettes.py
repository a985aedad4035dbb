"""Silhouettes laid over each other: what the outline lost, what it gained, and how far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage
from skimage.measure import find_contours

from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.render.canvas import LABEL, NOTE, beside, flow, framed, label, legend, sheet, under
from reviewbot.render.clay import hatch
from reviewbot.render.colours import (
    BACKDROP,
    BLUE,
    INK,
    ORANGE,
    VERMILLION,
    Image,
    Rgb,
    light_of,
    srgb_from_linear,
)
from reviewbot.render.compose import ViewImage
from reviewbot.render.differences import ViewDifference
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.lines import lay, over, stroke
from reviewbot.render.panels import Box, crop_box, faded
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Floats32

MOST = 3  # views shown
_LINE = 3.0


def changed_views(differences: Sequence[ViewDifference]) -> list[int]:
    """The views whose outline moved most, the most first; none where none moved."""
    order = sorted(
        range(len(differences)),
        key=lambda k: (-differences[k].outline_pixels, differences[k].silhouette_iou),
    )
    chosen: list[int] = []
    for k in order:
        # From straight across the outline is nearly the same, seen from its other side.
        across = [c for c in chosen if abs(c - k) * 2 == len(differences)]
        if differences[k].outline_pixels >= 1.0 and not across:
            chosen.append(k)
    return chosen[:MOST]


def silhouette_picture(
    before: Sequence[ViewImage],
    after: Sequence[ViewImage],
    differences: Sequence[ViewDifference],
    *,
    title: str,
    units_per_pixel: float,
    size: float,
) -> Picture | None:
    """Both outlines in the views where they moved most; None where they moved nowhere.

    units_per_pixel  of the views
    size             of the asset, in units; displacements are told as shares of it
    """
    chosen = changed_views(differences)
    if not chosen:
        return None
    box = crop_box([view.mask for k in chosen for view in (before[k], after[k])])
    panels = []
    for k in chosen:
        drawn = overlay(before[k], after[k], differences[k], box)
        told = _told(differences[k], units_per_pixel, size)
        names = [
            label(differences[k].name, drawn.shape[1], size=LABEL, weight="Medium"),
            *(label(line, drawn.shape[1], size=NOTE) for line in told.split(", ")),
        ]
        panels.append(under([under(names, gap=0), framed(drawn)], gap=4))
    body = flow(panels)
    worst = differences[chosen[0]]
    return shaded_picture(
        sheet(title, "", [body, _key(body.shape[1])]),
        kind="silhouette",
        name="silhouette",
        caption=(
            f"Both outlines over each other where they differ most. {worst.name}: "
            f"{_told(worst, units_per_pixel, size)}."
        ),
        alt=f"Outlines before and after, over each other; {_told(worst, units_per_pixel, size)}",
        code="silhouette-change",
    )


def _told(difference: ViewDifference, units_per_pixel: float, size: float) -> str:
    overlap = f"{100 * difference.silhouette_iou:.1f}% overlap"
    if not np.isfinite(difference.outline_pixels):
        return overlap
    share = difference.outline_pixels * units_per_pixel / size if size else 0.0
    return f"{100 * share:.1f}% of the size off, {overlap}"


def overlay(before: ViewImage, after: ViewImage, difference: ViewDifference, box: Box) -> Image:
    """(H, W, 3) the form of the version after, faded; lost and gained areas; both outlines.

    box  what is drawn of the view
    """
    height, width = after.mask.shape
    light = faded(after, box, ground=0.62, form=0.4)
    pixels = np.arange(height * width, dtype=np.int32).reshape(height, width)[box]
    old, new = before.mask[box], after.mask[box]
    falling = hatch(pixels, width, falling=True)
    lay(light, np.where(falling, np.float32(0.85), np.float32(0.3)) * (old & ~new), BLUE)
    lay(light, (new & ~old) * np.float32(0.75), ORANGE)
    _lay_outline(light, old, BLUE, dash=9.0)
    _lay_outline(light, new, INK, dash=0.0)
    if difference.outline_at is not None:
        x, y = difference.outline_at
        light = ring(light, (x - box[1].start, y - box[0].start), 16.0, VERMILLION)
    return srgb_from_linear(light)


def _lay_outline(light: Floats32, mask: BoolArray, colour: Rgb, *, dash: float) -> None:
    places = [np.empty((0, 2))]
    padded = ndimage.gaussian_filter(np.pad(mask, 1).astype(np.float32), 0.8)
    for contour in find_contours(padded, 0.5):  # type: ignore[no-untyped-call]
        run = _along(contour)
        fine = np.arange(0, run[-1], 1 / 3)
        path = np.stack([np.interp(fine, run, contour[:, k]) for k in (0, 1)], axis=1)
        places.append(path if dash == 0 else path[np.mod(fine, 2 * dash) < dash])
    path = np.concatenate(places) - 0.5  # contours run through pixels' middles, padded by one
    lay(light, stroke(path[:, 1], path[:, 0], _LINE, *mask.shape), colour)


def _along(path: FloatArray) -> FloatArray:
    steps = np.hypot(*np.diff(path, axis=0).T)
    return np.concatenate([[0.0], np.cumsum(steps)])


def ring(light: Floats32, at: tuple[float, float], radius: float, colour: Rgb) -> Floats32:
    """A mark round a place (x, y): a ring with a light rim, so that it shows on any ground."""
    turn = np.linspace(0, 2 * np.pi, int(radius * 20))
    x, y = at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn)
    height, width = light.shape[:2]
    light = over(light, stroke(x, y, 7.0, height, width), (255, 255, 255))
    lay(light, stroke(x, y, 4.0, height, width), colour)
    return light


def _key(width: int) -> Image:
    blank = np.empty((26, 44), dtype=bool)
    pixels = np.arange(blank.size, dtype=np.int32)
    hatched = hatch(pixels, 44, falling=True).reshape(blank.shape)
    paper = np.broadcast_to(light_of(BACKDROP), (*blank.shape, 3)).astype(np.float32)
    lost = over(paper, np.where(hatched, 0.85, 0.3).astype(np.float32), BLUE)
    gained = over(paper, np.full(blank.shape, 0.75, np.float32), ORANGE)
    return legend(
        [
            (framed(srgb_from_linear(lost)), "lost (blue dashes: outline before)"),
            (framed(srgb_from_linear(gained)), "gained (black: outline after)"),
            (_ring_swatch(), "moved furthest"),
        ],
        width=width,
    )


def _ring_swatch() -> Image:
    paper = np.broadcast_to(light_of(BACKDROP), (44, 44, 3)).astype(np.float32)
    return beside([srgb_from_linear(ring(paper, (22.0, 22.0), 14.0, VERMILLION))])
