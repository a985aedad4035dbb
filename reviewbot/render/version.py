"""One version of an asset, with the figures that are drawn on it, and its views."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.render.backends import Backend
from reviewbot.render.camera import Camera
from reviewbot.render.checker import checker_light
from reviewbot.render.clay import clay_light, form_shade
from reviewbot.render.colours import Image
from reviewbot.render.compose import ViewImage, mask, picture
from reviewbot.render.heat import HeatScale, distance_scale, heat_light, point_heat_light
from reviewbot.render.samples import Floats32, Scene
from reviewbot.render.scene import with_shared_colours
from reviewbot.render.seam_map import SeamLines, seam_image
from reviewbot.render.texture import Textured, texture_light
from reviewbot.render.visibility import ViewBuffer, draw_view_pairs, draw_views

Draw = Callable[[ViewBuffer, Floats32], Image]
IN_ALL_VIEWS = frozenset({"textured"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version of an asset, with the figures that are drawn on it.

    stretch     per part (F,) float64, 1 where the UVs only scale; nan where unmapped
    density     per part (F,) float64 texels per unit; nan where unmapped
    seams       (K, 2, 3) float64 all its seams, in the scene's space
    is_stacked  (T,) bool: triangles of shells that are copies stacked on purpose
    deviation   per part (V,) float64 distance of each point from the other version, in units
    textured    its base colour pictures

    None where not known, or not to be drawn.
    """

    scene: Scene
    stretch: Sequence[FloatArray] | None = None
    density: Sequence[FloatArray] | None = None
    seams: FloatArray | None = None
    is_stacked: BoolArray | None = None
    deviation: Sequence[FloatArray] | None = None
    textured: Textured | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenView:
    """One view of one version: clay, what is covered, and other pictures by kind."""

    clay: ViewImage
    others: Mapping[str, Image]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """What is the same in both versions' pictures.

    cells    of the checker along a tile's side; None where nothing is mapped in either version
    density  its reference, texels per unit; None where nothing is mapped
    """

    cells: int | None
    stretch: HeatScale
    density: float | None
    deviation: HeatScale | None


DENSITY = HeatScale(
    colours="PuOr",
    low=0.25,
    high=4.0,
    ticks=(0.25, 0.5, 1, 2, 4),
    low_means="coarser",
    high_means="finer",
    is_log=True,
)


def alike_coloured(
    before: Version | None, after: Version | None, renamed: Mapping[str, str]
) -> tuple[Version | None, Version | None]:
    """Both versions with one colour for what is one part (see `scene.with_shared_colours`)."""
    if before is None or after is None:
        return before, after
    old, new = with_shared_colours(before.scene, after.scene, renamed)
    return replace(before, scene=old), replace(after, scene=new)


def stretch_scale(limit: float) -> HeatScale:
    """From no stretch to well above the limit."""
    high = round(max(2.0, 1.6 * limit), 1)
    return HeatScale(
        colours="cividis",
        low=1.0,
        high=high,
        ticks=(1.0, limit, high),
        low_means="even",
        high_means="stretched",
        is_log=True,
    )


def deviation_scale(versions: Sequence[Version], unit: str) -> HeatScale | None:
    """From nothing to the largest distance; None where none is known or all are 0."""
    known = [np.concatenate(v.deviation) for v in versions if v.deviation is not None]
    values = np.concatenate([np.empty(0), *known])
    largest = float(np.nanmax(values, initial=0.0))
    if not largest > 0:
        return None
    return distance_scale(largest, low_means="as before", high_means="moved", unit=unit)


def reference_density(version: Version) -> float | None:
    """The median over a version's mapped faces; None where there are none."""
    values = np.concatenate([np.empty(0), *(version.density or ())])
    values = values[np.isfinite(values) & (values > 0)]
    return float(np.median(values)) if len(values) else None


def see_version(
    version: Version,
    backend: Backend,
    cameras: Sequence[Camera],
    *,
    size: int,
    draws: Mapping[str, Draw],
    drawn: Sequence[str],
) -> list[SeenView]:
    """Every view in clay; in the views named in `drawn`, the other pictures too."""

    return draw_views(version.scene, cameras, backend, size, _seer(draws, drawn))


def see_pair(
    versions: tuple[Version, Version],
    backends: tuple[Backend, Backend],
    cameras: Sequence[Camera],
    *,
    size: int,
    draws: tuple[Mapping[str, Draw], Mapping[str, Draw]],
    drawn: Sequence[str],
) -> tuple[list[SeenView], list[SeenView]]:
    """Both versions, each as of `see_version`; what did not change is traced once for both."""
    old, new = (version.scene for version in versions)
    seers = (_seer(draws[0], drawn), _seer(draws[1], drawn))
    both = draw_view_pairs((old, new), cameras, backends, size, seers)
    return [before for before, _ in both], [after for _, after in both]


def _seer(draws: Mapping[str, Draw], drawn: Sequence[str]) -> Callable[[ViewBuffer], SeenView]:
    def seen(view: ViewBuffer) -> SeenView:
        light = clay_light(view)
        wanted = _wanted(draws, view.camera.name, drawn)
        return SeenView(clay=_clay_image(view, light), others=_others(view, light, wanted))

    return seen


def see_both(
    versions: tuple[Version, Version],
    backend: Backend,
    cameras: Sequence[Camera],
    *,
    size: int,
    draws: tuple[Mapping[str, Draw], Mapping[str, Draw]],
    drawn: Sequence[str],
) -> tuple[list[SeenView], list[SeenView]]:
    """Both versions of one form (see `scene.is_same_form`), each view traced once for both."""
    before, after = (version.scene for version in versions)

    def seen(view: ViewBuffer) -> tuple[SeenView, SeenView]:
        light = clay_light(view)
        clay = _clay_image(view, light)
        wanted = [_wanted(some, view.camera.name, drawn) for some in draws]
        old, new = (
            SeenView(clay=clay, others=_others(replace(view, scene=scene), light, some))
            for scene, some in zip((before, after), wanted, strict=True)
        )
        return old, new

    charts = before.chart.astype(np.int64) * 65_537 + after.chart  # edges where either ends
    mixed = (charts % np.iinfo(np.int32).max).astype(np.int32)
    unmapped = (before.chart < 0) & (after.chart < 0)
    joint = replace(before, chart=np.where(unmapped, np.int32(-1), mixed))
    both = draw_views(joint, cameras, backend, size, seen)
    return [old for old, _ in both], [new for _, new in both]


def _wanted(draws: Mapping[str, Draw], view: str, drawn: Sequence[str]) -> dict[str, Draw]:
    """What of `draws` is drawn in a view: everything in those of `drawn`, some in all."""
    return {kind: draw for kind, draw in draws.items() if view in drawn or kind in IN_ALL_VIEWS}


def _clay_image(view: ViewBuffer, light: Floats32) -> ViewImage:
    image = picture(view.samples, light)
    return ViewImage(name=view.camera.name, clay=image, mask=mask(view.samples))


def _others(view: ViewBuffer, clay: Floats32, draws: Mapping[str, Draw]) -> dict[str, Image]:
    if not draws:
        return {}
    shade = form_shade(clay)
    return {kind: draw(view, shade) for kind, draw in draws.items()}


def draws_of(
    version: Version, scales: Scales, seams: SeamLines | None, *, is_after: bool
) -> dict[str, Draw]:
    """How each further picture of a version is drawn from a view and the shade of its form."""
    draws: dict[str, Draw] = {}
    if scales.cells is not None:
        draws["checker"] = _checker(scales.cells)
    if version.stretch is not None:
        draws["stretch"] = _face_map(version.stretch, scales.stretch)
    if version.density is not None and scales.density is not None:
        shares = [values / scales.density for values in version.density]
        draws["density"] = _face_map(shares, DENSITY)
    if version.deviation is not None and scales.deviation is not None:
        draws["deviation"] = _point_map(version.deviation, scales.deviation)
    if seams is None and version.seams is not None and len(version.seams):
        nothing = np.empty((0, 2, 3))
        seams = SeamLines(kept=version.seams, cut=nothing, sewn=nothing)
    if seams is not None:
        draws["seams"] = partial(seam_image, seams=seams, is_after=is_after)
    if version.textured is not None:
        draws["textured"] = _textured(version.textured)
    return draws


def _textured(textured: Textured) -> Draw:
    return lambda view, shade: picture(view.samples, texture_light(view, shade, textured))


def _checker(cells: int) -> Draw:
    return lambda view, shade: picture(view.samples, checker_light(view, shade, cells=cells))


def _face_map(face_values: Sequence[FloatArray], scale: HeatScale) -> Draw:
    return lambda view, shade: picture(view.samples, heat_light(view, shade, face_values, scale))


def _point_map(point_values: Sequence[FloatArray], scale: HeatScale) -> Draw:
    return lambda view, shade: picture(
        view.samples, point_heat_light(view, shade, point_values, scale)
    )
