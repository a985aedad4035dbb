"""The turntable in motion, and all its frames in one picture to be turned by hand.

Nothing here flashes: frames follow each other twice a second, below the three flashes a second
that WCAG 2.2 (success criterion 2.3.1) allows, whatever is on them.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from PIL import Image as PillowImage

from reviewbot.render.canvas import LABEL, beside, label, under
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage
from reviewbot.render.encoding import WEBP_SIDE, webp_bytes
from reviewbot.render.panels import crop_box, scaled
from reviewbot.render.picture import Picture

TURN_SECONDS = 8.0  # for a full turn, however many frames it has
LEAST_MILLISECONDS = 400  # a frame: two and a half changes a second at most
LARGEST_BYTES = 2_000_000
_QUALITIES = ((82, 1.0), (70, 1.0), (60, 0.75), (45, 0.5), (30, 0.35))
_FRAME_HEIGHT = 420  # of the frames to turn by hand


def frame_milliseconds(frames: int) -> int:
    """How long each frame stays: a calm full turn, and never faster than flashing allows."""
    return max(LEAST_MILLISECONDS, round(1000 * TURN_SECONDS / max(frames, 1)))


def turntable_animation(
    before: Sequence[ViewImage] | None, after: Sequence[ViewImage] | None
) -> Picture:
    """Both versions turning side by side, before left and after right, as an animated WebP.

    Smaller or rougher until it is under 2 MB.
    """
    frames = _frames(before, after)
    data, sized = fitting_webp(frames, frame_milliseconds(len(frames)))
    both = before is not None and after is not None
    sides = "Before left, after right, through" if both else "The asset through"
    return Picture(
        kind="turntable",
        name="turntable",
        data=data,
        suffix=".webp",
        width=sized.shape[1],
        height=sized.shape[0],
        caption=f"{sides} the same cameras, a full turn in {_seconds(len(frames)):.0f} seconds.",
        alt="Animated turntable in clay" + (": before left, after right" if both else ""),
    )


def fitting_webp(frames: Sequence[Image], milliseconds: int) -> tuple[bytes, Image]:
    """An animated WebP below LARGEST_BYTES, smaller or rougher if need be, and its first frame.

    milliseconds  that each frame stays; raised to LEAST_MILLISECONDS, so that nothing flashes
    """
    calm = max(milliseconds, LEAST_MILLISECONDS)
    for quality, factor in _QUALITIES:
        sized = [scaled(frame, round(frame.shape[1] * factor)) for frame in frames]
        data = _webp(sized, quality, calm)
        if len(data) <= LARGEST_BYTES:
            break
    return data, sized[0]


def _seconds(frames: int) -> float:
    return frames * frame_milliseconds(frames) / 1000


def _frames(before: Sequence[ViewImage] | None, after: Sequence[ViewImage] | None) -> list[Image]:
    versions = [v for v in (before, after) if v is not None]
    box = crop_box([view.mask for version in versions for view in version])
    words = ["before", "after"] if len(versions) == 2 else [""]
    frames = []
    for views in zip(*versions, strict=True):
        panels = [view.clay[box] for view in views]
        if words == [""]:
            frames.append(panels[0])
            continue
        named = [
            under([label(word, panel.shape[1], size=LABEL, weight="Medium"), panel], gap=2)
            for word, panel in zip(words, panels, strict=True)
        ]
        frames.append(beside(named, gap=8))
    return frames


def _webp(frames: Sequence[Image], quality: int, milliseconds: int) -> bytes:
    stills = [PillowImage.fromarray(frame) for frame in frames]
    buffer = io.BytesIO()
    stills[0].save(
        buffer,
        "WEBP",
        save_all=True,
        append_images=stills[1:],
        duration=milliseconds,
        loop=0,
        quality=quality,
        method=2,
        # Each frame is coded once, by what changed, and not tried as a whole one as well: two
        # thirds of the time, the same size.
        kmin=0,
        kmax=0,
    )
    return buffer.getvalue()


def turntable_frames(
    before: Sequence[ViewImage] | None, after: Sequence[ViewImage] | None
) -> Picture:
    """All frames side by side, a row a version (before over after), to be turned by hand."""
    versions = [v for v in (before, after) if v is not None]
    box = crop_box([view.mask for version in versions for view in version])
    rows = []
    for version in versions:
        frames = [view.clay[box] for view in version]
        width = round(frames[0].shape[1] * min(1.0, _FRAME_HEIGHT / frames[0].shape[0]))
        rows.append(np.concatenate([scaled(frame, width) for frame in frames], axis=1))
    image = _within_webp(np.concatenate(rows, axis=0), len(versions[0]))
    return Picture(
        kind="turntable-frames",
        name="turntable-frames",
        data=webp_bytes(image),
        suffix=".webp",
        width=image.shape[1],
        height=image.shape[0],
        caption="All views of the turntable.",
        alt="All views of the turntable side by side" + (", before over after" * (len(rows) == 2)),
        columns=len(versions[0]),
        rows=len(rows),
    )


def _within_webp(image: Image, columns: int) -> Image:
    """Smaller where all frames side by side are wider than the format can hold."""
    widest = WEBP_SIDE // columns * columns
    return image if image.shape[1] <= widest else scaled(image, widest)


def side_pictures(
    before: ViewImage, after: ViewImage, difference: Image, box: tuple[slice, slice]
) -> tuple[Picture, Picture, Picture]:
    """One view before, after, and what differs, each a picture of its own, cropped alike."""
    told = {
        "before": (before.clay, "before"),
        "after": (after.clay, "after"),
        "difference": (difference, "what differs"),
    }
    first, second, third = (
        _side(side, image[box], after.name, words) for side, (image, words) in told.items()
    )
    return first, second, third


def _side(side: str, image: Image, view: str, words: str) -> Picture:
    return Picture(
        kind=f"clay-{side}",
        name=f"clay-{view}-{side}",
        data=webp_bytes(image),
        suffix=".webp",
        width=image.shape[1],
        height=image.shape[0],
        caption=f"{view}, {words}.",
        alt=f"{view}, {words}",
        view=view,
    )
