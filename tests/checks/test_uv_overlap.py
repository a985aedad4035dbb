"""UVs that overlap by accident."""

from dataclasses import replace

import pytest
from edits import moved, uvs_placed
from found import found, toml
from shapes import cube, grid, joined, sphere

from reviewbot.checks.uv_overlap import RULE
from reviewbot.mesh import Material, Part


def square(side: float, u: float, v: float, name: str) -> Part:
    return uvs_placed(grid(2, 2, name=name), scale=side, by=(u, v))


@pytest.mark.parametrize("part", [cube(), sphere(12, 6), grid(4, 4)])
def test_silent(part) -> None:
    assert found(RULE, part) == []


def test_silent_on_identical_copies_stacked() -> None:
    rivets = [moved(uvs_placed(cube(), scale=0.2), (3 * k, 0, 0)) for k in range(6)]
    assert found(RULE, joined(*rivets)) == []
    assert (
        found(RULE, *(moved(rivet, (0, 0, 0), name=f"r{k}") for k, rivet in enumerate(rivets)))
        == []
    )
    aside = uvs_placed(rivets[1], by=(1, 0), name="aside")
    assert found(RULE, rivets[0], aside) == []


def test_silent_on_high_parts_and_other_pictures() -> None:
    assert found(RULE, cube(name="lid_low"), square(1, 0, 0, "lid_high")) == []
    iron, glass = (
        replace(square(0.9, 0, 0.01 * k, name), materials=(name,), face_material=[0] * 4)
        for k, name in enumerate(("iron", "glass"))
    )
    pictures = tuple(Material(name=n, base_colour_file=f"{n}.png") for n in ("iron", "glass"))
    assert found(RULE, iron, glass, materials=pictures) == []
    (finding,) = found(RULE, iron, glass)
    assert finding.severity == "note"


def test_silent_on_slivers() -> None:
    assert found(RULE, square(0.5, 0, 0, "a"), square(0.4, 0.4999, 0, "b")) == []
    settings = toml("[limits]\noverlap_share = 0")
    assert (
        len(found(RULE, square(0.5, 0, 0, "a"), square(0.4, 0.4999, 0, "b"), settings=settings))
        == 1
    )


def test_silent_on_what_is_smaller_than_a_pixel() -> None:
    speck = 0.5 / 2048
    assert found(RULE, square(0.5, 0, 0, "plate"), square(speck, 0.2, 0.2, "speck")) == []
    assert len(found(RULE, square(0.5, 0, 0, "plate"), square(4 * speck, 0.2, 0.2, "dot"))) == 1


def test_fires_on_the_smaller_one() -> None:
    (finding,) = found(RULE, square(0.5, 0, 0, "plate"), square(0.2, 0.4, 0.1, "rivet"))
    assert (finding.part, finding.severity, finding.count) == ("rivet", "stop", 1)
    assert finding.value == pytest.approx(0.5)
    assert finding.message == (
        "In the UVs 1 shell overlaps with those of plate, by 2.0% of a tile; move them apart."
    )
    assert finding.at[0] < 0.5  # where it lies on the plate


def test_fires_within_a_part() -> None:
    part = joined(square(0.5, 0, 0, "a"), moved(square(0.2, 0.4, 0.1, "b"), (3, 0, 0)))
    (finding,) = found(RULE, part)
    assert "itself or its neighbours" in finding.message


def test_a_copy_a_little_off_its_stack_is_worth_a_look() -> None:
    (finding,) = found(RULE, square(0.5, 0, 0, "a"), square(0.5, 0.01, 0, "b"))
    assert (finding.part, finding.severity) == ("b", "look")
    assert "nearly stacked" in finding.message


def test_a_repeating_texture_is_worth_a_look() -> None:
    (finding,) = found(RULE, square(3.5, 0, 0, "wall"), square(2.5, 0.3, 0.2, "floor"))
    assert (finding.severity, "repeats" in finding.message) == ("look", True)
