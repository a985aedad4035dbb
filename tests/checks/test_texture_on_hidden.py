"""Texture on what is never seen."""

from dataclasses import replace

import numpy as np
import pytest
from found import found, toml
from shapes import box, cube, sphere, torus

from reviewbot.checks.texture_on_hidden import RULE
from reviewbot.geometry.rays import rays_available
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def at(part: Part, scale: float, shift: tuple[float, float] = (0.0, 0.0)) -> Part:
    """With its UVs sized and shifted."""
    return replace(part, uvs=part.uvs * scale + np.array(shift))


BALL = at(sphere(32, 16, name="ball"), 0.6)


@pytest.mark.parametrize(
    "parts",
    [
        (cube(),),
        (BALL, at(torus(24, 12, radius=2.0), 0.3, (0.65, 0.65))),
        (BALL, at(sphere(24, 12, radius=0.9, name="inner"), 0.15, (0.7, 0.7))),  # very little
        (BALL, sphere(24, 12, radius=0.9, name="inner_high")),  # not textured
        (BALL, replace(at(sphere(24, 12, radius=0.9), 0.6), uvs=[], corner_uv=[])),  # no UVs
        (),
    ],
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts) == []


def test_silent_inside_glass() -> None:
    globe = replace(BALL, name="globe_glass")
    flame = at(sphere(24, 12, radius=0.5, name="flame"), 0.5, (0.0, 0.5))
    assert found(RULE, globe, flame) == []


def test_silent_where_a_copy_on_the_same_texture_is_seen() -> None:
    inner = at(sphere(32, 16, radius=0.9, name="inner"), 0.6)
    assert found(RULE, BALL, inner) == []


def test_fires_for_a_part_that_is_never_seen() -> None:
    inner = at(sphere(24, 12, radius=0.9, name="inner"), 0.3, (0.65, 0.65))
    (finding,) = found(RULE, BALL, inner)
    assert (finding.part, finding.severity, finding.limit) == ("inner", "look", 0.1)
    # A globe's map leaves half of its first and last row empty: 1/16 and 1/12 of it.
    own, ball = 0.09 * 11 / 12, 0.36 * 15 / 16
    assert finding.value == pytest.approx(own / (own + ball), rel=0.01)
    assert finding.count == 24 * 12
    assert finding.at is not None
    assert np.linalg.norm(finding.at) < 0.91


def test_fires_for_what_no_camera_of_the_settings_sees() -> None:
    ahead = toml("[[cameras]]\nfrom = [0, 0, 50]")
    (finding,) = found(RULE, cube(), settings=ahead)
    assert finding.value == pytest.approx(5 / 6)
    assert finding.count == 5
    assert "no camera of the settings sees" in finding.message
    round_about = toml("".join(f"[[cameras]]\nfrom = [{x}, {x}, {x}]\n" for x in (50, -50)))
    assert found(RULE, cube(), settings=round_about) == []


def test_fires_for_what_the_settings_call_hidden_though_it_is_seen() -> None:
    foot = at(box((-1, -3, -1), (1, -2, 1), "foot_under"), 0.9)
    hidden = toml('[parts]\nhidden = ["*_under"]')
    assert found(RULE, BALL, foot) == []
    (finding,) = found(RULE, BALL, foot, settings=hidden)
    assert finding.part == "foot_under"
    assert "the settings call hidden" in finding.message


def test_fires_once_for_many_parts_that_are_each_below_the_limit() -> None:
    inner = [
        replace(
            at(sphere(12, 8, radius=0.1, name=f"bead{k}"), 0.2, (0.7, 0.2 * k)),
            points=sphere(12, 8, radius=0.1).points + np.array([0.3 * k - 0.5, 0, 0]),
        )
        for k in range(4)
    ]
    (finding,) = found(RULE, BALL, *inner)
    assert (finding.part, finding.count) == ("", 4 * 12 * 8)
    beads, ball = 0.16 * 7 / 8, 0.36 * 15 / 16
    assert finding.value == pytest.approx(beads / (beads + ball), rel=0.01)


def test_the_limit_comes_from_the_settings() -> None:
    inner = at(sphere(24, 12, radius=0.9, name="inner"), 0.3, (0.65, 0.65))
    assert found(RULE, BALL, inner, settings=toml("[limits]\nhidden_texture_share = 0.3")) == []
