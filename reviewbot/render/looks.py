"""How the versions of an asset are looked at: cameras, back ends, and what each view gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, replace

from reviewbot.cores import thread_count
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.backends import Backend, BackendName, open_backend
from reviewbot.render.camera import Camera, Frame, bottom_view, top_view, turntable
from reviewbot.render.checker import cells_for
from reviewbot.render.compose import ViewImage
from reviewbot.render.panels import spread_choice
from reviewbot.render.scene import is_same_form
from reviewbot.render.version import (
    Draw,
    Scales,
    SeenView,
    Version,
    deviation_scale,
    reference_density,
    see_both,
    see_pair,
    see_version,
    stretch_scale,
)
from reviewbot.render.visibility import render_view

_PROBE = 64  # pixels of the small views by which the checker's size is chosen
_CELL = 16.0  # pixels that a checker's cell is wanted to be wide


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """What was seen of both versions; the first `views` of each are the turntable's."""

    before: list[SeenView] | None
    after: list[SeenView] | None
    views: int

    @property
    def both(self) -> list[list[SeenView]]:
        return [side for side in (self.before, self.after) if side is not None]


def shared_scales(
    versions: Sequence[Version], backends: Sequence[Backend], frame: Frame, settings: AlbumSettings
) -> Scales:
    probes = turntable(frame, 3)
    small = [
        render_view(version.scene, camera, backend, _PROBE)
        for version, backend in zip(versions, backends, strict=True)
        for camera in probes
    ]
    cell = _CELL * _PROBE / settings.size
    cells = cells_for(small, texture_size=settings.texture_size, pixels=cell)
    return Scales(
        cells=cells if any((version.scene.uv >= 0).any() for version in versions) else None,
        stretch=stretch_scale(settings.stretch_limit),
        density=reference_density(versions[-1]),
        deviation=deviation_scale(versions, settings.unit),
    )


def opened_backends(
    renderer: BackendName, versions: Sequence[Version], stack: ExitStack
) -> list[Backend]:
    """A back end for each version; the same one for both where both are of one form."""
    forms = versions[:1] if len(versions) == 2 and _is_one_form(versions) else versions
    with ThreadPoolExecutor(thread_count()) as pool:
        backends = list(pool.map(lambda v: open_backend(renderer, v.scene), forms))
    for backend in backends:
        stack.callback(backend.close)
    return backends if len(backends) == len(versions) else backends * 2


def _is_one_form(versions: Sequence[Version]) -> bool:
    return is_same_form(versions[0].scene, versions[1].scene)


def seen_versions(
    versions: Sequence[Version],
    backends: Sequence[Backend],
    cameras: Sequence[Camera],
    *,
    size: int,
    draws: Sequence[Mapping[str, Draw]],
    drawn: Sequence[str],
) -> list[list[SeenView]]:
    """Each version from every camera; what both have in common is traced once.

    backends  as of `opened_backends`
    draws     the further pictures of each version; in the views named in `drawn`, some in all
    """
    if len(versions) == 1:
        return [
            see_version(versions[0], backends[0], cameras, size=size, draws=draws[0], drawn=drawn)
        ]
    both, two = (versions[0], versions[1]), (draws[0], draws[1])
    if backends[0] is backends[1]:
        return list(see_both(both, backends[0], cameras, size=size, draws=two, drawn=drawn))
    pair = (backends[0], backends[1])
    return list(see_pair(both, pair, cameras, size=size, draws=two, drawn=drawn))


def shown_views(cameras: Sequence[Camera], settings: AlbumSettings) -> list[str]:
    """The turntable's views of which there are further pictures."""
    return [cameras[k].name for k in spread_choice(settings.views, settings.shown)]


def album_cameras(frame: Frame, settings: AlbumSettings) -> tuple[Camera, ...]:
    return (*turntable(frame, settings.views), top_view(frame), bottom_view(frame))


def clay_views(seen: Sequence[SeenView]) -> list[ViewImage]:
    return [view.clay for view in seen]


def textured_views(seen: list[SeenView] | None, views: int) -> list[ViewImage] | None:
    """The turntable's views with base colour pictures on; None where there are none."""
    if seen is None or "textured" not in seen[0].others:
        return None
    return [replace(view.clay, clay=view.others["textured"]) for view in seen[:views]]


def turning_views(seen: list[SeenView] | None, views: int) -> list[ViewImage] | None:
    return None if seen is None else clay_views(seen[:views])
