"""Seams in plain sight."""

from dataclasses import replace

import numpy as np
import pytest
from found import found, toml
from shapes import box, cube, grid, polygons, sphere, torus
from tubes import square_tube

from reviewbot.checks.seam_exposed import RULE
from reviewbot.geometry.rays import rays_available
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


@pytest.mark.parametrize(
    "parts",
    [
        (cube(),),  # every cut runs along an edge
        (sphere(24, 12),),  # a globe has to be cut somewhere
        (torus(24, 12),),
        (grid(4, 4),),  # nothing is cut
        (polygons(cube().points, [(0, 1, 3, 2)]),),  # no UVs
        (square_tube(1),),  # cut along a corner
        (square_tube(0, name="tube_high"),),  # not textured
        (square_tube(0), box((-4, -1, 0.5001), (4, 9, 1), "wall")),  # cut where a wall hides it
        (),
    ],
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts) == []


def test_fires_for_a_cut_in_the_open_that_a_corner_could_take() -> None:
    (finding,) = found(RULE, square_tube(0))
    assert (finding.part, finding.severity, finding.limit) == ("tube", "note", 0.5)
    assert finding.value == pytest.approx(1, abs=0.01)
    assert finding.count == 1
    assert finding.at is not None
    assert finding.at[::2] == pytest.approx((0, 0.5))
    assert "The worst run that could move is 8 long and passes 0, 0.25, 0.5." in finding.message


def test_the_place_does_not_hang_on_the_order_of_faces() -> None:
    tube = square_tube(0)
    places = set()
    for seed in range(4):
        order = np.random.default_rng(seed).permutation(tube.face_count)
        corner = (4 * order[:, None] + np.arange(4)).reshape(-1)
        mixed = replace(
            tube, corner_point=tube.corner_point[corner], corner_uv=tube.corner_uv[corner]
        )
        places |= {one.message for one in found(RULE, mixed)}
    assert len(places) == 1


def test_only_what_a_camera_of_the_settings_sees_counts() -> None:
    ahead, behind = (toml(f"[[cameras]]\nfrom = [0, 4, {away}]") for away in (30, -30))
    assert len(found(RULE, square_tube(0), settings=ahead)) == 1
    assert found(RULE, square_tube(0), settings=behind) == []


def test_a_hero_part_wants_a_look_and_a_hidden_one_nothing() -> None:
    hero, hidden = toml('[parts]\nhero = ["tube"]'), toml('[parts]\nhidden = ["tube"]')
    assert [one.severity for one in found(RULE, square_tube(0), settings=hero)] == ["look"]
    assert found(RULE, square_tube(0), settings=hidden) == []


def test_the_limit_comes_from_the_settings() -> None:
    lenient = toml("[limits]\nseam_exposed_share = 1.0")
    assert found(RULE, square_tube(0), settings=lenient) == []


def test_a_cut_made_in_the_open_is_looked_at_on_any_part() -> None:
    """Cuts go where the join is hard to see (common practice, no source)."""
    (finding,) = found(RULE, square_tube(0), before=(square_tube(1),))
    assert finding.severity == "look"
    assert "lies open on smooth surface, 0% before: a seam was cut" in finding.message
    lenient = toml("[limits]\nseam_exposed_share = 1.0")
    (finding,) = found(RULE, square_tube(0), before=(square_tube(1),), settings=lenient)
    assert finding.value is not None
    assert finding.limit is not None
    assert finding.value > finding.limit


def test_a_cut_that_was_there_before_is_no_news() -> None:
    (finding,) = found(RULE, square_tube(0), before=(square_tube(0),))
    assert finding.severity == "note"
    assert found(RULE, square_tube(1), before=(square_tube(0),)) == []


@pytest.mark.parametrize("gap", [0.1, 0.3, 0.6])
def test_a_cut_that_is_half_hidden_is_not_in_plain_sight(gap: float) -> None:
    """A wall before the cut leaves it seen from the side only: more exposed, and nowhere open."""
    wall = box((-4, -1, 0.5 + gap), (4, 9, 2), "wall")
    subject = (square_tube(0), wall)
    assert found(RULE, *subject, before=(square_tube(1), wall)) == []
