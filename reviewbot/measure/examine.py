"""Everything that is measured of one version of an asset, in one record."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np

from reviewbot.measure.atlas import Atlas, build_atlas
from reviewbot.measure.borders import Borders, measure_borders
from reviewbot.measure.density import Density, measure_density
from reviewbot.measure.doubles import Double, find_doubles
from reviewbot.measure.eyes import eyes_of
from reviewbot.measure.gaps import Gaps, find_gaps
from reviewbot.measure.joints import Joints, find_joints
from reviewbot.measure.manifold import Manifold, measure_manifold
from reviewbot.measure.memory import Memory, mark_of
from reviewbot.measure.names import Partner
from reviewbot.measure.overlap import Overlaps, find_overlaps
from reviewbot.measure.pairing import Pairing, pair_parts
from reviewbot.measure.placement import (
    Placement,
    TransformLeft,
    measure_placement,
    transform_left,
)
from reviewbot.measure.quality import Quality, measure_quality
from reviewbot.measure.shells import Shells, shells_on
from reviewbot.measure.stretch import Stretch, measure_stretch
from reviewbot.measure.subdivision import Subdivision, measure_subdivision
from reviewbot.measure.surface import Surface, box_round_boxes, diagonal, surface_of
from reviewbot.measure.tiles import Tiles, measure_tiles
from reviewbot.measure.topology import Topology, count_bad_uvs, measure_topology
from reviewbot.measure.twins import Twins, find_twins
from reviewbot.measure.unwrap import Unwrap, measure_unwrap
from reviewbot.measure.viewing import Viewing, measure_viewing
from reviewbot.measure.winding import Winding, measure_winding
from reviewbot.mesh import FloatArray, Model, Part
from reviewbot.readers.textures import NO_TEXTURES, Textures
from reviewbot.settings import Importance, Settings, importance_of, is_high, matches


@dataclass(frozen=True, slots=True, kw_only=True)
class PartExamination:
    """The measures of one part.

    textured     it is no sculpted high part, so that its UVs matter
    subdivision  None for a part that the settings do not mean to be subdivided, or that is mostly
                 triangles: a sculpt that was reduced is past subdividing
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
    transform: TransformLeft
    subdivision: Subdivision | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """The measures of one version of an asset.

    parts    in the model's order, empty ones included
    bounds   (2, 3) float64 lowest and highest corner of the box round all used points in the
             asset's space; nan where there are none
    borders  of each part, in the same order
    doubles  parts with pieces that lie on identical pieces of another part
    atlas    all textured parts in one UV plane; overlaps, tiles and gaps are of its charts
    viewing  of each part, in the same order; None where it is not shown or there are no rays
    pairing  low and high parts, and how they bake
    textures  base colour pictures, and which are missing
    """

    model: Model
    parts: tuple[PartExamination, ...]
    bounds: FloatArray
    borders: tuple[Borders, ...]
    doubles: tuple[Double, ...]
    atlas: Atlas
    overlaps: Overlaps
    tiles: Tiles
    gaps: Gaps
    placement: Placement
    viewing: tuple[Viewing | None, ...]
    pairing: Pairing
    textures: Textures = NO_TEXTURES


@np.errstate(all="ignore")  # nan and infinity in a file are findings, not warnings
def examine(
    model: Model,
    settings: Settings,
    *,
    partner: Partner | None = None,
    textures: Textures = NO_TEXTURES,
    memory: Memory | None = None,
) -> Examination:
    """Measure a model whole; degenerate parts give nan and empty arrays and never raise.

    partner   the file with the high parts to these low ones, or the other way round
    textures  what became of the pictures its materials ask for
    memory    shared by versions that may have parts in common: those are measured once, and are
              the very same records in both
    """
    memory = memory or Memory()
    parts = _examine_parts(model.parts, settings, memory)
    bounds = box_round_boxes(np.array([one.surface.box for one in parts]).reshape(-1, 2, 3))
    size = diagonal(bounds)
    atlas = build_atlas(parts, model.materials)
    texture = settings.texture
    overlaps = find_overlaps(atlas, texture_size=texture.size)
    return Examination(
        model=replace(model, parts=tuple(one.part for one in parts)),
        parts=parts,
        bounds=bounds,
        borders=measure_borders(parts, size),
        doubles=find_doubles(parts, size),
        atlas=atlas,
        overlaps=overlaps,
        tiles=measure_tiles(atlas, overlaps),
        gaps=find_gaps(atlas, overlaps, parts, padding=texture.padding, texture_size=texture.size),
        placement=measure_placement(
            [one.surface.points[one.surface.used] for one in parts],
            model.up_axis or settings.placement.up,
        ),
        viewing=measure_viewing(
            [one.part for one in parts],
            [one.surface for one in parts],
            [one.shells for one in parts],
            [one.unwrap.face_uv_area for one in parts],
            settings,
            eyes=eyes_of(model, settings),
            memory=memory,
        ),
        pairing=pair_parts([(one.part, one.surface) for one in parts], settings, partner=partner),
        textures=textures,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """The measures of a part that its form alone decides, whatever its UVs and its name are."""

    surface: Surface
    topology: Topology
    quality: Quality
    twins: Twins
    joints: Joints
    manifold: Manifold
    winding: Winding


_FORM_FIELDS = ("points", "corner_point", "face_start", "transform")


def _examine_parts(
    parts: tuple[Part, ...], settings: Settings, memory: Memory
) -> tuple[PartExamination, ...]:
    """The measures of each part; parts that were measured already stand for their equals."""
    of_forms = [mark_of(*(getattr(part, name) for name in _FORM_FIELDS)) for part in parts]
    # All forms first: what two parts share neither then waits for, but works on another meanwhile.
    forms = memory.answers(
        [(mark, partial(_form_of, part)) for mark, part in zip(of_forms, parts, strict=True)]
    )
    of_settings = mark_of(settings.model_dump_json())
    others = [field.name for field in fields(Part) if field.name not in _FORM_FIELDS]
    questions = [
        (
            mark_of(of_settings, of_form, *(getattr(part, name) for name in others)),
            partial(_examined, part, settings, form),
        )
        for part, of_form, form in zip(parts, of_forms, forms, strict=True)
    ]
    return tuple(memory.answers(questions))


def examine_part(part: Part, settings: Settings) -> PartExamination:
    """Measure one part by itself."""
    return _examined(part, settings, _form_of(part))


@np.errstate(all="ignore")
def _form_of(part: Part) -> _Form:
    surface = surface_of(part)
    topology = measure_topology(part, surface)
    twins = find_twins(part, surface, topology)
    joints = find_joints(part, surface, twins)
    return _Form(
        surface=surface,
        topology=topology,
        quality=measure_quality(surface.points, part.corner_point, part.face_start),
        twins=twins,
        joints=joints,
        manifold=measure_manifold(part, surface, joints, twins),
        winding=measure_winding(part, surface, joints),
    )


@np.errstate(all="ignore")
def _examined(part: Part, settings: Settings, form: _Form) -> PartExamination:
    surface, topology = form.surface, form.topology
    shells = shells_on(surface, part.face_start, part.uvs, part.corner_uv)
    unwrap = measure_unwrap(part, surface, shells, form.winding)
    is_cage = matches(part.name, settings.parts.subdivide) and 2 * topology.quads >= topology.faces
    return PartExamination(
        part=part,
        importance=importance_of(part.name, settings),
        textured=not is_high(part.name, settings),
        surface=surface,
        topology=replace(topology, bad_uvs=count_bad_uvs(part)),
        quality=form.quality,
        twins=form.twins,
        joints=form.joints,
        manifold=form.manifold,
        winding=form.winding,
        shells=shells,
        unwrap=unwrap,
        stretch=measure_stretch(part, surface, shells, unwrap),
        density=measure_density(surface, unwrap, texture_size=settings.texture.size),
        transform=transform_left(part.transform),
        subdivision=measure_subdivision(part, surface, form.quality) if is_cage else None,
    )
