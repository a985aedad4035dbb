"""Sizes outside the range, and the factor that explains them."""

import pytest
from found import found, toml
from shapes import box, cube

from reviewbot.checks.odd_unit import RULE

RANGE = toml("[limits]\nsmallest = 0.2\nlargest = 0.6")


@pytest.mark.parametrize("side", [0.2, 0.4, 0.6])
def test_silent_in_range(side: float) -> None:
    assert found(RULE, cube(side=side), settings=RANGE) == []


def test_silent_without_a_range_and_without_anything() -> None:
    assert found(RULE, cube(side=1e6)) == []
    assert found(RULE, settings=RANGE) == []


@pytest.mark.parametrize(
    ("side", "limit", "said"),
    [
        (40.0, 0.6, "scaled by 0.01 it would fit"),
        (0.004, 0.2, "scaled by 100 it would fit"),
        (0.9, 0.6, "scaled by 0.394 it would fit"),  # inches read as centimetres
        (0.61, 0.6, "allowed size of 0.6. Check"),  # merely too large: no unit explains it well
    ],
)
def test_fires(side: float, limit: float, said: str) -> None:
    settings = RANGE if side != 0.61 else toml("[limits]\nsmallest = 0.5\nlargest = 0.6")
    (finding,) = found(RULE, cube(side=side), settings=settings)
    assert (finding.part, finding.severity, finding.unit) == ("", "look", "units")
    assert (finding.value, finding.limit) == pytest.approx((side, limit))
    assert said in finding.message


def test_metres_count_where_the_file_knows_them() -> None:
    lantern = box((0, 0, 0), (20, 40, 20))
    assert found(RULE, lantern, settings=RANGE, metres_per_unit=0.01) == []
    (finding,) = found(RULE, lantern, settings=RANGE, metres_per_unit=1.0)
    assert finding.unit == "m"
