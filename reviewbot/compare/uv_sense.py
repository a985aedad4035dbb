"""Whether a part's UVs still fit its form after the form changed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.body import Body
from reviewbot.compare.faces import FaceStory
from reviewbot.compare.unwrap import UnwrapStory
from reviewbot.geometry.rows import rows_where
from reviewbot.measure.stretch import linear_pieces
from reviewbot.mesh import BoolArray, FloatArray
from reviewbot.settings import LimitSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class UvFit:
    """Whether the UVs can stay.

    fits       False where they must be redone
    bare       new faces without UVs, on a part that has some
    stretched  share of the area whose UVs stretch beyond the limit now and did not before
    """

    fits: bool
    bare: int
    stretched: float


def uv_fit(
    before: Body, after: Body, faces: FaceStory, unwrap: UnwrapStory, limits: LimitSettings
) -> UvFit | None:
    """Judge a part whose form changed; None for one without UVs in either version.

    New faces count as stretched where they are beyond the limit, whatever was there before.
    """
    if not before.mapped.any() or not after.mapped.any():
        return None
    bare = int(((faces.parent < 0) & ~after.mapped).sum())
    now, area = _stretched(after, limits.stretch)
    was, _ = _stretched(before, limits.stretch)
    known = faces.parent >= 0
    newly = now & ~(known & was[np.where(known, faces.parent, 0)])
    stretched = float(area[newly].sum() / max(float(area.sum()), 1e-300))
    redone = len(unwrap.reshaped) > 0
    return UvFit(
        fits=bare == 0 and (redone or stretched <= limits.stretch_share),
        bare=bare,
        stretched=stretched,
    )


def _stretched(body: Body, limit: float) -> tuple[BoolArray, FloatArray]:
    """(F,) faces stretched or squeezed beyond the limit, as the whole part is sized; and areas."""
    pieces = linear_pieces(body.part, body.points, rows_where(body.mapped))
    scale = np.sqrt(pieces.uv_area.sum() / max(float(pieces.area.sum()), 1e-300))
    worst = np.maximum(pieces.large * scale, 1 / np.maximum(pieces.small * scale, 1e-300))
    area = np.bincount(pieces.face, weights=pieces.area, minlength=body.faces)
    total = np.bincount(
        pieces.face, weights=pieces.area * np.minimum(worst, 1e6), minlength=body.faces
    )
    return total > limit * np.maximum(area, 1e-300), area.astype(np.float64)
