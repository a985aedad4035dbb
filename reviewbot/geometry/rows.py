"""Row numbers."""

from __future__ import annotations

import numpy as np

from reviewbot.mesh import BoolArray, IndexArray


def rows_where(mask: BoolArray) -> IndexArray:
    """(K,) int32 the rows that are true, rising."""
    return np.flatnonzero(mask).astype(np.int32)
