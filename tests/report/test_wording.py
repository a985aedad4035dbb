import doctest
import math

import pytest

from reviewbot.report import wording
from reviewbot.report.wording import counted, figure, measure_label, number, revision


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0, "0"),
        (0.0, "0"),
        (12345, "12,345"),
        (12345.678, "12,346"),
        (1.0, "1"),
        (0.1 + 0.2, "0.3"),
        (1 / 3, "0.3333"),
        (-2.5, "-2.5"),
        (0.000123456, "0.0001235"),
        (9.9999, "10"),
        (100.0, "100"),
        (1e-7, "1e-07"),
        (None, "–"),
        (math.nan, "not finite"),
        (math.inf, "not finite"),
        ("hero", "hero"),
        ("", "–"),
    ],
)
def test_numbers_as_people_write_them(value, shown):
    assert number(value) == shown


def test_units_stand_apart_unless_they_touch_by_custom():
    assert figure(3.0, "px") == "3 px"
    assert figure(3.0, "%") == "3%"
    assert figure(3.0, "°") == "3°"
    assert figure(3.0, "") == "3"
    assert figure(None, "px") == "–"


def test_counts_keys_and_revisions():
    assert counted(1, "asset") == "1 asset"
    assert counted(1200, "asset") == "1,200 assets"
    assert measure_label("uv_area") == "UV area"
    assert measure_label("seam_length") == "seam length"
    assert revision("a" * 40) == "a" * 12
    assert revision("main") == "main"


def test_the_examples_in_the_documentation_hold():
    assert doctest.testmod(wording).failed == 0
    assert doctest.testmod(wording).attempted >= 5
