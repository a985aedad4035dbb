"""One finished picture."""

from __future__ import annotations

from dataclasses import dataclass


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
