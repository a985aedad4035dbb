"""Everything that is measured of one version of an asset, in one record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.measure.borders import Borders, measure_borders
from reviewbot.measure.density import Density, measure_density
from reviewbot.measure.doubles import Double, find_doubles
from reviewbot.measure.joints import Joints, find_joints
from reviewbot.measure.manifold import Manifold, measure_manifold
from reviewbot.measure.quality import Quality, measure_quality
from reviewbot.measure.shells import Shells, shells_on
from reviewbot.measure.stretch import Stretch, measure_stretch
from reviewbot.measure.surface import Surface, box_round_boxes, diagonal, surface_of
from reviewbot.measure.topology import Topology, measure_topology
from reviewbot.measure.twins import Twins, find_twins
from reviewbot.measure.unwrap import Unwrap, measure_unwrap
from reviewbot.measure.winding import Winding, measure_winding
from reviewbot.mesh import FloatArray, Model, Part
from reviewbot.settings import Importance, Settings, importance_of, is_high


@dataclass(frozen=True, slots=True, kw_only=True)
class PartExamination:
    """The measures of one part.

    textured  it is no sculpted high part, so that its UVs matter
    """

    part: Part
    importance: Importance
    textured: bool
    surface: Surface
    topology: Topology
    quality: Quality
    twins: Twins
    joints: Joints
    manifold: Manifold
    winding: Winding
    shells: Shells
    unwrap: Unwrap
    stretch: Stretch
    density: Density


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """The measures of one version of an asset.

    parts    in the model's order, empty ones included
    bounds   (2, 3) float64 lowest and highest corner of the box round all used points in the
             asset's space; nan where there are none
    borders  of each part, in the same order
    doubles  parts with pieces that lie on identical pieces of another part
    """

    model: Model
    parts: tuple[PartExamination, ...]
    bounds: FloatArray
    borders: tuple[Borders, ...]
    doubles: tuple[Double, ...]


@np.errstate(all="ignore")  # nan and infinity in a file are findings, not warnings
def examine(model: Model, settings: Settings) -> Examination:
    """Measure a model whole; degenerate parts give nan and empty arrays and never raise."""
    parts = tuple(examine_part(part, settings) for part in model.parts)
    bounds = box_round_boxes(np.array([one.surface.box for one in parts]).reshape(-1, 2, 3))
    size = diagonal(bounds)
    return Examination(
        model=model,
        parts=parts,
        bounds=bounds,
        borders=measure_borders(parts, size),
        doubles=find_doubles(parts, size),
    )


@np.errstate(all="ignore")
def examine_part(part: Part, settings: Settings) -> PartExamination:
    """Measure one part by itself."""
    surface = surface_of(part)
    topology = measure_topology(part, surface)
    twins = find_twins(part, surface, topology)
    joints = find_joints(part, surface, twins)
    shells = shells_on(surface, part.face_start, part.uvs, part.corner_uv)
    unwrap = measure_unwrap(part, surface, shells)
    return PartExamination(
        part=part,
        importance=importance_of(part.name, settings),
        textured=not is_high(part.name, settings),
        surface=surface,
        topology=topology,
        quality=measure_quality(surface.points, part.corner_point, part.face_start),
        twins=twins,
        joints=joints,
        manifold=measure_manifold(part, surface, joints, twins),
        winding=measure_winding(part, surface, joints),
        shells=shells,
        unwrap=unwrap,
        stretch=measure_stretch(part, surface, shells),
        density=measure_density(surface, unwrap, texture_size=settings.texture.size),
    )
