"""Bake rays that miss."""

from dataclasses import replace

import numpy as np
import pytest
from found import found, toml
from shapes import box, model, sphere

from reviewbot.checks.pair_gap import RULE
from reviewbot.geometry.rays import rays_available
from reviewbot.measure.names import Partner
from reviewbot.mesh import Part

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)
LOW = sphere(24, 12, name="ball_low")


def high(radius: float = 1.02, *, name: str = "ball_high") -> Part:
    return sphere(64, 32, radius=radius, name=name)


def moved(part: Part, shift: tuple[float, float, float]) -> Part:
    return replace(part, points=part.points + np.array(shift))


@pytest.mark.parametrize(
    "parts", [(LOW, high()), (LOW,), (high(),), (LOW, high(), box((5, 5, 5), (6, 6, 6)))]
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts) == []


def test_fires_where_the_high_part_was_moved() -> None:
    (finding,) = found(RULE, LOW, moved(high(), (0.6, 0, 0)))
    assert (finding.part, finding.severity, finding.limit) == ("ball_low", "look", 0.01)
    assert finding.value is not None
    assert finding.value > 0.2
    assert finding.at is not None
    assert "'ball_high'" in finding.message


def test_how_far_is_too_far_comes_from_the_settings() -> None:
    near = toml("[limits]\nbake_distance = 0.001")
    assert len(found(RULE, LOW, high(1.1), settings=near)) == 1
    lenient = toml("[limits]\nbake_distance = 0.001\nbake_miss_share = 1.0")
    assert found(RULE, LOW, high(1.1), settings=lenient) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda points: points * 100, "the high ones are about 100 times as large"),
        (lambda points: points + 50, "they do not stand in the same place"),
    ],
)
def test_one_cause_for_all_pairs_is_told_once(change, said: str) -> None:
    lows = [LOW, moved(replace(LOW, name="bead_low"), (3, 0, 0))]
    highs = [high(), moved(high(name="bead_high"), (3, 0, 0))]
    there = [replace(part, points=change(part.points)) for part in highs]
    (finding,) = found(RULE, *lows, partner=Partner(model=model(*there), kind="high"))
    assert (finding.part, finding.count) == ("", 2)
    assert said in finding.message
    right = Partner(model=model(*highs), kind="high")
    assert found(RULE, *lows, partner=right) == []
