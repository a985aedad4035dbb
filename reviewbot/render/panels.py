"""Pieces that many pictures share: cropping, pale form, titled panels, pairs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from PIL import Image as PillowImage

from reviewbot.mesh import BoolArray
from reviewbot.render.canvas import (
    LABEL,
    NOTE,
    beside,
    framed,
    label,
    paper,
    text,
    under,
)
from reviewbot.render.colours import BACKDROP, MUTED, Image, light_of, light_of_image
from reviewbot.render.compose import ViewImage, blended
from reviewbot.render.heat import PALE
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer

_MARGIN = 14
Box = tuple[slice, slice]


def pale_light(view: ViewBuffer, shade: Floats32) -> Floats32:
    """(H, W, 3) light of the bare form, so light that lines and marks stand out on it."""
    light = shade[:, None] * light_of(PALE)
    return blended(view.samples, light, light_of(BACKDROP))


def faded(view: ViewImage, box: Box, *, ground: float, form: float) -> Floats32:
    """(H, W, 3) light of a view's form in grey, so pale that marks stand out on it, within a box.

    ground, form  how much of the backdrop's light and of the form's own is in it
    """
    backdrop = light_of(BACKDROP)
    mask = view.mask[box]
    light = np.empty((*mask.shape, 3), dtype=np.float32)
    light[:] = backdrop
    shown = view.clay[box][mask]
    red, green, blue = (light_of_image(shown[:, k]) for k in range(3))
    grey = (red + green + blue) / np.float32(3)
    light[mask] = np.float32(ground) * backdrop + np.float32(form) * grey[:, None]
    return light


def crop_box(masks: Iterable[BoolArray]) -> Box:
    """Rows and columns that hold whatever is covered in any of the masks, with a margin.

    The whole picture where nothing is covered.
    """
    union = np.logical_or.reduce(list(masks))
    if not union.any():
        return slice(0, union.shape[0]), slice(0, union.shape[1])
    spans = []
    for axis in (1, 0):
        used = np.flatnonzero(union.any(axis=axis))
        low, high = int(used[0]) - _MARGIN, int(used[-1]) + 1 + _MARGIN
        spans.append(slice(max(0, low), min(union.shape[1 - axis], high)))
    return spans[0], spans[1]


def scaled(image: Image, width: int) -> Image:
    """A picture at another width, its shape kept."""
    height = max(1, round(image.shape[0] * width / image.shape[1]))
    resized = PillowImage.fromarray(np.ascontiguousarray(image)).resize(
        (width, height), PillowImage.Resampling.LANCZOS
    )
    return np.asarray(resized)


def panel(image: Image | None, title: str, *, size: tuple[int, int]) -> Image:
    """A framed picture under its title; an empty panel of `size` (H, W) says there is none."""
    if image is None:
        image = empty_panel("no such version", size)
    return under([label(title, image.shape[1], size=NOTE), framed(image)], gap=4)


def empty_panel(words: str, size: tuple[int, int]) -> Image:
    """A backdrop with a word on it."""
    sheet = paper(size[1], size[0], BACKDROP)
    word = text(words, size=NOTE, colour=MUTED, background=BACKDROP, width=max(size[1] - 20, 60))
    top, left = (size[0] - word.shape[0]) // 2, max((size[1] - word.shape[1]) // 2, 0)
    if word.shape[0] <= size[0] and word.shape[1] <= size[1]:
        sheet[top : top + word.shape[0], left : left + word.shape[1]] = word
    return sheet


def pair(name: str, before: Image | None, after: Image | None) -> Image:
    """One view, before left and after right, under the view's name; alone where one is missing."""
    shown = [image for image in (before, after) if image is not None]
    size = shown[0].shape[:2]
    if len(shown) == 1:
        return panel(shown[0], name, size=size)
    panels = [panel(before, "before", size=size), panel(after, "after", size=size)]
    both = beside(panels, gap=6)
    return under([label(name, both.shape[1], size=LABEL, weight="Medium"), both], gap=2)


def spread_choice(count: int, wanted: int) -> list[int]:
    """`wanted` of `count` indices, evenly spaced from the first."""
    wanted = min(count, wanted)
    return [index * count // wanted for index in range(wanted)]


def named_views(names: Sequence[str]) -> str:
    """Names in a sentence: "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
