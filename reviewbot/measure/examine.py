"""Everything that is measured of one version of an asset, in one record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.density import Density, measure_density
from reviewbot.measure.shells import Shells, find_shells
from reviewbot.measure.stretch import Stretch, measure_stretch
from reviewbot.measure.surface import Surface, surface_of
from reviewbot.measure.topology import Topology, measure_topology
from reviewbot.measure.unwrap import Unwrap, measure_unwrap
from reviewbot.mesh import FloatArray, Model, Part
from reviewbot.settings import Importance, Settings, importance_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PartExamination:
    """The measures of one part."""

    part: Part
    importance: Importance
    surface: Surface
    shells: Shells
    topology: Topology
    unwrap: Unwrap
    stretch: Stretch
    density: Density


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """The measures of one version of an asset.

    parts   in the model's order, empty ones included
    bounds  (2, 3) float64 lowest and highest corner of the box round all used points in the
            asset's space; nan where there are none
    """

    model: Model
    parts: tuple[PartExamination, ...]
    bounds: FloatArray


def examine(model: Model, settings: Settings) -> Examination:
    """Measure a model whole; degenerate parts give nan and empty arrays and never raise."""
    parts = tuple(examine_part(part, settings) for part in model.parts)
    return Examination(model=model, parts=parts, bounds=bounds_of(parts))


def examine_part(part: Part, settings: Settings) -> PartExamination:
    """Measure one part by itself."""
    surface = surface_of(part)
    shells = find_shells(part)
    unwrap = measure_unwrap(part, surface, shells)
    return PartExamination(
        part=part,
        importance=importance_of(part.name, settings),
        surface=surface,
        shells=shells,
        topology=measure_topology(part, surface),
        unwrap=unwrap,
        stretch=measure_stretch(part, surface, shells),
        density=measure_density(surface, unwrap, texture_size=settings.texture.size),
    )


def bounds_of(parts: tuple[PartExamination, ...]) -> FloatArray:
    """(2, 3) the box round the used, finite points of all parts; nan where there are none."""
    boxes = [box_round(one.surface.points[one.part.corner_point]) for one in parts]
    known = [box for box in boxes if np.isfinite(box).all()]
    if not known:
        return np.full((2, 3), np.nan)
    return np.stack(
        [np.min([box[0] for box in known], axis=0), np.max([box[1] for box in known], axis=0)]
    )


def box_round(points: FloatArray) -> FloatArray:
    """(2, 3) lowest and highest corner round the finite points; nan for none."""
    finite = points[np.isfinite(points).all(axis=1)]
    if not len(finite):
        return np.full((2, 3), np.nan)
    return np.stack([finite.min(axis=0), finite.max(axis=0)])
