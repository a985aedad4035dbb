"""What a viewer sees of an asset: parts, seams, and the texture spent on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rays import RayScene, rays_available, shared_rays
from reviewbot.measure.exposure import LIFT, Exposure, exposures, look_at_samples
from reviewbot.measure.eyes import look_from
from reviewbot.measure.face_samples import AssetTriangles, asset_triangles, sample_faces
from reviewbot.measure.memory import Memory, mark_of
from reviewbot.measure.names import base_name
from reviewbot.measure.seam_exposure import SeamExposure, measure_seam_exposure
from reviewbot.measure.seam_sight import look_at_seams, seam_lines
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface, box_round_boxes
from reviewbot.measure.texture_budget import TextureBudget, measure_texture_budget
from reviewbot.mesh import BoolArray, FloatArray, Part
from reviewbot.settings import NameSettings, Settings, matches


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewing:
    """What is seen of one part.

    cameras  how many of the settings' it is seen from; 0 stands for views from all around
    """

    cameras: int
    exposure: Exposure
    seams: SeamExposure
    budget: TextureBudget


def measure_viewing(
    parts: Sequence[Part],
    surfaces: Sequence[Surface],
    shells: Sequence[Shells],
    face_uv_areas: Sequence[FloatArray],
    settings: Settings,
    *,
    eyes: FloatArray,
    memory: Memory,
) -> tuple[Viewing | None, ...]:
    """What is seen of each part when all shown parts stand together.

    face_uv_areas  (F,) a part, tiles, of either sign; nan for an unmapped face
    eyes           (N, 3) the places to look from; from all around where there are none
    memory         of other versions: where all of them look alike, they are looked at once

    None for each part that is not shown: high parts beside their low ones; and for every part
    where rays cannot be traced on this machine.
    """
    shown = [k for k, is_shown in enumerate(shown_parts(parts, settings.names)) if is_shown]
    result: list[Viewing | None] = [None] * len(parts)
    if shown and rays_available():
        bodies = [(parts[k], surfaces[k], shells[k]) for k in shown]
        found = _look_at(bodies, [face_uv_areas[k] for k in shown], settings, eyes, memory)
        for k, viewing in zip(shown, found, strict=True):
            result[k] = viewing
    return tuple(result)


def _look_at(
    bodies: Sequence[tuple[Part, Surface, Shells]],
    face_uv_areas: Sequence[FloatArray],
    settings: Settings,
    eyes: FloatArray,
    memory: Memory,
) -> list[Viewing]:
    """What is seen of parts that are all shown."""
    parts, surfaces, shells = zip(*bodies, strict=True)
    asset = asset_triangles(parts, surfaces)
    box = box_round_boxes(np.stack([surface.box for surface in surfaces]))
    lift = LIFT * float(np.nan_to_num(np.linalg.norm(box[1] - box[0])))
    blocking = _blocking_faces(parts, settings)
    two_sided = np.array([bool(one.is_open.any()) for one in shells])

    def look() -> tuple[RayScene, tuple[Exposure, ...]]:
        blocks = blocking[asset.face]
        triangles = asset.triangles if blocks.all() else asset.triangles[blocks]
        scene = shared_rays(asset.points, triangles)
        return scene, _exposures(asset, scene, two_sided, lift, eyes)

    looks = (asset.points, asset.triangles, asset.face, asset.face_first, blocking, two_sided)
    scene, exposed = memory.answer(mark_of(*looks, eyes), look)
    budgets = measure_texture_budget(
        parts,
        face_uv_area=face_uv_areas,
        face_hidden=[one.face_hidden for one in exposed],
        seen_area=[one.seen_area for one in exposed],
        one_tile=settings.texture.tiles == 1,
    )
    lines = [seam_lines(*body) for body in bodies]
    openness = look_at_seams(lines, scene, lift=lift, eyes=eyes)
    seams = [
        measure_seam_exposure(*body, lines=line, openness=is_open, face_open=one.face_open)
        for body, line, is_open, one in zip(bodies, lines, openness, exposed, strict=True)
    ]
    return [
        Viewing(cameras=len(eyes), exposure=one, seams=seam, budget=budget)
        for one, seam, budget in zip(exposed, seams, budgets, strict=True)
    ]


def shown_parts(parts: Sequence[Part], names: NameSettings) -> tuple[bool, ...]:
    """Which parts a viewer is shown: high parts only where no low part is there."""
    low = any(base_name(part.name, names.low_suffix) for part in parts)
    return tuple(not (low and base_name(part.name, names.high_suffix)) for part in parts)


def _blocking_faces(parts: Sequence[Part], settings: Settings) -> BoolArray:
    """(F,) bool over all parts' faces: not see-through by the part's or the material's name."""
    clear = settings.parts.see_through
    blocking = [np.empty(0, dtype=bool)]
    for part in parts:
        if matches(part.name, clear):
            blocking.append(np.zeros(part.face_count, dtype=bool))
            continue
        is_clear = np.array([*(matches(name, clear) for name in part.materials), False])
        blocking.append(~is_clear[part.face_material])  # -1, no material, is the last one
    return np.concatenate(blocking)


def _exposures(
    asset: AssetTriangles,
    scene: RayScene,
    two_sided_parts: BoolArray,
    lift: float,
    eyes: FloatArray,
) -> tuple[Exposure, ...]:
    samples = sample_faces(asset)
    two_sided = np.repeat(two_sided_parts, np.diff(asset.face_first))[samples.face]
    if len(eyes):
        sight = look_from(eyes, scene, samples, lift=lift, two_sided=two_sided)
    else:
        sight = look_at_samples(scene, samples, lift=lift, two_sided=two_sided)
    return exposures(asset, samples, sight)
