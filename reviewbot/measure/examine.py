"""Everything that is measured of one version of an asset, in one record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.density import Density, measure_density
from reviewbot.measure.shells import Shells, shells_on
from reviewbot.measure.stretch import Stretch, measure_stretch
from reviewbot.measure.surface import Surface, box_round_boxes, surface_of
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
    return Examination(
        model=model,
        parts=parts,
        bounds=box_round_boxes(np.array([one.surface.box for one in parts]).reshape(-1, 2, 3)),
    )


def examine_part(part: Part, settings: Settings) -> PartExamination:
    """Measure one part by itself."""
    surface = surface_of(part)
    shells = shells_on(surface, part.face_start, part.uvs, part.corner_uv)
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
