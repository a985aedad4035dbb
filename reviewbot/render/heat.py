"""Heat maps: a figure of each face as a colour on the form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.mesh import FloatArray
from reviewbot.render.checker import UNMAPPED
from reviewbot.render.clay import hatch
from reviewbot.render.colours import Rgb, ScaleName, light_of, scale_light
from reviewbot.render.samples import Floats32
from reviewbot.render.visibility import ViewBuffer, interpolated

PALE: Rgb = (226, 225, 221)
_QUIET = 0.08  # of a scale, from its low end, over which its colours come in


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatScale:
    """What colours mean.

    colours    "cividis" for amounts, "PuOr" for signed ones
    low, high  the values at its ends; what lies beyond takes the end's colour
    is_log     equal ratios, not equal differences, are equally far apart
    is_quiet_at_low  what lies at the low end is left pale, so that the rest stands out
    unit       "" for a plain number
    ticks      values written beside the bar
    low_means, high_means  the ends in words
    """

    colours: ScaleName
    low: float
    high: float
    ticks: tuple[float, ...]
    low_means: str
    high_means: str
    unit: str = ""
    is_log: bool = False
    is_quiet_at_low: bool = False


def distance_scale(largest: float, *, low_means: str, high_means: str, unit: str) -> HeatScale:
    """From nothing, which is left pale, to the largest distance; up to 1 where that is nothing."""
    high = largest if largest > 0 else 1.0
    return HeatScale(
        colours="cividis",
        low=0.0,
        high=high,
        ticks=tuple(float(f"{high * k / 4:.2g}") for k in range(5)),
        low_means=low_means,
        high_means=high_means,
        unit=unit,
        is_quiet_at_low=True,
    )


def share_on(scale: HeatScale, values: FloatArray) -> FloatArray:
    """Where values lie on a scale, 0 at its low end, 1 at its high; nan stays nan."""
    with np.errstate(divide="ignore", invalid="ignore"):
        if scale.is_log:
            low, high, at = np.log(scale.low), np.log(scale.high), np.log(values)
        else:
            low, high, at = scale.low, scale.high, values
        return np.asarray((at - low) / (high - low))


def colours_of(scale: HeatScale, share: FloatArray) -> Floats32:
    """(N, 3) float32 light for places along a scale."""
    light = scale_light(scale.colours, share)
    if not scale.is_quiet_at_low:
        return light
    come_in = np.clip(np.nan_to_num(share) / _QUIET, 0, 1).astype(np.float32)
    for k, pale in enumerate(light_of(PALE)):
        light[:, k] = pale + (light[:, k] - pale) * come_in
    return light


def heat_light(
    view: ViewBuffer, shade: Floats32, face_values: Sequence[FloatArray], scale: HeatScale
) -> Floats32:
    """(S, 3) float32 light.

    face_values  per part (F,) float64; a face of nan has no value and is grey and hatched
    """
    offsets = np.cumsum([0, *(len(values) for values in face_values)])
    flat = np.concatenate([np.empty(0), *face_values])
    triangle = view.samples.triangle
    face = offsets.take(view.scene.part.take(triangle)) + view.scene.face.take(triangle)
    values = flat.take(face) if len(flat) else np.full(len(face), np.nan)
    return tinted_light(view, shade, values, scale)


def point_heat_light(
    view: ViewBuffer, shade: Floats32, point_values: Sequence[FloatArray], scale: HeatScale
) -> Floats32:
    """(S, 3) float32 light.

    point_values  per part (V,) float64, linear in between; nan where a point has no value
    """
    flat = np.concatenate([np.empty(0), *point_values]).astype(np.float32)[:, None]
    values = interpolated(view.samples, flat, view.scene.triangles)[:, 0]
    return tinted_light(view, shade, values.astype(np.float64), scale)


def tinted_light(
    view: ViewBuffer, shade: Floats32, values: FloatArray, scale: HeatScale
) -> Floats32:
    """(S, 3) float32 light by a value at each sample, (S,); shade (S,) as of `clay.form_shade`."""
    light = colours_of(scale, share_on(scale, values)).T
    bare = np.flatnonzero(np.isnan(values))
    crossed = hatch(view.samples.pixel[bare], view.samples.width)
    grey = np.where(crossed, np.float32(1), np.float32(0.6))
    light[:, bare] = light_of(UNMAPPED)[:, None] * grey
    light *= shade
    return light.T
