import math

import pytest
from report.sample import lantern_report

from reviewbot.report.measure_rows import MeasureRow, changed_rows, measure_rows


def row(before, after) -> MeasureRow:
    return MeasureRow(part="", key="k", before=before, after=after)


@pytest.mark.parametrize(
    ("before", "after"),
    [(1, 1), (1.0, 1.0 + 1e-9), (None, None), ("a", "a"), (0.0, 1e-15), (2, 2.0)],
)
def test_equal_figures_are_no_change(before, after):
    assert not row(before, after).is_changed


@pytest.mark.parametrize(
    ("before", "after"), [(1, 2), (1.0, 1.001), (None, 0), (3.0, None), ("a", "b"), (1, "1")]
)
def test_other_figures_are_one(before, after):
    assert row(before, after).is_changed


def test_differences_are_between_figures_only():
    assert row(3, 5).difference == 2
    assert row(None, 5).difference is None
    assert row("a", "b").difference is None
    assert row(math.nan, 1.0).difference is None


def test_all_measures_of_asset_and_parts_the_changed_ones_first():
    rows = measure_rows(lantern_report().assets[0])
    assert rows[0].key == "faces"
    assert rows[0].difference == 2
    handle = [r for r in rows if r.part == "handle"]
    assert [r.is_changed for r in handle] == sorted([r.is_changed for r in handle], reverse=True)
    assert len(changed_rows(rows)) < len(rows)
