"""Low and high parts without partners. Common practice, no source: one base name, two suffixes."""

import pytest
from found import found
from shapes import cube, model

from reviewbot.checks.pair_missing import RULE
from reviewbot.measure.names import Partner


@pytest.mark.parametrize(
    "names",
    [
        ["cap_low", "cap_high", "body_high", "body_low"],
        ["cap_low", "body_low"],  # low parts alone: the high ones come later, or lie elsewhere
        ["cap_high"],
        ["cap", "body"],
        ["cap_low", "cap_high", "stand"],  # not meant for the bake
        [],
    ],
)
def test_silent(names: list[str]) -> None:
    assert found(RULE, *(cube(name=name) for name in names)) == []


def test_fires_for_lone_parts_of_either_kind() -> None:
    names = ["cap_low", "cap_high", "hook_low", "globe_high"]
    findings = found(RULE, *(cube(name=name) for name in names))
    assert [(one.part, one.severity) for one in findings] == [
        ("hook_low", "look"),
        ("globe_high", "look"),
    ]
    assert "'hook_high'" in findings[0].message
    assert "'globe_low'" in findings[1].message


def test_fires_for_two_parts_of_one_name() -> None:
    names = ["cap_low", "cap_low", "cap_high"]
    (finding,) = found(RULE, *(cube(name=name) for name in names))
    assert finding.part == "cap_low"
    assert "2 parts have this name" in finding.message


def test_across_two_files_each_file_answers_for_its_own_parts() -> None:
    low = [cube(name=name) for name in ("cap_low", "hook_low")]
    high = [cube(name=name) for name in ("cap_high", "globe_high")]
    with_high = Partner(model=model(*high), kind="high")
    with_low = Partner(model=model(*low), kind="low")
    assert [one.part for one in found(RULE, *low, partner=with_high)] == ["hook_low"]
    assert [one.part for one in found(RULE, *high, partner=with_low)] == ["globe_high"]
