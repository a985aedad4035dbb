"""All pictures of one asset, each view of each version seen once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from reviewbot.geometry.rays import worker_count
from reviewbot.mesh import FloatArray
from reviewbot.render.animation import side_pictures, turntable_animation, turntable_frames
from reviewbot.render.backends import (
    Backend,
    BackendName,
    RendererName,
    choose_renderer,
    open_backend,
)
from reviewbot.render.camera import (
    Camera,
    Frame,
    UpAxis,
    bottom_view,
    framing,
    seen_points,
    top_view,
    turntable,
)
from reviewbot.render.checker import cells_for
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage
from reviewbot.render.differences import SAME_SSIM, ViewDifference, differences_of
from reviewbot.render.pair_sheet import ViewPair
from reviewbot.render.panels import Box, crop_box, spread_choice
from reviewbot.render.picture import Picture
from reviewbot.render.scene import is_same_form, with_shared_colours
from reviewbot.render.seam_map import SeamLines
from reviewbot.render.sheets import (
    checker_sheet,
    density_sheet,
    deviation_sheet,
    end_sheet,
    seam_sheet,
    stretch_sheet,
)
from reviewbot.render.silhouettes import silhouette_picture
from reviewbot.render.spots import Overview, Spot, spot_pictures
from reviewbot.render.strip import difference_image, strip_picture
from reviewbot.render.uv_sheet import MovedShell, UvVersion, uv_sheets
from reviewbot.render.version import (
    Draw,
    Scales,
    SeenView,
    Version,
    deviation_scale,
    draws_of,
    reference_density,
    see_both,
    see_version,
    stretch_scale,
)
from reviewbot.render.visibility import render_view

_SHOWN = 4  # views of sheets that need not go all the way round
_SIDES = 3  # views that can be laid over each other on the page
_PROBE = 128  # pixels of the small views by which the checker's size is chosen
_CELL = 16.0  # pixels that a checker's cell is wanted to be wide


@dataclass(frozen=True, slots=True, kw_only=True)
class AlbumSettings:
    """How pictures are drawn.

    title          what is pictured, a file's name
    views, size    of the turntable
    uv_size        of a UV tile's picture
    texture_size, padding  in pixels of the texture
    stretch_limit  from where on stretch is a finding
    unit           of the asset's space, "units" where not known
    """

    title: str
    renderer: RendererName = "auto"
    views: int = 16
    size: int = 512
    uv_size: int = 800
    up: UpAxis = "y"
    texture_size: int = 2048
    padding: float = 8.0
    stretch_limit: float = 1.5
    unit: str = "units"


@dataclass(frozen=True, slots=True, kw_only=True)
class Album:
    """Finished pictures, the most telling first, and how the turntable's views differ.

    renderer  "ray" or "gl"
    units_per_pixel  of the views
    cover     (H, W, 3) the front of the newest version, cropped, for a contact sheet
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
    renamed: Mapping[str, str] = MappingProxyType({}),
) -> Album:
    """Everything worth drawing of one asset; one version alone where the other is None.

    seams  told apart, where they changed
    moved  shells that lie elsewhere after, the furthest first
    spots  places of findings and changes, on the version after (before, for a removed asset)
    renamed  names before of parts that have another name after

    Raises ValueError where both are None, RendererUnavailableError where no back end is there.
    """
    if before is not None and after is not None:
        old, new = with_shared_colours(before.scene, after.scene, renamed)
        before, after = replace(before, scene=old), replace(after, scene=new)
    versions = [version for version in (before, after) if version is not None]
    if not versions:
        raise ValueError("an album needs at least one version")
    frame = framing(*(version.scene for version in versions), up=settings.up)
    renderer = choose_renderer(settings.renderer)
    with ExitStack() as stack:
        backends = _opened(renderer, versions, stack)
        scales = _scales(versions, backends, frame, settings)
        draws = [draws_of(v, scales, seams, is_after=v is after) for v in versions]
        seen = _seen(versions, backends, frame, settings, draws)
        close = _close_ups(versions[-1], backends[-1], frame, settings, spots=spots, seen=seen[-1])
    sides = _Sides(
        before=seen[0] if before is not None else None,
        after=seen[-1] if after is not None else None,
        views=settings.views,
    )
    differences = _differences(sides)
    jobs = [
        *_turntable_jobs(sides, differences, frame, versions, settings),
        *_sheet_jobs(sides, scales, settings, told_apart=seams is not None),
        lambda: _uv_sheets(before, after, settings, moved),
        lambda: _side_pictures(sides, differences),
        lambda: close,
    ]
    with ThreadPoolExecutor(worker_count()) as pool:
        pictures = [p for made in pool.map(lambda job: job(), jobs) for p in made]
    return Album(
        renderer=renderer,
        pictures=tuple(pictures),
        differences=differences,
        units_per_pixel=frame.span / settings.size,
        cover=_cover(sides),
    )


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
    renderer = choose_renderer(settings.renderer)
    cameras = turntable(frame, settings.views)
    views: list[list[ViewImage]] = []
    for version in (before, after):
        if version is after and is_same_form(before.scene, after.scene):
            views.append(views[0])
            continue
        with closing(open_backend(renderer, version.scene)) as backend:
            seen = see_version(version, backend, cameras, size=settings.size, draws={}, drawn=())
        views.append(_clay(seen))
    return ComparedViews(
        differences=differences_of(views[0], views[1]),
        units_per_pixel=frame.span / settings.size,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """What was seen of both versions; the first `views` of each are the turntable's."""

    before: list[SeenView] | None
    after: list[SeenView] | None
    views: int

    @property
    def both(self) -> list[list[SeenView]]:
        return [side for side in (self.before, self.after) if side is not None]


def _scales(
    versions: Sequence[Version], backends: Sequence[Backend], frame: Frame, settings: AlbumSettings
) -> Scales:
    probes = turntable(frame, 3)
    small = [
        render_view(version.scene, camera, backend, _PROBE)
        for version, backend in zip(versions, backends, strict=True)
        for camera in probes
    ]
    cell = _CELL * _PROBE / settings.size
    return Scales(
        cells=cells_for(small, texture_size=settings.texture_size, pixels=cell),
        stretch=stretch_scale(settings.stretch_limit),
        density=reference_density(versions[-1]),
        deviation=deviation_scale(versions, settings.unit),
    )


def _opened(renderer: BackendName, versions: Sequence[Version], stack: ExitStack) -> list[Backend]:
    """A back end for each version; the same one for both where both are of one form."""
    forms = versions[:1] if len(versions) == 2 and _is_one_form(versions) else versions
    with ThreadPoolExecutor(worker_count()) as pool:
        backends = list(pool.map(lambda v: open_backend(renderer, v.scene), forms))
    for backend in backends:
        stack.callback(backend.close)
    return backends if len(backends) == len(versions) else backends * 2


def _is_one_form(versions: Sequence[Version]) -> bool:
    return is_same_form(versions[0].scene, versions[1].scene)


def _seen(
    versions: Sequence[Version],
    backends: Sequence[Backend],
    frame: Frame,
    settings: AlbumSettings,
    draws: Sequence[Mapping[str, Draw]],
) -> list[list[SeenView]]:
    cameras, size = _cameras(frame, settings), settings.size
    shown = [cameras[k].name for k in spread_choice(settings.views, _SHOWN)]
    if len(versions) == 2 and backends[0] is backends[1]:
        both = see_both(
            (versions[0], versions[1]),
            backends[0],
            cameras,
            size=size,
            draws=(draws[0], draws[1]),
            drawn=shown,
        )
        return list(both)
    return [
        see_version(version, backend, cameras, size=size, draws=some, drawn=shown)
        for version, backend, some in zip(versions, backends, draws, strict=True)
    ]


def _cameras(frame: Frame, settings: AlbumSettings) -> tuple[Camera, ...]:
    return (*turntable(frame, settings.views), top_view(frame), bottom_view(frame))


def _close_ups(
    version: Version,
    backend: Backend,
    frame: Frame,
    settings: AlbumSettings,
    *,
    spots: Sequence[Spot],
    seen: Sequence[SeenView],
) -> list[Picture]:
    cameras = _cameras(frame, settings)
    overviews = [
        Overview(camera=camera, view=view.clay) for camera, view in zip(cameras, seen, strict=True)
    ]
    return spot_pictures(
        version.scene, frame, backend, spots, overviews=overviews, size=settings.size
    )


def _differences(sides: _Sides) -> tuple[ViewDifference, ...]:
    if sides.before is None or sides.after is None:
        return ()
    before, after = _clay(sides.before), _clay(sides.after)
    return differences_of(before[: sides.views], after[: sides.views])


def _clay(seen: Sequence[SeenView]) -> list[ViewImage]:
    return [view.clay for view in seen]


def _turning(seen: list[SeenView] | None, views: int) -> list[ViewImage] | None:
    return None if seen is None else _clay(seen[:views])


Job = Callable[[], Sequence[Picture]]


def _turntable_jobs(
    sides: _Sides,
    differences: Sequence[ViewDifference],
    frame: Frame,
    versions: Sequence[Version],
    settings: AlbumSettings,
) -> list[Job]:
    before, after = _turning(sides.before, sides.views), _turning(sides.after, sides.views)
    size = max(_extent(seen_points(version.scene)) for version in versions)

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
        lambda: (turntable_frames(before, after),),
    ]


def _extent(points: FloatArray) -> float:
    """Diagonal of the box round all points; 0 for none."""
    return float(np.linalg.norm(np.ptp(points, axis=0))) if len(points) else 0.0


def _sheet_jobs(
    sides: _Sides, scales: Scales, settings: AlbumSettings, *, told_apart: bool
) -> list[Job]:
    title, unit = settings.title, settings.unit
    box = crop_box([view.clay.mask for seen in sides.both for view in seen[: sides.views]])

    def made(kind: str, make: Callable[[Sequence[ViewPair]], Picture]) -> Job:
        def job() -> Sequence[Picture]:
            pairs = _pairs(sides, kind, box)
            return (make(pairs),) if pairs else ()

        return job

    ends = _end_pairs(sides)
    moved = scales.deviation
    form = (
        []
        if moved is None
        else [made("deviation", lambda pairs: deviation_sheet(pairs, title, moved, unit))]
    )
    return [
        *form,
        made("seams", lambda pairs: seam_sheet(pairs, title, told_apart=told_apart)),
        made("checker", lambda pairs: checker_sheet(pairs, title, scales, settings.texture_size)),
        made("stretch", lambda pairs: stretch_sheet(pairs, title, scales)),
        made("density", lambda pairs: density_sheet(pairs, title, scales, unit)),
        lambda: (end_sheet(ends, title),),
    ]


def _pairs(sides: _Sides, kind: str, box: Box) -> list[ViewPair]:
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


def _end_pairs(sides: _Sides) -> list[ViewPair]:
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


def _uv_sheets(
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


def _side_pictures(sides: _Sides, differences: Sequence[ViewDifference]) -> list[Picture]:
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


def _cover(sides: _Sides) -> Image:
    front = sides.both[-1][0].clay
    return front.clay[crop_box([front.mask])]
