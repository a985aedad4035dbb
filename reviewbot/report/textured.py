"""Which base colour picture lies on which triangle, for the versions of one asset."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reviewbot.measure.examine import Examination
from reviewbot.mesh import IndexArray
from reviewbot.readers.textures import Textures
from reviewbot.render.samples import Scene
from reviewbot.render.texture import NAMES_NONE, NOT_THERE, Textured, TextureSums, texture_sums


def textured_versions(
    examinations: Sequence[Examination], scenes: Sequence[Scene]
) -> list[Textured | None]:
    """What each version shows; None for all where no version has a picture to show.

    Versions that have a picture in common share its sums.
    """
    if not any(one.textures.pixels for one in examinations):
        return [None] * len(examinations)
    known: dict[tuple[tuple[int, ...], bytes], TextureSums] = {}
    for one in examinations:
        for pixels in one.textures.pixels:
            key = (pixels.shape, pixels.tobytes())
            if key not in known:
                known[key] = texture_sums(pixels)
    return [
        Textured(
            pictures=tuple(known[p.shape, p.tobytes()] for p in one.textures.pixels),
            of_triangle=_of_triangle(one, scene),
        )
        for one, scene in zip(examinations, scenes, strict=True)
    ]


def _of_triangle(examination: Examination, scene: Scene) -> IndexArray:
    """(T,) the picture of each triangle's material on the tile that its middle lies on."""
    model, textures = examination.model, examination.textures
    asking = {m.name for m in model.materials if m.base_colour_file or m.base_colour_data}
    number = np.full(len(scene.triangles), NAMES_NONE, dtype=np.int32)
    for row, part in enumerate(model.parts):
        own = np.flatnonzero(scene.part == row)
        material = part.face_material[scene.face[own]]
        for k, name in enumerate(part.materials):
            mine = own[material == k]
            if name in asking and len(mine):
                number[mine] = _on_tiles(name, scene.uv[mine], scene, textures)
    return number


def _on_tiles(name: str, uv: IndexArray, scene: Scene, textures: Textures) -> IndexArray:
    number = np.full(len(uv), textures.of.get((name, None), NOT_THERE), dtype=np.int32)
    mapped = uv[:, 0] >= 0
    tile = np.full((len(uv), 2), -1)
    tile[mapped] = np.floor(np.nan_to_num(scene.uvs[uv[mapped]].mean(axis=1)))
    for (material, place), picture in textures.of.items():
        if material == name and place is not None:
            number[(tile == place).all(axis=1)] = picture
    return number
