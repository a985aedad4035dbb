"""How a finished picture becomes a file."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image as PillowImage
from PIL import WebPImagePlugin  # noqa: F401 - else the first such file loads all formats there are

from reviewbot.render.colours import Image
from reviewbot.render.picture import Picture

WEBP_SIDE = 16383  # pixels: the most the format can hold


def shaded_picture(
    image: Image, *, kind: str, name: str, caption: str, alt: str, part: str = "", code: str = ""
) -> Picture:
    """A still picture (H, W, 3) uint8 of shaded form: a WebP file, a quarter of a PNG."""
    image = _within_webp(image)
    return Picture(
        kind=kind,
        name=name,
        data=webp_bytes(image),
        suffix=".webp",
        width=image.shape[1],
        height=image.shape[0],
        caption=caption,
        alt=alt,
        part=part,
        code=code,
    )


def drawn_picture(image: Image, *, kind: str, name: str, caption: str, alt: str) -> Picture:
    """A still picture (H, W, 3) uint8 of flat colours and lines: a PNG file, without loss."""
    return Picture(
        kind=kind,
        name=name,
        data=png_bytes(image),
        suffix=".png",
        width=image.shape[1],
        height=image.shape[0],
        caption=caption,
        alt=alt,
    )


def png_bytes(image: Image) -> bytes:
    """(H, W, 3) uint8 as a PNG file; the same bytes for the same picture."""
    buffer = io.BytesIO()
    PillowImage.fromarray(np.ascontiguousarray(image)).save(buffer, "PNG", compress_level=4)
    return buffer.getvalue()


def webp_bytes(image: Image) -> bytes:
    """(H, W, 3) uint8 as a WebP file, lossy but without loss that is seen."""
    buffer = io.BytesIO()
    still = PillowImage.fromarray(np.ascontiguousarray(image))
    # The quickest method: half the time of the next, for files an eighth larger.
    still.save(buffer, "WEBP", quality=90, method=0)
    return buffer.getvalue()


def _within_webp(image: Image) -> Image:
    """Cut off below where a sheet is higher than the format can hold."""
    return image[:WEBP_SIDE, :WEBP_SIDE]
