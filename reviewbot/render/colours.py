"""Colours: blind-safe categories, scales for amounts, and blending in linear light.

Categories are the eight of Okabe & Ito (2008, "Color Universal Design"); amounts run over cividis
(Nuñez, Anderton & Renslow 2018), signed amounts over PuOr (Brewer's scales for maps). Pictures
are blended in linear light and stored as sRGB (IEC 61966-2-1).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import FloatArray, IndexArray
from reviewbot.render.samples import Floats32

Rgb = tuple[int, int, int]
Image = npt.NDArray[np.uint8]
ScaleName = Literal["cividis", "PuOr"]

BLACK: Rgb = (0, 0, 0)
ORANGE: Rgb = (230, 159, 0)
SKY: Rgb = (86, 180, 233)
GREEN: Rgb = (0, 158, 115)
YELLOW: Rgb = (240, 228, 66)
BLUE: Rgb = (0, 114, 178)
VERMILLION: Rgb = (213, 94, 0)
PURPLE: Rgb = (204, 121, 167)
CATEGORIES: tuple[Rgb, ...] = (ORANGE, SKY, GREEN, YELLOW, BLUE, VERMILLION, PURPLE, BLACK)

INK: Rgb = (31, 34, 38)
MUTED: Rgb = (94, 100, 108)
PAPER: Rgb = (255, 255, 255)
BACKDROP: Rgb = (238, 239, 240)
RULE: Rgb = (208, 211, 215)

# Every eighth colour; linear between them, which is off by 5 of 255 at most.
_CIVIDIS = (
    "00224e 00285b 002e6a 053371 1a386f 273e6e 32436d 3b496c 434e6c 4b546c 535a6d"
    " 5a5f6e 61656f 686a71 6f7073 767676 7d7c78 848279 8c8878 938e78 9b9476 a39a74"
    " aba072 b4a76f bcae6c c4b468 cdbb63 d5c25e dec958 e7d150 f0d846 f9e03a fee838"
)
_PUOR = "7f3b08 b35806 e08214 fdb863 fee0b6 f7f7f7 d8daeb b2abd2 8073ac 542788 2d004b"


def linear_from_srgb(encoded: npt.ArrayLike) -> FloatArray:
    """Light, 0 to 1, from sRGB values of 0 to 255."""
    value = np.asarray(encoded, dtype=np.float64) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def srgb_from_linear(light: npt.NDArray[np.floating]) -> Image:
    """sRGB values of 0 to 255 from light, cut off at 0 and 1."""
    steps = len(_ENCODED) - 1
    index = light * np.float32(steps)
    index += np.float32(0.5)
    np.clip(index, 0, steps, out=index)
    return _ENCODED.take(index.astype(np.intp))


def _encoding_table() -> Image:
    light = np.linspace(0.0, 1.0, 1 << 14)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(value * 255).astype(np.uint8)


_ENCODED = _encoding_table()
_DECODED = linear_from_srgb(np.arange(256)).astype(np.float32)


def light_of_image(image: Image) -> Floats32:
    """(H, W, 3) float32 light of a picture, or of values in any other order."""
    return np.asarray(_DECODED.take(image))


def light_of(colour: Rgb) -> Floats32:
    """(3,) float32 light of one sRGB colour."""
    return np.asarray(_DECODED[list(colour)])


def category_lights(numbers: IndexArray) -> Floats32:
    """(N, 3) float32 light of the categories of those numbers.

    After the seventh they come again darker, then lighter, then as they were. Black is left out:
    it is kept for lines.
    """
    light = linear_from_srgb(np.array(CATEGORIES[:7])[numbers % 7])
    round_ = (numbers // 7 % 3)[:, None]
    light = np.where(round_ == 1, 0.5 * light, np.where(round_ == 2, 0.5 + 0.5 * light, light))
    return np.asarray(light, dtype=np.float32)


def scale_table(name: ScaleName) -> Floats32:
    """(256, 3) float32 light of a scale, from its low end to its high."""
    stops = _stops(_CIVIDIS if name == "cividis" else _PUOR)
    at = np.linspace(0, len(stops) - 1, 256)
    columns = [np.interp(at, np.arange(len(stops)), stops[:, k]) for k in range(3)]
    return linear_from_srgb(np.stack(columns, axis=1)).astype(np.float32)


def scale_light(name: ScaleName, share: npt.NDArray[np.floating]) -> Floats32:
    """(N, 3) light for shares of 0 to 1 along a scale; what lies outside takes the end's colour."""
    index = (np.clip(np.nan_to_num(share), 0, 1) * 255 + 0.5).astype(np.intp)
    return np.asarray(np.ascontiguousarray(scale_table(name).T).take(index, axis=1).T)


def _stops(text: str) -> FloatArray:
    return np.array([[int(word[k : k + 2], 16) for k in (0, 2, 4)] for word in text.split()])
