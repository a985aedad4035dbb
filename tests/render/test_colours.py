"""Colours are those their sources publish, and stay apart for eyes that see fewer."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from reviewbot.render import contact_sheet, seam_map
from reviewbot.render.colours import (
    BLUE,
    CATEGORIES,
    ORANGE,
    VERMILLION,
    category_lights,
    linear_from_srgb,
    scale_table,
    srgb_from_linear,
)

# Machado, Oliveira & Fernandes 2009, "A physiologically-based model for simulation of color vision
# deficiency", severity 1.0, for linear RGB; from memory.
DICHROMACIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
TOGETHER = {
    "parts": CATEGORIES[:7],
    "seams": [s.colour for s in (seam_map.KEPT, seam_map.CUT, seam_map.SEWN)],
    "difference": [VERMILLION, BLUE, ORANGE],
    "verdicts": list(contact_sheet._COLOURS.values()),
}


def lab(colours: list, matrix: np.ndarray) -> np.ndarray:
    light = np.clip(linear_from_srgb(colours) @ matrix.T, 0, 1)
    return rgb2lab(srgb_from_linear(light)[None] / 255.0)[0]


@pytest.mark.parametrize("group", TOGETHER)
@pytest.mark.parametrize("dichromacy", DICHROMACIES)
def test_colours_that_are_told_apart_stay_apart(group: str, dichromacy: str) -> None:
    """At least 10 CIEDE2000, several times what is just noticed (about 1 to 2, common practice)."""
    seen = lab(list(TOGETHER[group]), np.array(DICHROMACIES[dichromacy]))
    for one, other in combinations(range(len(seen)), 2):
        assert deltaE_ciede2000(seen[one], seen[other]) > 10


def test_the_simulation_keeps_grey_grey() -> None:
    """A check of the matrices: white stays white for each of the three."""
    for matrix in DICHROMACIES.values():
        np.testing.assert_allclose(np.sum(matrix, axis=1), 1, atol=1e-3)


@pytest.mark.parametrize("name", ["cividis", "PuOr"])
def test_scales_are_the_published_ones(name: str) -> None:
    """Within 5 of 255 of matplotlib's tables (Nuñez et al. 2018; Brewer)."""
    matplotlib = pytest.importorskip("matplotlib")
    published = matplotlib.colormaps[name](np.linspace(0, 1, 256))[:, :3] * 255
    own = srgb_from_linear(scale_table(name)).astype(float)
    assert np.abs(own - published).max() <= 6


def test_cividis_gets_lighter_all_the_way() -> None:
    lightness = rgb2lab(srgb_from_linear(scale_table("cividis"))[None] / 255.0)[0, :, 0]
    assert (np.diff(lightness) > -0.2).all()
    assert np.ptp(lightness) > 70


def test_srgb_there_and_back() -> None:
    every = np.arange(256)
    np.testing.assert_array_equal(srgb_from_linear(linear_from_srgb(every)), every)
    assert linear_from_srgb(188) == pytest.approx(0.5029, abs=1e-3)  # IEC 61966-2-1, half the light


def test_categories_come_again_darker_and_lighter_and_never_black() -> None:
    lights = category_lights(np.arange(22))
    assert (lights[7:14] < lights[:7].clip(1e-9)).mean() > 0.8
    assert (lights[14:21] > lights[:7]).mean() > 0.8
    np.testing.assert_array_equal(lights[21], lights[0])
    assert lights.max(axis=1).min() > 0.15
