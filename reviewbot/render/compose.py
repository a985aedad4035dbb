"""From shaded samples to a picture, blended in linear light over a backdrop."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import BoolArray
from reviewbot.render.colours import BACKDROP, Image, Rgb, light_of, srgb_from_linear
from reviewbot.render.samples import Floats32, Samples


def blended(samples: Samples, light: Floats32, background: Floats32) -> Floats32:
    """(H, W, 3) float32 light of a picture.

    light       (S, 3) of each sample
    background  (3,) or (H, W, 3) light where nothing is seen
    """
    pixels = samples.height * samples.width
    share = np.zeros(pixels, dtype=np.float32)
    canvas = np.zeros((pixels, 3), dtype=np.float32)
    whole = samples.weight == 1
    alone = samples.pixel[whole]
    canvas[alone], share[alone] = light[whole], 1.0
    if not whole.all():
        pixel, weight = samples.pixel[~whole], samples.weight[~whole]
        lowest = int(pixel.min())
        reach = int(pixel.max()) - lowest + 1
        share[lowest : lowest + reach] += np.bincount(pixel - lowest, weights=weight)
        for k in range(3):
            amount = light[~whole, k] * weight
            canvas[lowest : lowest + reach, k] += np.bincount(pixel - lowest, weights=amount)
    missing = (1.0 - share)[:, None]
    flat_background = background if background.ndim == 1 else background.reshape(-1, 3)
    return np.asarray(canvas + missing * flat_background).reshape(samples.height, -1, 3)


def picture(samples: Samples, light: Floats32, background: Rgb = BACKDROP) -> Image:
    """(H, W, 3) uint8 sRGB."""
    return srgb_from_linear(blended(samples, light, light_of(background)))


def mask(samples: Samples) -> BoolArray:
    """(H, W) bool: pixels of which at least half is covered."""
    pixels = samples.height * samples.width
    share = np.bincount(samples.pixel, weights=samples.weight, minlength=pixels)
    return np.asarray(share >= 0.5).reshape(samples.height, samples.width)
