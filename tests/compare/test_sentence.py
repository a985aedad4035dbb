from __future__ import annotations

import pytest

from reviewbot.compare.change import CODES, Change
from reviewbot.compare.gather import GRAVITY
from reviewbot.compare.sentence import change_sentence
from reviewbot.compare.wording import counted, figure, listed, of_all, percent, units


def change(code: str, part: str = "", value: float | None = None) -> Change:
    return Change(code=code, part=part, message="", value=value)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ([], "Nothing changed."),
        (
            [change("uv-lost", "handle")],
            "The handle's UVs are gone; everything else is as it was.",
        ),
        (
            [change("scale", value=100.0)],
            "The whole asset is 100 times as large; nothing else changed.",
        ),
        (
            [change("uv-lost", "handle"), change("reshaped", "lid")],
            "The handle's UVs are gone and the lid has another form; everything else is as it was.",
        ),
        (
            [change("part-moved", "lid"), change("part-moved", "hook")],
            "The lid and the hook were moved; everything else is as it was.",
        ),
        (
            [change("part-moved", name) for name in "abcdef"],
            "6 parts were moved; everything else is as it was.",
        ),
    ],
)
def test_a_non_programmer_understands_it(told: list[Change], sentence: str) -> None:
    assert change_sentence(told, all_parts=9) == sentence


def test_many_kinds_of_change_are_counted() -> None:
    told = [
        change(code, "lid") for code in ("uv-lost", "reshaped", "welded", "unwelded", "uv-moved")
    ]
    assert change_sentence(told, all_parts=3).endswith("and 2 other kinds of change.")


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("parts", [[""], ["lid"], ["lid", "hook"], list("abcdefg")])
def test_every_code_has_words(code: str, parts: list[str]) -> None:
    sentence = change_sentence([change(code, part, 2.0) for part in parts], all_parts=8)
    assert "-" not in code or code not in sentence
    assert "changed " not in sentence.split(";")[0]
    assert not sentence[0].islower()
    assert sentence.endswith(".")


def test_every_published_code_has_its_rank() -> None:
    assert sorted(GRAVITY) == sorted(CODES)


def test_words_and_figures() -> None:
    assert figure(0) == "0"
    assert figure(float("nan")) == "unknown"
    assert units(1.0) == "1 unit"
    assert counted(0, "face") == "0 faces"
    assert percent(0.005) == "0.5%"
    assert percent(25) == "over 1,000%"
    assert listed(["a"]) == "a"
    assert listed(list("abcdef")) == "a, b, c and 3 more"
    assert of_all(1, 1, "face") == "its only face"


@pytest.mark.parametrize(
    ("count", "start"),
    [
        (1, "The part1's UVs are gone"),
        (2, "The UVs of the part1 and the part2 are gone"),
        (5, "The UVs of 5 parts are gone"),
        (9, "The UVs of all 9 parts are gone"),
    ],
)
def test_uvs_of_one_and_of_several_parts(count: int, start: str) -> None:
    told = [change("uv-lost", f"part{k + 1}") for k in range(count)]
    assert change_sentence(told, all_parts=9).startswith(f"{start};")
