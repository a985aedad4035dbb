"""The turntable as a strip: before over after over what differs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reviewbot.render.canvas import (
    GAP,
    LABEL,
    NOTE,
    WIDTH,
    beside,
    framed,
    label,
    legend,
    sheet,
    swatch,
    text,
    under,
)
from reviewbot.render.colours import (
    BLUE,
    ORANGE,
    VERMILLION,
    Image,
    srgb_from_linear,
)
from reviewbot.render.compose import ViewImage
from reviewbot.render.differences import ViewDifference
from reviewbot.render.encoding import shaded_picture
from reviewbot.render.heat import PALE
from reviewbot.render.lines import lay
from reviewbot.render.panels import Box, crop_box, faded, scaled, spread_choice
from reviewbot.render.picture import Picture
from reviewbot.render.texture import lacking_entry

_FULL_AT = np.float32(0.25)  # one less SSIM from which on a change is drawn at full strength
_MOST = 8  # views shown
_HEIGHT = 240  # wanted of a panel
_WHOLE: Box = (slice(None), slice(None))
_SMALLEST, _LARGEST = 190, 396  # width of a panel: eight to four in a row


def difference_image(
    before: ViewImage, after: ViewImage, difference: ViewDifference, box: Box = _WHOLE
) -> Image:
    """(H, W, 3) the version after, faded, and over it what changed; of a box alone where given.

    Vermillion where the surface looks different, blue where only the version before was, orange
    where only the version after is.
    """
    old, new, changed = before.mask[box], after.mask[box], difference.changed[box]
    light = faded(after, box, ground=0.55, form=0.5)
    strength = np.clip(changed / _FULL_AT, 0, 1)
    strength = np.where(changed > 0.02, 0.25 + 0.75 * strength, 0)
    lay(light, strength.astype(np.float32), VERMILLION)
    lay(light, (old & ~new).astype(np.float32), BLUE)
    lay(light, (new & ~old).astype(np.float32), ORANGE)
    return srgb_from_linear(light)


def strip_picture(
    before: Sequence[ViewImage] | None,
    after: Sequence[ViewImage] | None,
    differences: Sequence[ViewDifference],
    *,
    title: str,
) -> Picture:
    """Views evenly round the asset, one column each.

    before, after  all turntable views in order, or None where there is no such version
    differences    of the same views; not used where a version is missing
    """
    shown = after if after is not None else before
    if shown is None:
        raise ValueError("a strip needs at least one version")
    both = before is not None and after is not None
    chosen = spread_choice(len(shown), _MOST)
    box = _common_box(before, after)
    rows = _version_rows(before, after, chosen, box)
    if before is not None and after is not None:
        differs = [difference_image(before[k], after[k], differences[k], box) for k in chosen]
        rows.append(("difference", differs))
    body = _body(rows, [shown[k].name for k in chosen])
    if both:
        body.append(_key(body[0].shape[1]))
    return shaded_picture(
        sheet(title, "", body),
        kind="strip",
        name="turntable-strip",
        caption=_caption(len(chosen), both, differences),
        alt=f"{len(chosen)} clay views round the asset" + (", before and after" if both else ""),
    )


def textured_strip(
    before: Sequence[ViewImage] | None, after: Sequence[ViewImage] | None, *, title: str
) -> Picture:
    """The same views with their base colour pictures on, before over after."""
    shown = after if after is not None else before
    if shown is None:
        raise ValueError("a strip needs at least one version")
    chosen = spread_choice(len(shown), _MOST)
    rows = _version_rows(before, after, chosen, _common_box(before, after))
    body = _body(rows, [shown[k].name for k in chosen])
    width = body[0].shape[1]
    body.append(legend([(swatch(PALE), "asks for no picture"), lacking_entry()], width=width))
    both = before is not None and after is not None
    over_after = ", before over after" if both else ""
    return shaded_picture(
        sheet(title, "", body),
        kind="textured",
        name="textured-strip",
        caption=(
            f"The asset from {len(chosen)} sides with the base colour pictures that its materials "
            f"ask for{over_after}."
        ),
        alt=f"{len(chosen)} textured views round the asset{over_after}",
    )


Row = tuple[str, list[Image]]


def _common_box(before: Sequence[ViewImage] | None, after: Sequence[ViewImage] | None) -> Box:
    return crop_box([view.mask for view in (*(before or ()), *(after or ()))])


def _version_rows(
    before: Sequence[ViewImage] | None,
    after: Sequence[ViewImage] | None,
    chosen: Sequence[int],
    box: Box,
) -> list[Row]:
    sides = (("before", before), ("after", after))
    return [
        (words, [views[k].clay[box] for k in chosen]) for words, views in sides if views is not None
    ]


def _body(rows: Sequence[Row], names: Sequence[str]) -> list[Image]:
    """Columns of views of one size, as many as fit, a row of each kind; named where there are more
    kinds than one."""
    width, columns = _panel_width(rows[0][1][0], len(names))
    body = []
    for at in range(0, len(names), columns):
        some = slice(at, at + columns)
        body.append(beside([label(name, width, size=NOTE) for name in names[some]], gap=GAP // 2))
        for name, images in rows:
            line = beside([framed(scaled(image, width)) for image in images[some]], gap=GAP // 2)
            head = [text(name, size=LABEL, weight="Medium")] if len(rows) > 1 else []
            body.append(under([*head, line], gap=4))
    return body


def _caption(count: int, both: bool, differences: Sequence[ViewDifference]) -> str:
    if not both:
        return f"The asset from {count} sides, in clay."
    changed = sum(d.changed.any() or d.silhouette_iou < 1 for d in differences)
    told = "no view differs" if not changed else f"{changed} of {len(differences)} views differ"
    return (
        f"The asset from {count} sides through the same cameras: before over after over what "
        f"differs; {told}."
    )


def _panel_width(image: Image, views: int) -> tuple[int, int]:
    """How wide a panel is drawn, and how many stand in a row: wide ones are not drawn too low."""
    rows, columns = image.shape[:2]
    room, gap = WIDTH - 2 * GAP, GAP // 2
    wanted = np.clip(_HEIGHT * columns / rows, _SMALLEST, _LARGEST)
    most = max(1, min(views, int((room + gap) // (wanted + gap))))
    count = -(-views // -(-views // most))
    fitting = (room - (count - 1) * gap) // count
    return min(fitting, max(columns, _SMALLEST), _LARGEST), count


def _key(width: int) -> Image:
    return legend(
        [
            (swatch(VERMILLION), "surface looks different"),
            (swatch(BLUE), "only before"),
            (swatch(ORANGE), "only after"),
        ],
        width=width,
    )
