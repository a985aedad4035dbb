"""Pictures of what comes next: how low parts bake, and what subdivision makes of a cage."""

from __future__ import annotations

from collections.abc import Sequence

from reviewbot.checks.finding import Finding
from reviewbot.geometry.catmull_clark import refine, step
from reviewbot.measure.examine import Examination
from reviewbot.mesh import Model, Part, world_points
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.bake_map import bake_picture
from reviewbot.render.picture import Picture
from reviewbot.render.preview import preview_picture

_STEPS = 2
_MOST_FACES = 200_000  # of the cage: two steps make sixteen quads of one
_SAID = ("new", "worse")


def readiness_pictures(
    examination: Examination, findings: Sequence[Finding], settings: AlbumSettings
) -> list[Picture]:
    """A bake map where low parts have partners, a preview where corners are about to round off.

    The preview only where that is new or worse. Raises RendererUnavailableError.
    """
    rounding = {
        finding.part
        for finding in findings
        if finding.code == "corner-will-round" and finding.standing in _SAID
    }
    return [*_bake_map(examination, settings), *_preview(examination, rounding, settings)]


def _bake_map(examination: Examination, settings: AlbumSettings) -> list[Picture]:
    bakes = {bake.low: bake for bake in examination.pairing.bakes}
    low = [part for part in examination.model.parts if part.name in bakes]
    if not low:
        return []
    gaps = [bakes[part.name].face_gap for part in low]
    reach = max(bake.reach for bake in bakes.values())
    shown = Model(parts=tuple(low), format=examination.model.format)
    return [bake_picture(shown, gaps, reach=reach, settings=settings)]


def _preview(examination: Examination, names: set[str], settings: AlbumSettings) -> list[Picture]:
    cages = [part for part in examination.model.parts if part.name in names and part.face_count]
    if not cages or sum(part.face_count for part in cages) > _MOST_FACES:
        return []
    cage = Model(parts=tuple(cages), format=examination.model.format)
    smooth = Model(parts=tuple(map(_subdivided, cages)), format=examination.model.format)
    return [preview_picture(cage, smooth, settings)]


def _subdivided(part: Part) -> Part:
    mesh = (world_points(part), part.corner_point, part.face_start)
    for _ in range(_STEPS):
        mesh = refine(step(*mesh))
    points, corner_point, face_start = mesh
    return Part(name=part.name, points=points, corner_point=corner_point, face_start=face_start)
