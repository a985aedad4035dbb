"""Where to look: one place for many, the same one however a file is ordered."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rows import rows_finite
from reviewbot.measure.face_samples import GENERIC
from reviewbot.mesh import FloatArray

Point = tuple[float, float, float]


def worst_place(places: FloatArray, badness: FloatArray | None = None) -> Point | None:
    """The place of the greatest badness, and of equals the first along a fixed direction.

    places   (N, 3) float64; rows that are not finite are passed over
    badness  (N,) float64, all alike when left out
    returns  None where no place is finite
    """
    known = np.flatnonzero(rows_finite(places))
    if not len(known):
        return None
    if badness is not None:
        of_known = np.nan_to_num(badness[known], nan=-np.inf)
        known = known[of_known >= of_known.max() - 1e-6 * np.abs(of_known.max())]
    x, y, z = places[known[np.argmin(places[known] @ GENERIC)]].tolist()
    return x, y, z
