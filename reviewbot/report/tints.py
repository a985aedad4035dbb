"""The colours of parts where a page draws them itself, as in pictures."""

from __future__ import annotations

import numpy as np

from reviewbot.render.albedo import part_albedo
from reviewbot.render.colours import srgb_from_linear

_LIT = 1.43  # clay's light as it is seen under the key light
_PART_COLOURS = 21  # then they come again


def _tints() -> tuple[tuple[float, float, float], ...]:
    """sRGB, 0 to 1, of parts by their number among colours, as in pictures; last, plain clay."""
    numbers = np.arange(_PART_COLOURS, dtype=np.int32)
    albedo = np.concatenate([part_albedo(numbers), part_albedo(numbers[:1])])
    encoded = srgb_from_linear(albedo * np.float32(_LIT)) / 255
    return tuple((r, g, b) for r, g, b in encoded.round(3).tolist())


TINTS = _tints()
