from dataclasses import replace

import numpy as np
import pytest
from shapes import cube, grid, model

from reviewbot.measure.examine import examine
from reviewbot.mesh import Part
from reviewbot.report.distributions import distributions
from reviewbot.settings import Settings


def examined(*parts):
    return examine(model(*parts), Settings())


def test_an_even_map_lies_in_one_bin():
    stretch, density = distributions(None, examined(cube()))
    assert stretch.before is None
    assert stretch.after[0] == pytest.approx(1)
    assert sum(stretch.after) == pytest.approx(1)
    # The cube's net: every face has the same density, the middle one.
    place = int(np.argmax(density.after))
    assert density.after[place] == pytest.approx(1)
    assert len(density.edges) == len(density.after) + 1


def test_shares_are_of_the_surface_not_of_faces():
    # Two sheets of equal UVs, one of four times the surface: it has half the density.
    small = grid(4, 4, name="small")
    large = replace(small, name="large", points=small.points * 2)
    _, density = distributions(None, examined(small, large))
    shares = sorted(share for share in density.after if share > 0)
    assert shares == pytest.approx([0.2, 0.8])


def test_without_uvs_there_is_nothing_to_spread():
    whole = cube()
    bare = Part(
        name="bare",
        points=whole.points,
        corner_point=whole.corner_point,
        face_start=whole.face_start,
    )
    assert distributions(examined(bare), None) == ()
    assert distributions(None, None) == ()
