"""Picture differences are those of their published measures, on the object alone."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.metrics import structural_similarity

from reviewbot.render import flip
from reviewbot.render.compose import ViewImage
from reviewbot.render.differences import (
    differences_of,
    grey,
    outline_displacement,
    overlap,
    ssim_map,
    view_difference,
    with_flip,
)


def noise(seed: int, shape: tuple[int, int] = (90, 80)) -> np.ndarray:
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(40, 220, (shape[0] // 10 + 1, shape[1] // 10 + 1, 3))
    return np.kron(coarse, np.ones((10, 10, 1)))[: shape[0], : shape[1]].astype(np.uint8)


def disc(radius: float, at: tuple[float, float] = (40.0, 45.0)) -> np.ndarray:
    y, x = np.mgrid[0:90, 0:80]
    return np.hypot(x + 0.5 - at[0], y + 0.5 - at[1]) <= radius


def compared(before: np.ndarray, after: np.ndarray, old: np.ndarray, new: np.ndarray):
    found = view_difference("view", before, after, before_mask=old, after_mask=new)
    return with_flip(found, before, after, before_mask=old, after_mask=new)


def test_ssim_is_that_of_scikit_image() -> None:
    """Wang, Bovik, Sheikh & Simoncelli 2004: Gaussian window, sigma 1.5, no sample covariance."""
    before, after = grey(noise(1)), grey(noise(2))
    expected, full = structural_similarity(
        before,
        after,
        gaussian_weights=True,
        sigma=1.5,
        use_sample_covariance=False,
        data_range=255,
        full=True,
    )
    np.testing.assert_allclose(ssim_map(before, after), full, atol=2e-5)
    mask = np.ones((90, 80), dtype=bool)
    found = compared(noise(1), noise(2), mask, mask)
    assert found.ssim == pytest.approx(full.mean(), abs=1e-5)
    assert found.ssim_worst == pytest.approx(np.percentile(full, 1), abs=1e-4)
    assert expected == pytest.approx(full[5:-5, 5:-5].mean(), abs=1e-4)


def test_grey_is_luma_of_bt_709() -> None:
    primaries = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 255]]], dtype=np.uint8)
    np.testing.assert_allclose(grey(primaries)[0], [54.213, 182.376, 18.411, 255.0], atol=1e-3)


def test_flip_is_that_of_its_authors_package() -> None:
    """Andersson et al. 2020, through their own `flip-evaluator`."""
    package = pytest.importorskip("flip_evaluator")
    before, after = noise(3), noise(4)
    expected, mean, _ = package.evaluate(
        before.astype(np.float32) / 255, after.astype(np.float32) / 255, "LDR", applyMagma=False
    )
    found = flip.flip_map(before, after)
    # Single precision there and here, of which a square root is taken.
    np.testing.assert_allclose(found, expected.reshape(90, 80), atol=5e-4)
    assert np.abs(found - expected.reshape(90, 80)).mean() < 1e-5
    assert found.mean() == pytest.approx(mean, abs=1e-5)
    mask = np.ones((90, 80), dtype=bool)
    difference = compared(before, after, mask, mask)
    assert difference.flip == pytest.approx(mean, abs=1e-5)
    assert difference.flip_worst == pytest.approx(np.percentile(expected, 99), abs=1e-4)


def test_flip_of_black_and_white_is_that_of_the_paper() -> None:
    """Worked by hand from the paper's formulas: lightness differs by 100, and nothing else does.

    sRGB's green is L* 87.73, a* -86.18, b* 83.18 and its blue 32.30, 79.19, -107.86 (from memory).
    """
    green, blue = (87.73, -0.8773 * 86.18, 0.8773 * 83.18), (32.30, 0.323 * 79.19, -0.323 * 107.86)
    lightness, first, second = np.subtract(green, blue)
    largest = (abs(lightness) + np.hypot(first, second)) ** 0.7
    expected = 0.95 + 0.05 * (100**0.7 - 0.4 * largest) / (0.6 * largest)
    black, white = (np.full((30, 40, 3), value, dtype=np.uint8) for value in (0, 255))
    for pair in ((black, white), (white, black)):
        np.testing.assert_allclose(flip.flip_map(*pair), expected, atol=1e-4)
    assert not flip.flip_map(white, white).any()


def test_the_empty_ground_does_not_count() -> None:
    """The same change, in a picture of twice the size about the object."""
    before, after, mask = noise(5), noise(5), disc(20)
    after[40:50, 35:45] = 0
    near = compared(before, after, mask, mask)
    wide = [np.pad(image, ((60, 60), (60, 60), (0, 0)), mode="edge") for image in (before, after)]
    wide_mask = np.pad(mask, 60)
    far = compared(*wide, wide_mask, wide_mask)
    assert near.ssim == pytest.approx(far.ssim, abs=1e-6)
    assert near.ssim_worst == pytest.approx(far.ssim_worst, abs=1e-6)
    assert 0 < near.changed[45, 40] <= 1
    assert not near.changed[~mask].any()


def test_the_same_picture_does_not_differ() -> None:
    mask = disc(25)
    found = compared(noise(6), noise(6), mask, mask)
    assert (found.ssim, found.ssim_worst, found.silhouette_iou) == (1.0, 1.0, 1.0)
    assert (found.outline_pixels, found.outline_at, found.flip) == (0.0, None, None)
    assert not found.changed.any()


@pytest.mark.parametrize("shift", [1, 4, 9])
def test_a_shifted_outline_moved_by_its_shift(shift: int) -> None:
    before, after = disc(20), disc(20, at=(40.0 + shift, 45.0))
    pixels, at = outline_displacement(before, after)
    assert pixels == pytest.approx(shift, abs=1.0)
    assert at is not None
    reach = [abs(np.hypot(at[0] - x, at[1] - 45) - 20) for x in (40.0, 40.0 + shift)]
    assert max(reach) == pytest.approx(shift, abs=1.0)
    assert min(reach) < 1.0


def test_a_grown_outline_moved_by_its_growth() -> None:
    pixels, _ = outline_displacement(disc(20), disc(27))
    assert pixels == pytest.approx(7, abs=0.8)
    assert overlap(disc(20), disc(27)) == pytest.approx((20 / 27) ** 2, abs=0.01)


def test_empty_masks() -> None:
    nothing = np.zeros((90, 80), dtype=bool)
    assert overlap(nothing, nothing) == 1.0
    assert outline_displacement(nothing, nothing) == (0.0, None)
    assert outline_displacement(nothing, disc(9)) == (float("inf"), None)
    found = compared(noise(1), noise(1), nothing, nothing)
    assert found.ssim == 1.0


def test_pictures_smaller_than_the_window() -> None:
    mask = np.ones((4, 5), dtype=bool)
    found = compared(noise(1)[:4, :5], noise(2)[:4, :5], mask, mask)
    assert -1 <= found.ssim < 1


def test_flip_tells_of_the_whole_object_though_little_differs() -> None:
    """Worked out round what differs alone, against the authors' package on the whole picture."""
    package = pytest.importorskip("flip_evaluator")
    before, after, mask = noise(3), noise(3), np.ones((90, 80), dtype=bool)
    after[50:53, 40:44] = 255 - after[50:53, 40:44]
    pair = [image.astype(np.float32) / 255 for image in (before, after)]
    expected, mean, _ = package.evaluate(*pair, "LDR", applyMagma=False)
    assert not expected[:10].any()
    found = compared(before, after, mask, mask)
    assert found.flip == pytest.approx(mean, rel=1e-5)
    assert found.flip_worst == pytest.approx(np.percentile(expected, 99), rel=1e-5)


def test_flip_is_spent_on_the_worst_views() -> None:
    mask = disc(30)
    before = [ViewImage(name=f"{k}", clay=noise(9), mask=mask) for k in range(7)]
    after = []
    for k in range(7):
        image = noise(9).copy()
        image[40 : 40 + 3 * k, 30:50] = 0
        after.append(ViewImage(name=f"{k}", clay=image, mask=mask))
    found = differences_of(before, after)
    assert [d.flip is not None for d in found] == [False] * 4 + [True] * 3
