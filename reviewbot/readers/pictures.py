"""Pictures of materials: encoded files from a stranger, as pixels of a size that can be shown.

Decoded by Pillow, in the reading process and within its limits. A file says how many pixels it
unpacks to before any is unpacked: beyond a limit it is refused.
"""

from __future__ import annotations

import importlib
import io
import warnings

import numpy as np
import numpy.typing as npt
from PIL import Image

Pixels = npt.NDArray[np.uint8]
MOST_PIXELS = 8192 * 8192
MOST_BYTES = 256 << 20
_FORMATS = {
    "PNG": "PngImagePlugin",
    "JPEG": "JpegImagePlugin",
    "WEBP": "WebPImagePlugin",
    "TGA": "TgaImagePlugin",
    "BMP": "BmpImagePlugin",
    "TIFF": "TiffImagePlugin",
}
_BAND = 1 << 20  # pixels reduced at a time
_WIDE = {"I;16": 16, "I;16L": 16, "I;16B": 16, "I;16N": 16, "I": 16}


class PictureRefusedError(Exception):
    """The picture cannot be shown; the message says why, in words for a note."""


def prepare() -> None:
    """Load the decoders, while files may still be opened."""
    Image.preinit()
    for plugin in _FORMATS.values():
        importlib.import_module(f"PIL.{plugin}")


def decode_picture(data: bytes, *, longest: int) -> Pixels:
    """(H, W, 3) uint8 sRGB of an encoded picture, its longer side at most `longest` pixels.

    Larger ones are averaged over whole blocks of pixels, in linear light; what covers no whole
    block at the right and lower rim is left out. Transparency is ignored. Raises
    PictureRefusedError for another form than PNG, JPEG, WebP, TGA, BMP and TIFF, a broken file,
    and one of more than MOST_BYTES or MOST_PIXELS.
    """
    if len(data) > MOST_BYTES:
        raise PictureRefusedError(
            f"is a file of {len(data) >> 20} MB, larger than what is unpacked"
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=tuple(_FORMATS)) as image:
                width, height = image.size
                if width * height > MOST_PIXELS:
                    raise PictureRefusedError(
                        f"is {width} × {height} pixels large, more than is unpacked"
                    )
                return _reduced(np.asarray(_coloured(image)), longest)
    except (PictureRefusedError, MemoryError):
        raise
    except Image.DecompressionBombError as error:
        raise PictureRefusedError("is larger than what is unpacked") from error
    except Exception as error:  # decoders raise what comes to them: all of it is this file's fault
        raise PictureRefusedError("is no PNG, JPEG, WebP, TGA, BMP or TIFF file") from error


def _coloured(image: Image.Image) -> Image.Image:
    if image.mode in _WIDE:
        wide = np.asarray(image).astype(np.int64) >> 8
        image = Image.fromarray(np.clip(wide, 0, 255).astype(np.uint8))
    return image.convert("RGB")


def _reduced(pixels: Pixels, longest: int) -> Pixels:
    """Blocks of k x k pixels, the smallest k that fits, each as their mean light."""
    height, width = pixels.shape[:2]
    k = -(-max(height, width) // longest)
    if k == 1:
        return pixels
    rows, columns = max(height // k, 1), max(width // k, 1)
    down, across = min(k, height), min(k, width)  # a strip may be thinner than a block
    reduced = np.empty((rows, columns, 3), dtype=np.uint8)
    step = max(1, _BAND // (down * width))
    for top in range(0, rows, step):
        some = pixels[top * down : min(top + step, rows) * down, : columns * across]
        light = _LIGHT[some].reshape(-1, down, columns, across, 3).mean(axis=(1, 3))
        reduced[top : top + step] = _encoded(light)
    return reduced


def _light_table() -> npt.NDArray[np.float32]:
    """Light of each sRGB value (IEC 61966-2-1)."""
    value = np.arange(256) / 255
    light = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def _encoded(light: npt.NDArray[np.float32]) -> Pixels:
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(255 * value), dtype=np.uint8)


_LIGHT = _light_table()
