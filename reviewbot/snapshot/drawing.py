"""The pictures of one asset's way: its versions through the same camera, its start and its end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Literal

import numpy as np

from reviewbot.errors import MeshReadError
from reviewbot.history.sources import GitSource, opened
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.render.animation import side_pictures
from reviewbot.render.backends import RendererName, choose_renderer, open_backend
from reviewbot.render.camera import Camera, Frame, framing, turntable
from reviewbot.render.clay import clay_light
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.contact_sheet import Verdict
from reviewbot.render.differences import differences_of
from reviewbot.render.film import FilmFrame, film_animation, film_strip
from reviewbot.render.panels import crop_box
from reviewbot.render.picture import Picture
from reviewbot.render.preview import corner_cameras
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.strip import difference_image, strip_picture
from reviewbot.render.visibility import ViewBuffer, draw_views
from reviewbot.report.plain_text import visible
from reviewbot.report.wording import number
from reviewbot.settings import Settings

_VIEWS, _SIZE = 8, 420
_ALIKE = 4.0  # versions up to so many times as large or small share one scale
_KEPT_TRIANGLES = 1_000_000  # scenes of all versions; above that they are read again


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One version to be pictured.

    source  None: the file was removed
    """

    source: GitSource | None
    day: str
    words: str
    verdict: Verdict | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmJob:
    """One asset to be pictured; plain enough to be sent to another process.

    shots       the versions to be shown, in order
    left_out    how many are not
    start, end  which of the shots they are; None where there is none
    begins      what the start is: that of the period, or of a new asset
    """

    path: str
    shots: tuple[Shot, ...]
    left_out: int
    start: int | None
    end: int | None
    begins: Literal["the start", "the first version"]
    settings: Settings
    renderer: RendererName


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """What came of it. covers  (H, W, 3) of the start and the end; None where there is none."""

    pictures: tuple[Picture, ...]
    covers: tuple[Image | None, Image | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """One version as it was seen. size  "" where it shares the common scale"""

    corner: ViewImage
    size: str
    turn: tuple[ViewImage, ...] = ()


def draw_film(job: FilmJob) -> Film:
    """Film strip, start against end, and animation. Raises RendererUnavailableError."""
    seen = _seen_shots(job)
    name = visible(PurePath(job.path).name)
    box = crop_box([one.corner.mask for one in seen if one is not None]) if any(seen) else None
    frames = [_film_frame(shot, one, box) for shot, one in zip(job.shots, seen, strict=True)]
    pictures: list[Picture] = []
    start, end = (None if at is None else seen[at] for at in (job.start, job.end))
    if start is not None or end is not None:
        pictures += _start_and_end(start, end, name, job.begins)
    if len(frames) > 1:
        title = f"{name}, version by version"
        pictures.append(film_strip(frames, title=title, left_out=job.left_out))
        pictures.append(film_animation(frames))
    return Film(pictures=tuple(pictures), covers=(_cover(start), _cover(end)))


def _seen_shots(job: FilmJob) -> list[_Seen | None]:
    """Every version through one camera; None where there is nothing to be seen."""
    limits = job.settings.files
    with IsolatedReader(memory_mb=limits.memory_mb, seconds=limits.seconds) as reader:
        kept: dict[int, Scene] = {}
        frames: dict[int, Frame] = {}
        colours: dict[str, int] = {}
        room = _KEPT_TRIANGLES
        for at, shot in enumerate(job.shots):
            scene = _scene(shot, reader)
            if scene is None:
                continue
            frames[at] = framing(scene, up=job.settings.placement.up)
            for name in scene.part_names:
                colours.setdefault(name, len(colours))
            room -= len(scene.triangles)
            if room > 0:
                kept[at] = scene
        common = _common(frames.values())
        seen: list[_Seen | None] = []
        for at, shot in enumerate(job.shots):
            scene = kept.pop(at, None) or (_scene(shot, reader) if at in frames else None)
            if scene is None or common is None:
                seen.append(None)
                continue
            turns = at in (job.start, job.end)
            coloured = _coloured(scene, colours)
            seen.append(_see(coloured, frames[at], common, job.renderer, turns=turns))
    return seen


def _scene(shot: Shot, reader: IsolatedReader) -> Scene | None:
    if shot.source is None:
        return None
    try:
        with opened(shot.source) as file:
            model = reader.read(file.data, path=shot.source.path, siblings=file.siblings)
    except MeshReadError:
        return None
    scene = build_scene(model)
    return scene if len(scene.triangles) else None


def _coloured(scene: Scene, colours: Mapping[str, int]) -> Scene:
    """With one colour for what has one name, in whatever order a version lists its parts."""
    numbers = np.array([colours[name] for name in scene.part_names], dtype=np.int32)
    return replace(scene, part_colour=numbers)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Common:
    """What versions of a usual size are looked at with. span  of a usual version"""

    frame: Frame
    span: float


def _common(frames: Iterable[Frame]) -> _Common | None:
    """One frame that holds all versions of a usual size."""
    frames = list(frames)
    if not frames:
        return None
    spans = sorted(frame.span for frame in frames)
    middle = spans[len(spans) // 2]
    usual = [frame for frame in frames if _is_alike(frame.span, middle)]
    low = np.min([frame.centre - frame.span / 2 for frame in usual], axis=0)
    high = np.max([frame.centre + frame.span / 2 for frame in usual], axis=0)
    centre = 0.5 * (low + high)
    return _Common(
        frame=Frame(centre=centre, span=float((high - low).max()), up=usual[0].up), span=middle
    )


def _is_alike(span: float, other: float) -> bool:
    return other / _ALIKE <= span <= other * _ALIKE


def _see(
    scene: Scene, own: Frame, common: _Common, renderer: RendererName, *, turns: bool
) -> _Seen:
    fits = _is_alike(own.span, common.span)
    frame = common.frame if fits else own
    factor = float(f"{own.span / common.span:.2g}")
    cameras: list[Camera] = [corner_cameras(frame)[0]]
    cameras += turntable(frame, _VIEWS) if turns else ()
    with closing(open_backend(choose_renderer(renderer), scene)) as backend:
        corner, *turn = draw_views(scene, cameras, backend, _SIZE, _clay)
    size = "" if fits else f"{number(factor)} times as large"
    return _Seen(corner=corner, size=size, turn=tuple(turn))


def _clay(view: ViewBuffer) -> ViewImage:
    return ViewImage(
        name=view.camera.name,
        clay=picture(view.samples, clay_light(view)),
        mask=mask(view.samples),
    )


def _film_frame(shot: Shot, seen: _Seen | None, box: tuple[slice, slice] | None) -> FilmFrame:
    instead = "removed" if shot.source is None else "nothing to be seen"
    return FilmFrame(
        image=None if seen is None or box is None else seen.corner.clay[box],
        instead=instead,
        day=shot.day,
        words=shot.words,
        size="" if seen is None else seen.size,
        verdict=shot.verdict,
    )


def _cover(seen: _Seen | None) -> Image | None:
    return None if seen is None else seen.corner.clay[crop_box([seen.corner.mask])]


def _start_and_end(
    start: _Seen | None, end: _Seen | None, name: str, begins: str
) -> Sequence[Picture]:
    """The turntable of both, and one view of both, to be laid over each other."""
    if start is None or end is None:
        which = f"at {begins}" if end is None else "at the end"
        before, after = (None if one is None else one.turn for one in (start, end))
        return [strip_picture(before, after, (), title=f"{name} {which}")]
    differences = differences_of(start.turn, end.turn, flip_views=0)
    title = f"{name}: {begins} over the end"
    strip = strip_picture(start.turn, end.turn, differences, title=title)
    corners = differences_of((start.corner,), (end.corner,), flip_views=0)
    box = crop_box([start.corner.mask, end.corner.mask])
    differs = difference_image(start.corner, end.corner, corners[0])
    return [strip, *side_pictures(start.corner, end.corner, differs, box)]
