"""The pictures of an album, each as a job of its own, so that they are made side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.animation import side_pictures, turntable_animation, turntable_frames
from reviewbot.render.camera import Frame, seen_box
from reviewbot.render.colours import Image
from reviewbot.render.differences import SAME_SSIM, ViewDifference
from reviewbot.render.looks import Sides, textured_views, turning_views
from reviewbot.render.pair_sheet import ViewPair
from reviewbot.render.panels import Box, crop_box
from reviewbot.render.picture import Picture
from reviewbot.render.samples import Scene
from reviewbot.render.sheets import (
    checker_sheet,
    density_sheet,
    deviation_sheet,
    end_sheet,
    seam_sheet,
    stretch_sheet,
)
from reviewbot.render.silhouettes import silhouette_picture
from reviewbot.render.strip import difference_image, strip_picture, textured_strip
from reviewbot.render.uv_sheet import MovedShell, UvVersion, uv_sheets
from reviewbot.render.version import Scales, Version

_SIDES = 3  # views that can be laid over each other on the page

Job = Callable[[], Sequence[Picture]]


def turntable_jobs(
    sides: Sides,
    differences: Sequence[ViewDifference],
    frame: Frame,
    versions: Sequence[Version],
    settings: AlbumSettings,
) -> list[Job]:
    before, after = (
        turning_views(sides.before, sides.views),
        turning_views(sides.after, sides.views),
    )
    size = max(_extent(version.scene) for version in versions)

    def silhouettes() -> Sequence[Picture]:
        if before is None or after is None:
            return ()
        drawn = silhouette_picture(
            before,
            after,
            differences,
            title=f"Silhouette of {settings.title}",
            units_per_pixel=frame.span / settings.size,
            size=size,
        )
        return () if drawn is None else (drawn,)

    title = f"Turntable of {settings.title}"
    return [
        lambda: (strip_picture(before, after, differences, title=title),),
        lambda: (turntable_animation(before, after),),
        silhouettes,
        lambda: (turntable_frames(before, after),) if settings.detail == "full" else (),
        *_textured_jobs(sides, settings),
    ]


def _textured_jobs(sides: Sides, settings: AlbumSettings) -> list[Job]:
    """The turntable with base colour pictures on, where a version has any."""
    before, after = (
        textured_views(sides.before, sides.views),
        textured_views(sides.after, sides.views),
    )
    if before is None and after is None:
        return []

    def frames() -> Sequence[Picture]:
        still = turntable_frames(before, after)
        words = f"{still.caption[:-1]}, with base colour pictures."
        named = replace(still, name="textured-frames", caption=words, alt=f"{still.alt}, textured")
        return (named,)

    title = f"Base colour of {settings.title}"
    strip: Job = lambda: (textured_strip(before, after, title=title),)  # noqa: E731
    return [strip, frames] if settings.detail == "full" else [strip]


def _extent(scene: Scene) -> float:
    """Diagonal of the box round what is seen; 0 for nothing."""
    box = seen_box(scene)
    return 0.0 if box is None else float(np.linalg.norm(box[1] - box[0]))


def sheet_jobs(
    sides: Sides, scales: Scales, settings: AlbumSettings, *, told_apart: bool
) -> list[Job]:
    title, unit = settings.title, settings.unit
    box = crop_box([view.clay.mask for seen in sides.both for view in seen[: sides.views]])

    def made(kind: str, make: Callable[[Sequence[ViewPair]], Picture]) -> Job:
        def job() -> Sequence[Picture]:
            pairs = _pairs(sides, kind, box)
            return (make(pairs),) if pairs else ()

        return job

    ends = _end_pairs(sides)
    moved, cells = scales.deviation, scales.cells
    jobs: list[Job] = []
    if moved is not None:
        jobs.append(made("deviation", lambda pairs: deviation_sheet(pairs, title, moved, unit)))
    jobs.append(made("seams", lambda pairs: seam_sheet(pairs, title, told_apart=told_apart)))
    if cells is not None:
        size = settings.texture_size
        jobs.append(made("checker", lambda pairs: checker_sheet(pairs, title, cells, size)))
    return [
        *jobs,
        made("stretch", lambda pairs: stretch_sheet(pairs, title, scales)),
        made("density", lambda pairs: density_sheet(pairs, title, scales, unit)),
        lambda: (end_sheet(ends, title),) if settings.detail == "full" else (),
    ]


def _pairs(sides: Sides, kind: str, box: Box) -> list[ViewPair]:
    """The views that a kind was drawn in, of either version."""
    found = []
    for k in range(sides.views):
        images = [
            None if seen is None or kind not in seen[k].others else seen[k].others[kind][box]
            for seen in (sides.before, sides.after)
        ]
        if any(image is not None for image in images):
            name = sides.both[0][k].clay.name
            found.append(ViewPair(name=name, before=images[0], after=images[1]))
    return found


def _end_pairs(sides: Sides) -> list[ViewPair]:
    ends = [seen[sides.views :] for seen in sides.both]
    box = crop_box([view.clay.mask for seen in ends for view in seen])
    pairs = []
    for k in range(len(ends[0])):
        before, after = (
            None if seen is None else seen[sides.views + k].clay.clay[box]
            for seen in (sides.before, sides.after)
        )
        pairs.append(ViewPair(name=ends[0][k].clay.name, before=before, after=after))
    return pairs


def uv_pictures(
    before: Version | None,
    after: Version | None,
    settings: AlbumSettings,
    moved: Sequence[MovedShell],
) -> list[Picture]:
    old, new = (
        None if v is None else UvVersion(scene=v.scene, is_stacked=v.is_stacked)
        for v in (before, after)
    )
    return uv_sheets(
        old,
        new,
        title=f"UVs of {settings.title}",
        texture_size=settings.texture_size,
        padding=settings.padding,
        size=settings.uv_size,
        moved=moved,
    )


def side_views(sides: Sides, differences: Sequence[ViewDifference]) -> list[Picture]:
    """The views that differ most, to be laid over each other; the front where none differs."""
    if sides.before is None or sides.after is None:
        return []
    order = sorted(range(len(differences)), key=lambda k: differences[k].ssim)
    changed = [k for k in order if differences[k].ssim < SAME_SSIM][:_SIDES]
    box = crop_box([view.clay.mask for seen in sides.both for view in seen[: sides.views]])
    pictures: list[Picture] = []
    for k in changed or [0]:
        before, after = sides.before[k].clay, sides.after[k].clay
        differs = difference_image(before, after, differences[k])
        pictures += side_pictures(before, after, differs, box)
    return pictures


def cover_of(sides: Sides) -> Image:
    """The newest version half from the front, half from the right."""
    shown = sides.both[-1][sides.views // 8].clay
    return shown.clay[crop_box([shown.mask])]
