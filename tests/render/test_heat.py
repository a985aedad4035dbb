"""Heat maps put each face's figure where the face is."""

from __future__ import annotations

import numpy as np
from render_shapes import moved
from shapes import grid, model

from reviewbot.render.camera import framing, top_view
from reviewbot.render.colours import scale_table
from reviewbot.render.heat import HeatScale, heat_light, point_heat_light, share_on
from reviewbot.render.scene import build_scene

PLAIN = HeatScale(
    colours="cividis", low=0.0, high=4.0, ticks=(0, 4), low_means="few", high_means="many"
)
RATIO = HeatScale(
    colours="PuOr",
    low=0.25,
    high=4.0,
    ticks=(1,),
    low_means="",
    high_means="",
    is_log=True,
)


def test_shares_along_a_scale() -> None:
    np.testing.assert_allclose(share_on(PLAIN, np.array([0, 1, 4, 6.0])), [0, 0.25, 1, 1.5])
    np.testing.assert_allclose(share_on(RATIO, np.array([0.25, 0.5, 1, 4])), [0, 0.25, 0.5, 1])
    assert np.isnan(share_on(RATIO, np.array([np.nan, -1.0]))).all()


def test_faces_take_the_colour_of_their_value(see) -> None:
    two = model(grid(2, 1), moved(grid(1, 1, width=0.5), by=(3, 0, 0)))
    scene = build_scene(two)
    view = see(scene, top_view(framing(scene)), 128)
    values = [np.array([0.0, 4.0]), np.array([np.nan])]
    light = heat_light(view, np.ones(len(view.samples.pixel), np.float32), values, PLAIN)
    table = scale_table("cividis")
    part, face = (a[view.samples.triangle] for a in (scene.part, scene.face))
    np.testing.assert_allclose(light[(part == 0) & (face == 0)] - table[0], 0, atol=1e-6)
    np.testing.assert_allclose(light[(part == 0) & (face == 1)] - table[-1], 0, atol=1e-6)
    hatched = light[part == 1]
    np.testing.assert_allclose(hatched[:, 0], hatched[:, 1], atol=1e-6)
    assert len(np.unique(hatched[:, 0].round(4))) == 2


def test_points_values_run_on_between(see) -> None:
    scene = build_scene(model(grid(1, 1)))
    view = see(scene, top_view(framing(scene)), 96)
    values = [scene.points[:, 0] * 4]
    light = point_heat_light(view, np.ones(len(view.samples.pixel), np.float32), values, PLAIN)
    u = np.einsum("sk,sk->s", view.samples.bary, scene.corners[view.samples.triangle][:, :, 0])
    expected = scale_table("cividis")[np.clip(u * 255 + 0.5, 0, 255).astype(int)]
    assert np.abs(light - expected).max() < 0.02
