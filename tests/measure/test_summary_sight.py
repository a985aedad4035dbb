"""Figures for reports that depend on the parts around a part."""

import json

from shapes import cube, grid, model, polygons, sphere

from reviewbot.geometry.rays import rays_available
from reviewbot.measure.examine import examine
from reviewbot.measure.summary_sight import placed_measures, standing_measures
from reviewbot.mesh import Part
from reviewbot.settings import Settings


def measures(*parts: Part) -> list[dict]:
    examination = examine(model(*parts), Settings())
    return [placed_measures(examination, row) for row in range(len(parts))]


def test_each_part_has_the_figures_that_it_can_have() -> None:
    plain, low, high = measures(
        grid(3, 3), sphere(24, 12, name="ball_low"), sphere(48, 24, radius=1.01, name="ball_high")
    )
    assert "poles" in high
    assert "poles" not in {**plain, **low}
    if rays_available():
        assert low["bake_missed"] == 0
        assert "bake_missed" not in {**plain, **high}
        assert {"seen_share", "seams_seen"} <= plain.keys() & low.keys()
        assert "seen_share" not in high


def test_degenerate_parts_give_none_and_fit_into_json() -> None:
    broken = polygons([(0, 0, 0), (1, 0, 0), (0, float("nan"), 0)], [(0, 1, 2)], name="a_high")
    examination = examine(model(broken, polygons([], [])), Settings())
    rows = [placed_measures(examination, row) for row in (0, 1)]
    json.dumps([*rows, standing_measures(examination)], allow_nan=False)
    nothing = standing_measures(examine(model(polygons([], [])), Settings()))
    assert (nothing["off_origin"], nothing["longest"]) == (None, None)


def test_the_asset_s_figures() -> None:
    figures = standing_measures(examine(model(cube(side=2)), Settings()))
    assert (figures["longest"], figures["off_origin"], figures["pairs"]) == (2.0, 0.5, 0)
