"""Pairs in one file and across two."""

from dataclasses import replace

import pytest
from shapes import cube, model, sphere

from reviewbot.geometry.rays import rays_available
from reviewbot.measure.names import Partner
from reviewbot.measure.pairing import Pairing, pair_parts
from reviewbot.measure.surface import surface_of
from reviewbot.mesh import Part
from reviewbot.settings import LimitSettings, Settings

needs_rays = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def paired(*parts: Part, partner: Partner | None = None, reach: float = 0.05) -> Pairing:
    settings = Settings(limits=LimitSettings(bake_distance=reach))
    return pair_parts([(part, surface_of(part)) for part in parts], settings, partner=partner)


LOW = sphere(24, 12, name="ball_low")
HIGH = sphere(48, 24, radius=1.02, name="ball_high")


@needs_rays
def test_pairs_of_one_file_are_baked() -> None:
    found = paired(cube(name="stand"), HIGH, LOW)
    assert found.kind == "both"
    (bake,) = found.bakes
    assert (bake.low, bake.high, bake.miss_share) == ("ball_low", "ball_high", 0)


@needs_rays
def test_low_parts_and_others_catch_no_rays_in_one_file() -> None:
    """Only high parts are baked from: a plain part right round the pair is no stranger."""
    around = sphere(24, 12, radius=1.08, name="cover")
    assert paired(LOW, HIGH, around).bakes[0].caught_share == 0
    assert paired(LOW, HIGH, replace(around, name="cover_high")).bakes[0].caught_share == 1


@needs_rays
@pytest.mark.parametrize(
    "names", [("ball", "ball"), ("ball_low", "ball_high"), ("ball", "ball_high")]
)
def test_pairs_across_two_files(names: tuple[str, str]) -> None:
    low, high = replace(LOW, name=names[0]), replace(HIGH, name=names[1])
    found = paired(low, partner=Partner(model=model(high), kind="high"))
    assert found.kind == "low"
    assert [(bake.low, bake.high) for bake in found.bakes] == [names]
    back = paired(high, partner=Partner(model=model(low), kind="low"))
    assert (back.kind, back.bakes, back.pairs.pairs) == ("high", (), (names,))


def test_the_settings_distance_is_a_share_of_the_low_part() -> None:
    if rays_available():
        assert paired(LOW, HIGH, reach=0.001).bakes[0].miss_share == pytest.approx(1)


def test_nothing_to_pair() -> None:
    assert paired().bakes == ()
    assert paired(LOW).bakes == ()
