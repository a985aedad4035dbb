"""Transforms left on parts. Common practice, no source: they are applied before export."""

from dataclasses import replace

import numpy as np
import pytest
from found import found
from scipy.spatial.transform import Rotation
from shapes import cube, polygons, torus

from reviewbot.checks.transform_left import RULE
from reviewbot.mesh import Part


def carrying(
    part: Part,
    *,
    scale: float | tuple[float, float, float] = 1.0,
    degrees: float = 0.0,
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> Part:
    transform = np.eye(4)
    turn = Rotation.from_euler("y", degrees, degrees=True).as_matrix()
    transform[:3, :3] = turn @ np.diag(np.broadcast_to(scale, 3))
    transform[:3, 3] = shift
    return replace(part, transform=transform)


@pytest.mark.parametrize(
    "parts",
    [
        (cube(),),
        (cube(), torus(8, 6)),
        (carrying(cube(), scale=1 + 1e-8),),  # rounding of the export
        (replace(polygons([], []), transform=np.diag([9.0, 9, 9, 1])),),  # nothing is there to move
        (),
    ],
)
def test_silent(parts: tuple[Part, ...]) -> None:
    assert found(RULE, *parts) == []


@pytest.mark.parametrize(
    ("part", "severity", "value", "unit", "said"),
    [
        (carrying(cube(), scale=2.54), "look", 2.54, "times", "a scale of 2.54"),
        (carrying(cube(), scale=(1.0, 3.0, 1.0)), "look", 3.0, "times", "scales of 1 to 3"),
        (carrying(cube(), degrees=30), "look", 30, "degrees", "a turn of 30°"),
        (carrying(cube(), scale=(-1, 1, 1)), "look", 1.0, "times", "a mirroring"),
        (carrying(cube(), shift=(0, 3, 4)), "note", 5.0, "units", "a move by 5 units"),
    ],
)
def test_fires(part: Part, severity: str, value: float, unit: str, said: str) -> None:
    (finding,) = found(RULE, part, torus(8, 6))
    assert (finding.part, finding.severity, finding.unit) == ("cube", severity, unit)
    assert finding.value == pytest.approx(value)
    assert said in finding.message


def test_the_same_on_every_part_is_the_exporter_s_and_noted_once() -> None:
    parts = [carrying(part, scale=0.01, degrees=90) for part in (cube(), torus(8, 6))]
    (finding,) = found(RULE, *parts)
    assert (finding.part, finding.severity) == ("", "note")
    assert "a turn of 90° and a scale of 0.01" in finding.message


def test_different_ones_are_each_told() -> None:
    parts = [carrying(cube(), scale=2), carrying(torus(8, 6), scale=3)]
    assert [finding.part for finding in found(RULE, *parts)] == ["cube", "torus"]
