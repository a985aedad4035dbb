"""All pictures of one asset, each view of each version seen once."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass

from reviewbot.cores import thread_count
from reviewbot.render.album_jobs import (
    Job,
    cover_of,
    sheet_jobs,
    side_views,
    turntable_jobs,
    uv_pictures,
)
from reviewbot.render.album_settings import AlbumSettings, in_brief
from reviewbot.render.backends import choose_renderer
from reviewbot.render.camera import Camera, framing, turntable
from reviewbot.render.colours import Image
from reviewbot.render.differences import FLIP_VIEWS, ViewDifference, differences_of
from reviewbot.render.looks import (
    Sides,
    album_cameras,
    clay_views,
    opened_backends,
    seen_versions,
    shared_scales,
    shown_views,
    turning_views,
)
from reviewbot.render.picture import Picture
from reviewbot.render.seam_map import SeamLines
from reviewbot.render.spots import Overview, Spot, spot_jobs
from reviewbot.render.uv_sheet import MovedShell
from reviewbot.render.version import Draw, Scales, SeenView, Version, draws_of

_LEFT_OUT_OF_BRIEF = ("stretch", "density")


@dataclass(frozen=True, slots=True, kw_only=True)
class Album:
    """Finished pictures, the most telling first, and how the turntable's views differ.

    renderer  "ray" or "gl"
    units_per_pixel  of the views
    cover     (H, W, 3) the newest version from half aside, cropped, for a contact sheet
    """

    renderer: str
    pictures: tuple[Picture, ...]
    differences: tuple[ViewDifference, ...]
    units_per_pixel: float
    cover: Image


def draw_album(
    before: Version | None,
    after: Version | None,
    settings: AlbumSettings,
    *,
    seams: SeamLines | None = None,
    moved: Sequence[MovedShell] = (),
    spots: Sequence[Spot] = (),
) -> Album:
    """Everything worth drawing of one asset; one version alone where the other is None.

    seams  told apart, where they changed
    moved  shells that lie elsewhere after, the furthest first
    spots  places of findings and changes, on the version after (before, for a removed asset)

    Raises ValueError where both are None, RendererUnavailableError where no back end is there.
    """
    settings = in_brief(settings)
    versions = [version for version in (before, after) if version is not None]
    if not versions:
        raise ValueError("an album needs at least one version")
    renderer = choose_renderer(settings.renderer)
    with ExitStack() as stack:
        pool = stack.enter_context(ThreadPoolExecutor(thread_count()))
        # What needs no view fills the time in which views are made ready.
        tiles = _begun(pool, [lambda: uv_pictures(before, after, settings, moved)])
        frame = framing(*(version.scene for version in versions), up=settings.up)
        backends = opened_backends(renderer, versions, stack)
        scales = shared_scales(versions, backends, frame, settings)
        draws = [_draws(v, scales, seams, settings, is_after=v is after) for v in versions]
        cameras = album_cameras(frame, settings)
        shown = shown_views(cameras, settings)
        seen = seen_versions(
            versions, backends, cameras, size=settings.size, draws=draws, drawn=shown
        )
        sides = Sides(
            before=seen[0] if before is not None else None,
            after=seen[-1] if after is not None else None,
            views=settings.views,
        )
        # The longest first.
        sheets = _begun(pool, sheet_jobs(sides, scales, settings, told_apart=seams is not None))
        overviews = _overviews(cameras, seen[-1])
        scene, backend = versions[-1].scene, backends[-1]
        close = _begun(
            pool,
            spot_jobs(scene, frame, backend, spots, overviews=overviews, size=settings.size),
        )
        differences = _differences(sides, FLIP_VIEWS if settings.detail == "full" else 0)
        turns = _begun(pool, turntable_jobs(sides, differences, frame, versions, settings))
        laid_over = _begun(pool, [lambda: side_views(sides, differences)])
        begun = (*turns, *sheets, *tiles, *laid_over, *close)
        pictures = tuple(picture for future in begun for picture in future.result())
    return Album(
        renderer=renderer,
        pictures=pictures,
        differences=differences,
        units_per_pixel=frame.span / settings.size,
        cover=cover_of(sides),
    )


def _begun(pool: Executor, jobs: Sequence[Job]) -> list[Future[Sequence[Picture]]]:
    return [pool.submit(job) for job in jobs]


def _draws(
    version: Version,
    scales: Scales,
    seams: SeamLines | None,
    settings: AlbumSettings,
    *,
    is_after: bool,
) -> dict[str, Draw]:
    left_out = _LEFT_OUT_OF_BRIEF if settings.detail == "brief" else ()
    draws = draws_of(version, scales, seams, is_after=is_after)
    return {kind: draw for kind, draw in draws.items() if kind not in left_out}


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedViews:
    """How the turntable's views differ, and the scale they were seen at."""

    differences: tuple[ViewDifference, ...]
    units_per_pixel: float


def compare_views(before: Version, after: Version, settings: AlbumSettings) -> ComparedViews:
    """Both versions seen all round, where no picture is wanted.

    Raises RendererUnavailableError where no back end is there.
    """
    frame = framing(before.scene, after.scene, up=settings.up)
    with ExitStack() as stack:
        backends = opened_backends(choose_renderer(settings.renderer), (before, after), stack)
        old, new = seen_versions(
            (before, after),
            backends,
            turntable(frame, settings.views),
            size=settings.size,
            draws=({}, {}),
            drawn=(),
        )
    return ComparedViews(
        differences=differences_of(clay_views(old), clay_views(new)),
        units_per_pixel=frame.span / settings.size,
    )


def _overviews(cameras: Sequence[Camera], seen: Sequence[SeenView]) -> list[Overview]:
    return [
        Overview(camera=camera, view=view.clay) for camera, view in zip(cameras, seen, strict=True)
    ]


def _differences(sides: Sides, flip_views: int) -> tuple[ViewDifference, ...]:
    before = turning_views(sides.before, sides.views)
    after = turning_views(sides.after, sides.views)
    if before is None or after is None:
        return ()
    return differences_of(before, after, flip_views=flip_views)
