"""FLIP, how different two pictures look when flipped to and fro; the one module for its package.

The package is optional: without it there are no FLIP figures. Andersson, Nilsson, Akenine-Möller,
Oskarsson, Åström & Fairchild 2020, "FLIP: A Difference Evaluator for Alternating Images".
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from reviewbot.render.colours import Image
from reviewbot.render.samples import Floats32


@cache
def _evaluate() -> Any:
    try:
        from flip_evaluator import evaluate  # noqa: PLC0415
    except (ImportError, OSError):
        return None
    return evaluate


def flip_map(before: Image, after: Image) -> Floats32 | None:
    """(H, W) float32, 0 where alike, 1 at most; None where the package is missing.

    before, after  (H, W, 3) uint8 sRGB. The viewing distance is the package's own: 67 pixels a
                   degree, a desktop screen at 0.7 m.
    """
    evaluate = _evaluate()
    if evaluate is None:
        return None
    # Anything but float32 in three channels is misread without a word.
    pair = [
        np.ascontiguousarray(image[..., :3], dtype=np.float32) / 255 for image in (before, after)
    ]
    found, _, _ = evaluate(
        pair[0], pair[1], "LDR", inputsRGB=True, applyMagma=False, computeMeanError=False
    )
    return np.asarray(found, dtype=np.float32).reshape(before.shape[:2])
