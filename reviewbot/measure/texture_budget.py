"""Where an asset's texture goes, against what a viewer sees of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.geometry.groups import has_repeats
from reviewbot.geometry.polygons import sum_per_face
from reviewbot.geometry.rows import rows_at
from reviewbot.measure.share import share_of
from reviewbot.mesh import FloatArray, Part

UV_STEP = 1.2207e-4  # of a tile, about a quarter of a pixel on a 2048 map: finer is the same place


@dataclass(frozen=True, slots=True, kw_only=True)
class TextureBudget:
    """One part's share of the texture and of what is seen.

    texture        UV area in tiles; faces stacked exactly on others share one area between them
    texture_share  over that of all parts; nan where no part has any
    seen_share     the part's seen area over that of all parts; nan where nothing is seen
    hidden         the part of `texture` that only faces use which no direction sees, tiles
    hidden_share   `hidden` over the texture of all parts; nan likewise
    """

    texture: float
    texture_share: float
    seen_share: float
    hidden: float
    hidden_share: float


def measure_texture_budget(
    parts: Sequence[Part],
    *,
    face_uv_area: Sequence[FloatArray],
    face_hidden: Sequence[FloatArray],
    seen_area: Sequence[float],
    one_tile: bool,
) -> tuple[TextureBudget, ...]:
    """Budgets of parts that share a texture.

    face_uv_area  (F,) per part, tiles, of either sign; nan for an unmapped face
    face_hidden   (F,) per part, share of each face that is never seen; nan counts as seen
    seen_area     per part
    one_tile      whole-tile shifts come to the same texture, as with a single set of maps
    """
    if not parts:
        return ()
    area = np.nan_to_num(np.abs(np.concatenate(list(face_uv_area))), posinf=0.0)
    hidden = np.nan_to_num(np.concatenate(list(face_hidden)))
    keys = np.concatenate([uv_keys(part, one_tile=one_tile) for part in parts])
    own, most_seen = area, np.minimum(hidden, 1.0)
    if has_repeats(keys):
        _, stack, copies = np.unique(keys, return_inverse=True, return_counts=True)
        own = area / copies[stack]
        # Texture is wasted only where every copy in the stack is hidden.
        least_hidden = np.ones(len(copies))
        np.minimum.at(least_hidden, stack, hidden)
        most_seen = least_hidden[stack]
    owner = np.repeat(np.arange(len(parts)), [part.face_count for part in parts])
    texture = np.bincount(owner, weights=own, minlength=len(parts))
    wasted = np.bincount(owner, weights=own * most_seen, minlength=len(parts))
    all_texture, all_seen = float(texture.sum()), float(np.sum(seen_area))
    return tuple(
        TextureBudget(
            texture=float(texture[k]),
            texture_share=share_of(float(texture[k]), all_texture),
            seen_share=share_of(float(seen_area[k]), all_seen),
            hidden=float(wasted[k]),
            hidden_share=share_of(float(wasted[k]), all_texture),
        )
        for k in range(len(parts))
    )


def uv_keys(part: Part, *, one_tile: bool) -> npt.NDArray[np.uint64]:
    """(F,) one number a face, the same for faces on the same UVs whatever corner they start at.

    Unmapped faces have keys too, of no meaning. `one_tile` leaves whole-tile shifts out.
    """
    if not len(part.uvs) or not len(part.corner_uv):
        return np.arange(part.face_count, dtype=np.uint64)
    across, up = (_steps(part, column, one_tile=one_tile) for column in part.uvs.T)
    mixed = _mixed(_mixed(across) + up)
    keys = np.zeros(part.face_count, dtype=np.uint64)
    filled = np.diff(part.face_start) > 0
    keys[filled] = np.add.reduceat(mixed, part.face_start[:-1][filled])
    return keys


def _steps(part: Part, column: FloatArray, *, one_tile: bool) -> npt.NDArray[np.uint64]:
    """(C,) whole steps of U or V at each corner."""
    along = rows_at(np.ascontiguousarray(column), part.corner_uv)
    if one_tile:
        sizes = np.diff(part.face_start)
        tile = np.floor(sum_per_face(along, part.face_start) / np.maximum(sizes, 1) + 1e-9)
        if tile.any():
            along -= np.repeat(tile, sizes)
    with np.errstate(invalid="ignore"):
        return np.round(along / UV_STEP).astype(np.int64).view(np.uint64)


def _mixed(values: npt.NDArray[np.uint64]) -> npt.NDArray[np.uint64]:
    values = (values ^ (values >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    values = (values ^ (values >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return values ^ (values >> np.uint64(31))
