"""What a viewer sees of an asset: parts, seams, and the texture spent on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.geometry.rays import RayScene, rays_available
from reviewbot.measure.exposure import LIFT, Exposure, exposures, look_at_samples
from reviewbot.measure.face_samples import AssetTriangles, asset_triangles, sample_faces
from reviewbot.measure.names import base_name
from reviewbot.measure.seam_exposure import RAYS, SeamExposure, measure_seam_exposure
from reviewbot.measure.shells import Shells
from reviewbot.measure.surface import Surface, box_round_boxes
from reviewbot.measure.texture_budget import TextureBudget, measure_texture_budget
from reviewbot.mesh import BoolArray, FloatArray, Part
from reviewbot.settings import NameSettings, Settings, matches


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewing:
    """What is seen of one part."""

    exposure: Exposure
    seams: SeamExposure
    budget: TextureBudget


def measure_viewing(
    parts: Sequence[Part],
    surfaces: Sequence[Surface],
    shells: Sequence[Shells],
    face_uv_areas: Sequence[FloatArray],
    settings: Settings,
) -> tuple[Viewing | None, ...]:
    """What is seen of each part when all shown parts stand together.

    face_uv_areas  (F,) a part, tiles, of either sign; nan for an unmapped face

    None for each part that is not shown: high parts beside their low ones; and for every part
    where rays cannot be traced on this machine.
    """
    shown = [k for k, is_shown in enumerate(shown_parts(parts, settings.names)) if is_shown]
    result: list[Viewing | None] = [None] * len(parts)
    if not shown or not rays_available():
        return tuple(result)
    own_parts, own_surfaces = [parts[k] for k in shown], [surfaces[k] for k in shown]
    own_shells = [shells[k] for k in shown]
    asset = asset_triangles(own_parts, own_surfaces)
    box = box_round_boxes(np.stack([surface.box for surface in own_surfaces]))
    lift = LIFT * float(np.nan_to_num(np.linalg.norm(box[1] - box[0])))
    blocking = _blocking_faces(own_parts, settings)
    scene = RayScene.of_points(asset.points, asset.triangles[blocking[asset.face]])
    found = _exposures(asset, scene, own_shells, lift)
    budgets = measure_texture_budget(
        own_parts,
        face_uv_area=[face_uv_areas[k] for k in shown],
        face_hidden=[one.face_hidden for one in found],
        seen_area=[one.seen_area for one in found],
        one_tile=settings.texture.tiles == 1,
    )
    for k, part in enumerate(own_parts):
        seams = measure_seam_exposure(
            part,
            own_surfaces[k],
            own_shells[k],
            scene=scene,
            lift=lift,
            rays=RAYS // len(own_parts),
            face_seen=found[k].face_seen,
        )
        result[shown[k]] = Viewing(exposure=found[k], seams=seams, budget=budgets[k])
    return tuple(result)


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
    asset: AssetTriangles, scene: RayScene, shells: Sequence[Shells], lift: float
) -> tuple[Exposure, ...]:
    samples = sample_faces(asset)
    is_open = np.array([bool(one.is_open.any()) for one in shells])
    two_sided = np.repeat(is_open, np.diff(asset.face_first))[samples.face]
    sight = look_at_samples(scene, samples, lift=lift, two_sided=two_sided)
    return exposures(asset, samples, sight)
