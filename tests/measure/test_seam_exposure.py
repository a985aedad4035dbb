"""How openly seams lie, against shapes where it is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box, cube, grid, polygons, sphere, torus
from tubes import square_tube
from viewed import viewed

from reviewbot.geometry.rays import rays_available
from reviewbot.measure.seam_exposure import SeamExposure
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def seams_of(*parts: Part) -> SeamExposure:
    return viewed(*parts)[0].seams


def test_a_cube_s_seams_are_all_seen_and_all_on_edges_that_hide_them() -> None:
    seams = seams_of(cube())
    assert len(seams.edge) == 7
    np.testing.assert_array_equal(seams.openness, 1.0)  # nothing stands before a convex solid
    assert (seams.seen_share, seams.exposed_share) == (1, 0)
    assert (seams.least_share, seams.runs) == (0, ())


def test_a_globe_s_one_seam_is_open_on_smooth_surface_with_nowhere_to_go() -> None:
    seams = seams_of(sphere(24, 12))
    assert (seams.seen_share, seams.exposed_share) == pytest.approx((1, 1))
    assert seams.least_share == pytest.approx(1)  # no way over a globe is better than another
    (run,) = seams.runs
    # Ten edges of one meridian, and all 24 between the triangles at each pole.
    assert run.segments.shape == (58, 2, 3)
    assert run.length == pytest.approx(58 * 2 * np.sin(np.pi / 24))  # chords of 15 degrees
    assert np.linalg.norm(run.at) == pytest.approx(np.cos(np.pi / 24))


def test_a_seam_inside_another_part_is_not_seen() -> None:
    ball, shell = sphere(24, 12), sphere(24, 12, radius=1.1, name="shell")
    seams = seams_of(ball, shell)
    assert (seams.seen_share, seams.exposed_share, seams.least_share) == (0, 0, 0)


def test_half_a_seam_sunk_into_the_ground_counts_half() -> None:
    ground = box((-3, -3, -3), (3, 0, 3), "ground")
    seams = seams_of(sphere(24, 12), ground)
    sunk = seams.openness[np.argsort(seams.openness)][:6]
    assert sunk.max() < 0.1
    assert 0.4 < seams.exposed_share < 0.5


def test_seams_in_the_hole_of_a_ring_are_seen_less_often_than_outside() -> None:
    """The torus is cut along its outer equator and round one section."""
    seams = seams_of(torus(48, 24, radius=1.0, tube=0.6))
    run = seams.runs[0]
    reach = np.linalg.norm(run.segments[..., [0, 2]], axis=-1)
    assert reach.max() == pytest.approx(1.6)
    assert seams.openness.min() < 0.6 < seams.openness.max()


def test_a_cut_down_the_middle_of_a_side_could_run_along_a_corner() -> None:
    seams = seams_of(square_tube(0))
    assert seams.exposed_share > 0.9
    (run,) = seams.runs
    assert run.length == pytest.approx(8)
    # Its ends slide half a side to the corner along the borders; nothing of it lies open then.
    assert run.detour == pytest.approx(0.1 * 9 - 0.1 * 8, abs=0.1)
    assert seams.least_share < 0.05


def test_a_cut_along_a_corner_needs_no_other() -> None:
    seams = seams_of(square_tube(1))
    assert (seams.exposed_share, seams.least_share, seams.runs) == (0, 0, ())


def test_two_cuts_that_part_a_tube_in_halves_are_left_alone() -> None:
    """Moving one onto the other would join the shells: that was the artist's choice."""
    tube = square_tube(0)
    behind = np.isin(np.arange(128) % 8, [4, 5, 6, 7])
    half = replace(
        tube,
        uvs=np.concatenate([tube.uvs, tube.uvs + np.array([2.0, 0.0])]),
        corner_uv=tube.corner_uv + np.repeat(behind, 4) * len(tube.uvs),
    )
    seams = seams_of(half)
    assert len(seams.runs) == 2
    assert seams.least_share == seams.exposed_share > 0.9


def test_a_wall_close_by_hides_a_cut_and_offers_a_place_for_one() -> None:
    against, away = (
        box((-4, -1, 0.5001), (4, 9, 1), "wall"),
        box((-4, -1, -1), (4, 9, -0.5001), "wall"),
    )
    cut_at_wall, cut_in_the_open = seams_of(square_tube(0), against), seams_of(square_tube(0), away)
    assert cut_at_wall.seen_share < 0.1
    assert cut_in_the_open.seen_share > 0.9


def test_a_border_is_no_seam() -> None:
    seams = seams_of(grid(4, 4))
    assert len(seams.edge) == 0
    assert np.isnan(seams.seen_share)
    assert seams.runs == ()


def test_without_uvs_or_faces_there_is_nothing() -> None:
    assert len(seams_of(polygons(cube().points, [(0, 1, 3, 2)])).edge) == 0
    assert np.isnan(seams_of(polygons([], [])).exposed_share)


@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_turning_and_scaling_stay_within_sampling(seed: int) -> None:
    turn, _ = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    turn *= np.linalg.det(turn)
    parts = sphere(24, 12), box((-0.2, -0.5, -2), (0.2, 0.5, 0), "fin")
    moved = [
        polygons(
            7 * part.points @ turn.T + 3,
            [part.corner_point[a:b].tolist() for a, b in spans(part)],
            uvs=part.uvs,
            face_uvs=[part.corner_uv[a:b].tolist() for a, b in spans(part)],
        )
        for part in parts
    ]
    first, second = seams_of(*parts), seams_of(*moved)
    assert second.exposed_share == pytest.approx(first.exposed_share, abs=0.03)
    assert second.runs[0].length == pytest.approx(7 * first.runs[0].length)


def spans(part: Part) -> list[tuple[int, int]]:
    return list(zip(part.face_start[:-1].tolist(), part.face_start[1:].tolist(), strict=True))
