"""All pictures of one asset, drawn from its shots: the most telling first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from reviewbot.measure.surface import diagonal
from reviewbot.render.animation import side_pictures, turntable_animation, turntable_frames
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage
from reviewbot.render.heat import HeatScale
from reviewbot.render.pair_sheet import ViewPair, pair_sheet, scale_key
from reviewbot.render.panels import Box, crop_box
from reviewbot.render.picture import Picture
from reviewbot.render.seam_map import seam_key
from reviewbot.render.silhouettes import silhouette_picture
from reviewbot.render.strip import difference_image, strip_picture
from reviewbot.report.shots import Shot, Shots
from reviewbot.report.stage import Stage

Take = Callable[[Shot], Image | None]


def asset_pictures(stage: Stage, shots: Shots, *, name: str, texture_size: int) -> list[Picture]:
    """The overview, what moved, and the maps.

    name  of the asset, for titles
    """
    before, after = _turn(stage, shots.before), _turn(stage, shots.after)
    turns = shots.differences[: len(stage.cameras) - 2]
    drawn = [
        strip_picture(before, after, turns, title=name),
        turntable_animation(before, after),
        turntable_frames(before, after),
        *_outlines(stage, shots, name),
        *_sides(stage, shots),
        *_maps(shots, name, texture_size),
    ]
    return [picture for picture in drawn if picture is not None]


def _turn(stage: Stage, shots: Sequence[Shot] | None) -> list[ViewImage] | None:
    """The turntable's views, without top and bottom."""
    return None if shots is None else [shot.image for shot in shots[: len(stage.cameras) - 2]]


def _outlines(stage: Stage, shots: Shots, name: str) -> Iterator[Picture | None]:
    if shots.before is None or shots.after is None or stage.before is None:
        return
    yield silhouette_picture(
        [shot.image for shot in shots.before],
        [shot.image for shot in shots.after],
        shots.differences,
        title=f"{name}: outline",
        units_per_pixel=stage.frame.span / stage.size,
        size=diagonal(stage.before.examination.bounds),
    )


def _sides(stage: Stage, shots: Shots) -> Iterator[Picture]:
    """The views to be slid and blinked on the page: those with maps, from above and below."""
    if shots.before is None or shots.after is None:
        return
    turns = len(stage.cameras) - 2
    for row in (*shots.detailed, turns, turns + 1):
        old, new = shots.before[row].image, shots.after[row].image
        changed = difference_image(old, new, shots.differences[row])
        yield from side_pictures(old, new, changed, crop_box([old.mask, new.mask]))


def _maps(shots: Shots, name: str, texture_size: int) -> Iterator[Picture]:
    if not shots.detailed:
        return
    maps = shots.maps
    cell = texture_size // maps.cells
    if maps.stretch is not None:
        yield _sheet(
            shots,
            lambda shot: shot.checker,
            kind="checker",
            title=f"{name}: checker",
            note=f"A cell is {cell} texels wide. Flags that fly backwards and hatching: mirrored.",
            caption=f"The board laid by the UVs, {cell} texels a cell at {texture_size} pixels.",
        )
    yield from _heat_sheet(
        shots,
        lambda shot: shot.stretch,
        maps.stretch,
        kind="stretch-map",
        title=f"{name}: stretch",
        caption="How far the UVs stretch each face, against its shell's average.",
    )
    yield from _heat_sheet(
        shots,
        lambda shot: shot.density,
        maps.density,
        kind="density-map",
        title=f"{name}: texel density",
        caption=f"Pixels of a {texture_size} texture that a unit of surface gets.",
    )
    if maps.stretch is not None:
        yield _sheet(
            shots,
            lambda shot: shot.seams,
            kind="seam-map",
            title=f"{name}: seams",
            note="",
            caption="Where the UVs are cut.",
            key=(seam_key(),),
        )
    yield from _heat_sheet(
        shots,
        lambda shot: shot.deviation,
        maps.deviation,
        kind="deviation-map",
        title=f"{name}: what moved",
        caption="How far each point lies from where it lay before.",
        of_after_only=True,
    )


def _heat_sheet(
    shots: Shots,
    take: Take,
    scale: HeatScale | None,
    *,
    kind: str,
    title: str,
    caption: str,
    of_after_only: bool = False,
) -> Iterator[Picture]:
    if scale is not None:
        yield _sheet(
            shots,
            take,
            kind=kind,
            title=title,
            note="",
            caption=caption,
            key=(scale_key(scale),),
            of_after_only=of_after_only,
        )


def _sheet(
    shots: Shots,
    take: Take,
    *,
    kind: str,
    title: str,
    note: str,
    caption: str,
    key: Sequence[Image] = (),
    of_after_only: bool = False,
) -> Picture:
    before = None if of_after_only else shots.before
    pairs = [_pair(before, shots.after, row, take) for row in shots.detailed]
    return pair_sheet(pairs, kind=kind, title=title, note=note, caption=caption, key=key)


def _pair(
    before: Sequence[Shot] | None, after: Sequence[Shot] | None, row: int, take: Take
) -> ViewPair:
    old, new = before[row] if before else None, after[row] if after else None
    shown = [shot for shot in (old, new) if shot is not None]
    box = crop_box([shot.image.mask for shot in shown])
    return ViewPair(
        name=shown[0].image.name, before=_cropped(old, take, box), after=_cropped(new, take, box)
    )


def _cropped(shot: Shot | None, take: Take, box: Box) -> Image | None:
    image = None if shot is None else take(shot)
    return None if image is None else np.ascontiguousarray(image[box])
