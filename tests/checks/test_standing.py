from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from examined import examined
from shapes import cube

from reviewbot.checks.finding import Finding
from reviewbot.checks.standing import judged, stand, with_standings
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import compare
from reviewbot.settings import Settings

STILL = np.eye(4)
HUNDREDFOLD = np.diag([0.01, 0.01, 0.01, 1.0])  # carries a file a hundred times as large back
KEPT = [("lid", "lid"), ("hook", "hook")]


def finding(
    code: str = "uv-stretch",
    part: str = "lid",
    *,
    count: int | None = None,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    at: tuple[float, float, float] | None = None,
) -> Finding:
    return Finding(
        code=code,
        severity="look",
        part=part,
        message="",
        count=count,
        value=value,
        limit=limit,
        unit=unit,
        at=at,
    )


def standings(before: list[Finding], after: list[Finding], parts=KEPT, undo=STILL) -> list[str]:
    return [one.standing for one in stand(before, after, parts, undo)]


def test_new_same_and_fixed() -> None:
    old, other = finding("ngon", count=3), finding("open-border", count=1)
    assert standings([], [old]) == ["new"]
    assert standings([old], [old]) == ["same"]
    assert standings([old], []) == ["fixed"]
    assert standings([old], [other]) == ["new", "fixed"]
    assert standings([old], [replace(old, part="hook")]) == ["new", "fixed"]


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (1.6, 2.0, "worse"),
        (2.0, 1.6, "better"),
        (1.6, 1.61, "same"),
    ],
)
def test_farther_beyond_a_limit_is_worse(before: float, after: float, expected: str) -> None:
    assert judged(finding(value=before, limit=1.5), finding(value=after, limit=1.5)) == expected


def test_below_a_lower_limit_less_is_worse() -> None:
    """A tile wants to be used: a smaller share is worse."""
    assert judged(finding(value=0.4, limit=0.5), finding(value=0.3, limit=0.5)) == "worse"
    assert judged(finding(value=0.3, limit=0.5), finding(value=0.4, limit=0.5)) == "better"


def test_counts_decide_where_no_figure_does() -> None:
    assert judged(finding(count=3), finding(count=5)) == "worse"
    assert judged(finding(count=5), finding(count=3)) == "better"
    assert judged(finding(count=5), finding(count=5)) == "same"
    assert judged(finding(), finding()) == "same"


def test_another_unit_makes_nothing_worse() -> None:
    old = [
        finding("shell-gap", value=0.02, limit=0.1, unit="units", at=(1, 2, 3)),
        finding("large-face", value=2.0, limit=1.0, unit="square units"),
        finding("density-uneven", value=50.0, limit=25.0, unit="px/unit"),
    ]
    new = [
        replace(old[0], value=2.0, limit=10.0, at=(100, 200, 300)),
        replace(old[1], value=20_000.0, limit=10_000.0),
        replace(old[2], value=0.5, limit=0.25),
    ]
    assert standings(old, new, undo=HUNDREDFOLD) == ["same", "same", "same"]
    assert standings(old, new) != ["same", "same", "same"]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ([], "worse"),
        ([("triangulated", "lid")], "same"),
        ([("triangulated", ""), ("material-changed", "lid"), ("scale", "")], "same"),
        ([("faces-merged", "lid"), ("uv-moved", "lid")], "same"),
        ([("triangulated", "lid"), ("uv-reshaped", "lid")], "worse"),
        ([("triangulated", "lid"), ("reshaped", "lid")], "worse"),
        ([("triangulated", "lid"), ("reshaped", "foot")], "same"),
        ([("triangulated", "foot")], "worse"),
    ],
)
def test_cutting_faces_stretches_nothing(changes: list[tuple[str, str]], expected: str) -> None:
    lid = examined(cube(name="lid"))
    told = tuple(Change(code=code, part=part, message="") for code, part in changes)
    comparison = replace(compare(lid, lid, Settings()), changes=told)
    old, new = (finding("uv-stretch", part="lid", value=v, limit=0.05) for v in (0.2, 0.3))
    (stood,) = with_standings([old], [new], lid, lid, comparison)
    assert stood.standing == expected
    other = replace(old, code="uv-overlap"), replace(new, code="uv-overlap")
    (stood,) = with_standings([other[0]], [other[1]], lid, lid, comparison)
    assert stood.standing == "worse"


def test_findings_follow_a_renamed_part() -> None:
    old, new = finding(part="lid", count=2), finding(part="cap", count=2)
    assert standings([old], [new], [("lid", "cap")]) == ["same"]
    (fixed,) = stand([old], [], [("lid", "cap")], STILL)
    assert (fixed.standing, fixed.part) == ("fixed", "cap")


def test_findings_of_joined_parts_are_added_up() -> None:
    parts = [("lid", "both"), ("hook", "both")]
    old = [finding(part="lid", count=2), finding(part="hook", count=3)]
    assert standings(old, [finding(part="both", count=5)], parts) == ["same"]
    assert standings(old, [finding(part="both", count=9)], parts) == ["worse"]
    assert standings(old, [finding(part="both", count=1)], parts) == ["better"]


def test_findings_of_a_split_part_stand_as_before() -> None:
    parts = [("lid", "lid"), ("lid", "rim")]
    new = [finding(part="lid", count=2), finding(part="rim", count=3)]
    assert standings([finding(part="lid", count=5)], new, parts) == ["same", "same"]


def test_several_of_one_rule_are_told_apart_by_place() -> None:
    here, there = (0.0, 0, 0), (9.0, 0, 0)
    old = [finding(count=1, at=here), finding(count=5, at=there)]
    new = [finding(count=5, at=there), finding(count=2, at=here)]
    assert standings(old, new) == ["same", "worse"]
    (kept, fixed) = stand(old, new[:1], KEPT, STILL)
    assert (kept.standing, fixed.standing, fixed.at) == ("same", "fixed", here)


def test_a_part_that_is_gone_takes_its_findings_with_it() -> None:
    (fixed,) = stand([finding(part="hook")], [], [("lid", "lid"), ("hook", None)], STILL)
    assert (fixed.part, fixed.standing) == ("hook", "fixed")


def test_findings_of_the_whole_asset_need_no_part() -> None:
    assert standings([finding(part="")], [finding(part="")]) == ["same"]
    assert standings([finding(part="")], [finding(part="")], []) == ["same"]


def test_places_of_fixed_findings_are_in_the_new_space() -> None:
    (fixed,) = stand([finding(at=(1.0, 2, 3))], [], KEPT, HUNDREDFOLD)
    assert fixed.at == pytest.approx((100, 200, 300))
