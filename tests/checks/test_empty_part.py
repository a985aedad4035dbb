"""Parts without a face."""

import numpy as np
from found import found
from shapes import cube, polygons

from reviewbot.checks.empty_part import RULE


def test_silent() -> None:
    assert found(RULE, cube()) == []
    assert found(RULE) == []


def test_fires() -> None:
    (finding,) = found(RULE, cube(), polygons(np.empty((0, 3)), [], name="group1"))
    assert (finding.part, finding.severity) == ("group1", "look")
    (finding,) = found(RULE, polygons([(1, 2, 3)], [], name="point"))
    assert finding.at == (1, 2, 3)
