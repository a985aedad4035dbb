"""Points without a face."""

from dataclasses import replace

import numpy as np
from found import found
from shapes import cube, polygons

from reviewbot.checks.loose_vertex import RULE


def test_silent() -> None:
    assert found(RULE, cube()) == []
    assert found(RULE, polygons([(0, 0, 0)], [])) == []  # an empty part, and said as such


def test_fires() -> None:
    part = replace(cube(), points=np.concatenate([cube().points, [(9, 9, 9), (8, 8, 8)]]))
    (finding,) = found(RULE, part)
    assert (finding.severity, finding.count, finding.at) == ("note", 2, (8, 8, 8))
