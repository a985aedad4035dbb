"""Low and high partners by name. Common practice, no source: a base name and a suffix each."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.measure.names import (
    Pairs,
    base_name,
    find_pairs,
    find_pairs_between,
    fits_pattern,
    partner_file,
)
from reviewbot.settings import NameSettings

NAMES = NameSettings()


def test_partners_are_found_by_base_name() -> None:
    found = find_pairs(["cap_low", "body_high", "cap_high", "body_low", "stand"], NAMES)
    assert found == Pairs(pairs=(("cap_low", "cap_high"), ("body_low", "body_high")))


def test_lone_parts_of_either_kind_are_told() -> None:
    found = find_pairs(["cap_low", "cap_high", "hook_low", "glass_high"], NAMES)
    assert (found.lone_low, found.lone_high) == (("hook_low",), ("glass_high",))


@pytest.mark.parametrize("names", [[], ["cap_low", "hook_low"], ["cap_high"], ["cap", "hook"]])
def test_one_kind_alone_lacks_nothing(names: list[str]) -> None:
    assert find_pairs(names, NAMES) == Pairs()


def test_two_parts_of_one_name_are_told_once() -> None:
    found = find_pairs(["cap_low", "cap_low", "cap_high"], NAMES)
    assert found.twice == ("cap_low",)


def test_a_suffix_alone_is_no_name() -> None:
    assert find_pairs(["_low", "_high"], NAMES) == Pairs()


def test_suffixes_come_from_the_settings() -> None:
    settings = NameSettings(low_suffix="-lp", high_suffix="-hp")
    assert find_pairs(["cap-lp", "cap-hp"], settings).pairs == (("cap-lp", "cap-hp"),)
    assert find_pairs(["cap-LP", "cap-hp"], settings) == Pairs()
    assert find_pairs(["cap_low", "cap_high"], settings) == Pairs()
    assert base_name("cap", "") is None


def test_two_files_may_leave_the_suffix_to_the_file_name() -> None:
    found = find_pairs_between(["cap", "body"], ["cap", "body_high", "hook"], NAMES)
    assert found.pairs == (("cap", "cap"), ("body", "body_high"))
    assert found.lone_high == ("hook",)


@pytest.mark.parametrize(
    ("path", "partner"),
    [
        ("props/lantern_low.obj", ("props/lantern_high.obj", "high")),
        ("lantern_high.obj", ("lantern_low.obj", "low")),
        ("lantern.obj", None),
        ("props_low/lantern", None),
        ("v1.low_low/lantern", None),
    ],
)
def test_partner_files(path: str, partner: tuple[str, str] | None) -> None:
    assert partner_file(path, NAMES) == partner


@pytest.mark.parametrize(
    ("name", "pattern", "fits"),
    [
        ("anything", None, True),
        ("lantern_cap_low", "lantern_*", True),
        ("cap_low", "lantern_*", False),
        ("cap_low", "^[a-z_]+", True),
        ("Cap_low", "^[a-z_]+", False),
        ("cap_low2", "^[a-z_]+$", False),
        ("cap_low", "[a-z][a-z0-9_]*_(low|high)", True),
        ("cap", "[a-z][a-z0-9_]*_(low|high)", False),
        ("aBC", "[a-z_]*", False),
        ("cap_low", ".*_low", True),
        ("cap_low", "*_low", True),
        ("cap_mid", "*_low", False),
        ("v1.cap", "v1.c?p", True),
        ("cap_low", "cap_low", True),
        ("cap_low_2", "cap_low", False),
    ],
)
def test_patterns(name: str, pattern: str | None, fits: bool) -> None:
    assert fits_pattern(name, pattern) is fits


@given(
    bases=st.lists(st.text("abc", min_size=1), unique=True, min_size=1),
    order=st.randoms(use_true_random=False),
)
def test_complete_sets_pair_one_to_one_in_any_order(bases: list[str], order) -> None:
    names = [base + suffix for base in bases for suffix in ("_low", "_high")]
    order.shuffle(names)
    found = find_pairs(names, NAMES)
    assert sorted(found.pairs) == sorted((b + "_low", b + "_high") for b in bases)
    assert (found.lone_low, found.lone_high, found.twice) == ((), (), ())
