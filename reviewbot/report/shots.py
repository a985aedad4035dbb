"""Every view of a stage, drawn once: clay and outline of all, maps of a few."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from reviewbot.compare.comparison import PartMatch
from reviewbot.geometry.rigid import moved
from reviewbot.measure.examine import Examination
from reviewbot.mesh import FloatArray
from reviewbot.render.camera import Camera
from reviewbot.render.checker import cells_for, checker_light
from reviewbot.render.clay import clay_light
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.differences import ViewDifference, view_difference
from reviewbot.render.heat import HeatScale, heat_light, point_heat_light
from reviewbot.render.panels import spread_choice
from reviewbot.render.seam_map import SeamLines, seam_image
from reviewbot.render.visibility import ViewBuffer, draw_views, render_view
from reviewbot.report.stage import Actor, Stage

DETAILED = 4  # views of the turntable that maps are drawn in
_DENSITY_REACH = 4.0  # the density map's ends lie this factor from the middle


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One view of one version; maps only in the views chosen for detail."""

    image: ViewImage
    checker: Image | None = None
    stretch: Image | None = None
    density: Image | None = None
    seams: Image | None = None
    deviation: Image | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MapSettings:
    """What the maps mean, alike for both versions; None for a map that has nothing to show."""

    cells: int
    stretch: HeatScale | None
    density: HeatScale | None
    deviation: HeatScale | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shots:
    """All views of both versions, in the order of the stage's cameras.

    differences  of the views, empty where a version is missing
    detailed     rows of the views that have maps
    """

    before: tuple[Shot, ...] | None
    after: tuple[Shot, ...] | None
    differences: tuple[ViewDifference, ...]
    detailed: tuple[int, ...]
    maps: MapSettings


STRETCH_SCALE = HeatScale(
    colours="cividis",
    low=0.5,
    high=2.0,
    ticks=(0.5, 0.7, 1.0, 1.4, 2.0),
    low_means="squeezed",
    high_means="stretched",
    unit="1 is the shell's own average",
    is_log=True,
)


def take_shots(
    stage: Stage, matches: Sequence[PartMatch], *, texture_size: int, with_maps: bool
) -> Shots:
    """Draw every view of both versions, and say how they differ."""
    turns = len(stage.cameras) - 2
    detailed = tuple(spread_choice(turns, DETAILED)) if with_maps else ()
    maps = _map_settings(stage, matches, texture_size)
    before = _version_shots(stage, stage.before, detailed, maps, matches, is_after=False)
    after = _version_shots(stage, stage.after, detailed, maps, matches, is_after=True)
    differences: tuple[ViewDifference, ...] = ()
    if before is not None and after is not None:
        with ThreadPoolExecutor() as pool:
            differences = tuple(pool.map(_difference, before, after))
    return Shots(before=before, after=after, differences=differences, detailed=detailed, maps=maps)


def _difference(before: Shot, after: Shot) -> ViewDifference:
    return view_difference(
        before.image.name,
        before.image.clay,
        after.image.clay,
        before_mask=before.image.mask,
        after_mask=after.image.mask,
    )


def _version_shots(
    stage: Stage,
    actor: Actor | None,
    detailed: Sequence[int],
    maps: MapSettings,
    matches: Sequence[PartMatch],
    *,
    is_after: bool,
) -> tuple[Shot, ...] | None:
    if actor is None:
        return None
    details = _detail_drawer(stage, actor, maps, matches, is_after=is_after)
    chosen = {stage.cameras[k].name for k in detailed}

    def draw(view: ViewBuffer) -> Shot:
        image = _view_image(view)
        return details(view, image) if view.camera.name in chosen else Shot(image=image)

    return tuple(draw_views(actor.scene, stage.cameras, actor.backend, stage.size, draw))


def _view_image(view: ViewBuffer) -> ViewImage:
    return ViewImage(
        name=view.camera.name,
        clay=picture(view.samples, clay_light(view)),
        mask=mask(view.samples),
    )


def _detail_drawer(
    stage: Stage,
    actor: Actor,
    maps: MapSettings,
    matches: Sequence[PartMatch],
    *,
    is_after: bool,
) -> Callable[[ViewBuffer, ViewImage], Shot]:
    examination = actor.examination
    stretch = [one.stretch.face_l2 for one in examination.parts]
    density = [one.density.of_face for one in examination.parts]
    seams = _seam_lines(actor, stage, matches, is_after=is_after)
    deviation = _displacements(examination, matches) if is_after else None

    def heat(view: ViewBuffer, values: list[FloatArray], scale: HeatScale | None) -> Image | None:
        return None if scale is None else picture(view.samples, heat_light(view, values, scale))

    def draw(view: ViewBuffer, image: ViewImage) -> Shot:
        moved_map = None
        if maps.deviation is not None and deviation is not None:
            moved_map = picture(view.samples, point_heat_light(view, deviation, maps.deviation))
        return Shot(
            image=image,
            checker=picture(view.samples, checker_light(view, cells=maps.cells)),
            stretch=heat(view, stretch, maps.stretch),
            density=heat(view, density, maps.density),
            seams=seam_image(view, seams, is_after=is_after),
            deviation=moved_map,
        )

    return draw


def _map_settings(stage: Stage, matches: Sequence[PartMatch], texture_size: int) -> MapSettings:
    first = [_first_view(stage, actor) for actor in stage.actors]
    examinations = [actor.examination for actor in stage.actors]
    has_uvs = any(one.shells.count for e in examinations for one in e.parts)
    return MapSettings(
        cells=cells_for(first, texture_size=texture_size),
        stretch=STRETCH_SCALE if has_uvs else None,
        density=_density_scale(examinations) if has_uvs else None,
        deviation=_deviation_scale(matches),
    )


def _first_view(stage: Stage, actor: Actor) -> ViewBuffer:
    camera: Camera = stage.cameras[0]
    return render_view(actor.scene, camera, actor.backend, min(stage.size, 256))


def _density_scale(examinations: Sequence[Examination]) -> HeatScale | None:
    """Round the middle density of the first version, by area."""
    parts = [one for one in examinations[0].parts if one.shells.count]
    values = np.concatenate([np.empty(0), *(one.density.of_face for one in parts)])
    areas = np.concatenate([np.empty(0), *(one.surface.face_area for one in parts)])
    known = np.isfinite(values) & (values > 0) & np.isfinite(areas)
    if not known.any():
        return None
    order = np.argsort(values[known])
    share = np.cumsum(areas[known][order])
    middle = float(values[known][order][int(np.searchsorted(share, 0.5 * share[-1]))])
    ticks = tuple(float(f"{middle * factor:.2g}") for factor in (0.25, 0.5, 1, 2, 4))
    return HeatScale(
        colours="cividis",
        low=middle / _DENSITY_REACH,
        high=middle * _DENSITY_REACH,
        ticks=ticks,
        low_means="coarse",
        high_means="fine",
        unit="pixels per unit",
        is_log=True,
    )


def _deviation_scale(matches: Sequence[PartMatch]) -> HeatScale | None:
    """From nothing to the largest displacement; None where nothing was reshaped."""
    largest = [np.nanmax(m.displacement) for m in matches if np.isfinite(m.displacement).any()]
    if not largest or max(largest) <= 0:
        return None
    high = float(max(largest))
    return HeatScale(
        colours="cividis",
        low=0.0,
        high=high,
        ticks=tuple(float(f"{high * share:.2g}") for share in (0, 0.25, 0.5, 0.75, 1)),
        low_means="as before",
        high_means="moved",
        unit="units",
    )


def _displacements(examination: Examination, matches: Sequence[PartMatch]) -> list[FloatArray]:
    """Per part after (V,): how far each point moved, 0 where the part was not reshaped."""
    values = [np.zeros(len(one.part.points)) for one in examination.parts]
    for match in matches:
        if match.after is not None and len(match.displacement):
            values[match.after] = match.displacement
    return values


def _seam_lines(
    actor: Actor, stage: Stage, matches: Sequence[PartMatch], *, is_after: bool
) -> SeamLines:
    """Seams in the stage's space: the version's own, and what was cut or sewn over them."""
    place = np.eye(4) if stage.after is None else stage.after.place
    empty = np.empty((0, 2, 3))
    cut = np.concatenate([empty, *(match.cut for match in matches)])
    sewn = np.concatenate([empty, *(match.sewn for match in matches)])
    own = [_own_seams(actor.examination, row) for row in range(len(actor.examination.parts))]
    return SeamLines(
        kept=_placed(np.concatenate([empty, *own]), actor.place),
        cut=_placed(cut, place) if is_after else empty,
        sewn=empty if is_after else _placed(sewn, place),
    )


def _own_seams(examination: Examination, row: int) -> FloatArray:
    """(K, 2, 3) the seams of one part, in its version's space."""
    one = examination.parts[row]
    rows = np.flatnonzero(one.shells.is_seam)
    side = one.shells.edges.sides[one.shells.edges.side_start[rows]]
    start = one.part.face_start
    owner = np.searchsorted(start, side, side="right") - 1
    after = np.where(side + 1 == start[owner + 1], start[owner], side + 1)
    ends = np.stack([one.part.corner_point[side], one.part.corner_point[after]], axis=1)
    return np.asarray(one.surface.points[ends])


def _placed(segments: FloatArray, matrix: FloatArray) -> FloatArray:
    return moved(segments.reshape(-1, 3), matrix).reshape(-1, 2, 3)
