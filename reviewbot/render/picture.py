"""One finished picture, and how it becomes a file."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image as PillowImage

from reviewbot.render.colours import Image


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture with its words.

    kind     "turntable", "checker", ...: pictures of one kind are drawn and read alike
    name     tells it from others of its kind; fit for a file name
    data     the encoded file
    suffix   ".png" or ".webp"
    width, height  in pixels
    caption  what is seen and what it means, with units; for those who see it
    alt      the same for those who do not
    part     the part it is about, "" for the whole asset
    code     the finding or change it is about, "" for none
    view     the camera's name, where pictures of one view belong together
    columns, rows  how many frames lie side by side, and in how many rows (before over after)
    """

    kind: str
    name: str
    data: bytes
    suffix: str
    width: int
    height: int
    caption: str
    alt: str
    part: str = ""
    code: str = ""
    view: str = ""
    columns: int = 1
    rows: int = 1


def png_picture(
    image: Image,
    *,
    kind: str,
    name: str,
    caption: str,
    alt: str,
    part: str = "",
    code: str = "",
) -> Picture:
    """A still picture (H, W, 3) uint8, stored without loss."""
    return Picture(
        kind=kind,
        name=name,
        data=png_bytes(image),
        suffix=".png",
        width=image.shape[1],
        height=image.shape[0],
        caption=caption,
        alt=alt,
        part=part,
        code=code,
    )


def png_bytes(image: Image) -> bytes:
    """(H, W, 3) uint8 as a PNG file; the same bytes for the same picture."""
    buffer = io.BytesIO()
    PillowImage.fromarray(np.ascontiguousarray(image)).save(buffer, "PNG", compress_level=4)
    return buffer.getvalue()
