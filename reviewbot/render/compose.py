"""From shaded samples to a picture, blended in linear light over a backdrop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.mesh import BoolArray, IndexArray
from reviewbot.render.colours import BACKDROP, Image, Rgb, light_of, srgb_from_linear
from reviewbot.render.samples import Floats32, Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewImage:
    """One view of one version: the clay picture (H, W, 3) and what of it is covered (H, W)."""

    name: str
    clay: Image
    mask: BoolArray


def blended(samples: Samples, light: Floats32, background: Floats32) -> Floats32:
    """(H, W, 3) float32 light of a picture.

    light       (S, 3) of each sample
    background  (3,) or (H, W, 3) light where nothing is seen
    """
    pixels = samples.height * samples.width
    flat = background.reshape(-1, 3) if background.ndim > 1 else background[None]
    whole = int(np.count_nonzero(samples.weight == 1))  # they come first
    alone, weight = samples.pixel[:whole], samples.weight[whole:]
    shared, slot = _slots(samples.pixel[whole:])
    missing = np.ones(pixels, dtype=np.float32)
    missing[alone] = 0.0
    missing[shared] -= np.bincount(slot, weights=weight).astype(np.float32)
    canvas = np.empty((3, pixels), dtype=np.float32)
    for k in range(3):
        np.multiply(missing, flat[:, k], out=canvas[k])
        canvas[k, alone] = light[:whole, k]
        canvas[k, shared] += np.bincount(slot, weights=light[whole:, k] * weight)
    return canvas.T.reshape(samples.height, samples.width, 3)


def _slots(pixel: IndexArray) -> tuple[IndexArray, IndexArray]:
    """Pixels that come in a run, once each, and which of them each entry belongs to."""
    new = np.ones(len(pixel), dtype=bool)
    new[1:] = pixel[1:] != pixel[:-1]
    return pixel[new], np.asarray(np.cumsum(new) - 1, dtype=np.int32)


def picture(samples: Samples, light: Floats32, background: Rgb = BACKDROP) -> Image:
    """(H, W, 3) uint8 sRGB."""
    return srgb_from_linear(blended(samples, light, light_of(background)))


def mask(samples: Samples) -> BoolArray:
    """(H, W) bool: pixels of which at least half is covered."""
    pixels = samples.height * samples.width
    share = np.bincount(samples.pixel, weights=samples.weight, minlength=pixels)
    return np.asarray(share >= 0.5).reshape(samples.height, samples.width)
