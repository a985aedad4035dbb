"""Nothing flashes, and moving pictures stay small."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from reviewbot.render import animation
from reviewbot.render.animation import frame_milliseconds, turntable_animation, turntable_frames
from reviewbot.render.colours import linear_from_srgb
from reviewbot.render.compose import ViewImage

FLASHES_A_SECOND = 3  # WCAG 2.2, success criterion 2.3.1: three flashes or below


def views(count: int, *, size: int = 120, harsh: bool = False) -> list[ViewImage]:
    rng = np.random.default_rng(4)
    made = []
    for k in range(count):
        image = rng.integers(0, 255, (size, size, 3), dtype=np.uint8)
        if harsh:
            image[:] = 255 * (k % 2)
        mask = np.zeros((size, size), dtype=bool)
        mask[10:-10, 30:-30] = True
        made.append(ViewImage(name=f"view {k + 1:02d}", clay=image, mask=mask))
    return made


def frames_of(data: bytes) -> tuple[list[np.ndarray], list[int]]:
    opened = Image.open(io.BytesIO(data))
    images, durations = [], []
    for k in range(opened.n_frames):
        opened.seek(k)
        images.append(np.asarray(opened.convert("RGB")))
        durations.append(opened.info["duration"])
    return images, durations


def flashes_a_second(images: list[np.ndarray], durations: list[int]) -> float:
    """Most pairs of opposing changes of relative luminance in any one second.

    WCAG 2.2's general flash: a change of 10 % of the brightest and back, the darker below 0.8.
    Counted for the whole picture, which asks more than a quarter of ten degrees of sight.
    """
    weights = np.array([0.2126, 0.7152, 0.0722])
    light = [float((linear_from_srgb(image) @ weights).mean()) for image in images]
    light = light + light[:1]
    at = np.cumsum([0, *durations]) / 1000
    turns = [
        at[k]
        for k in range(1, len(light))
        if abs(light[k] - light[k - 1]) >= 0.1 and min(light[k], light[k - 1]) < 0.8
    ]
    most = max((sum(1 for u in turns if t <= u < t + 1) for t in turns), default=0)
    return most / 2


@pytest.mark.parametrize("count", [4, 16, 64])
def test_even_black_and_white_frames_would_not_flash(count: int) -> None:
    made = turntable_animation(views(count, harsh=True), None)
    images, durations = frames_of(made.data)
    assert flashes_a_second(images, durations) <= FLASHES_A_SECOND


def test_the_flash_count_can_fail() -> None:
    black, white = np.zeros((4, 4, 3), np.uint8), np.full((4, 4, 3), 255, np.uint8)
    assert flashes_a_second([black, white] * 10, [100] * 20) > FLASHES_A_SECOND


def test_a_full_turn_is_calm() -> None:
    assert frame_milliseconds(16) == 500
    for count in (1, 4, 20, 64):
        turn = count * frame_milliseconds(count)
        assert turn >= 8000 - count
        assert frame_milliseconds(count) >= animation.LEAST_MILLISECONDS


def test_before_stands_left_of_after() -> None:
    before, after = views(4), views(4)
    for view in after:
        view.clay[:] = 30
    for view in before:
        view.clay[:] = 220
    made = turntable_animation(before, after)
    images, durations = frames_of(made.data)
    first = images[0][60:]
    assert len(images) == 1 or len(durations) == 4  # frames that are alike may be joined
    assert first[:, : first.shape[1] // 3].mean() > 180
    assert first[:, -first.shape[1] // 3 :].mean() < 70
    assert (made.width, made.height) == images[0].shape[1::-1]


def test_it_gets_smaller_until_it_fits(monkeypatch: pytest.MonkeyPatch) -> None:
    loud = views(8, size=300)
    whole = len(turntable_animation(loud, loud).data)
    monkeypatch.setattr(animation, "LARGEST_BYTES", whole // 3)
    smaller = turntable_animation(loud, loud)
    assert len(smaller.data) <= whole // 3
    images, _ = frames_of(smaller.data)
    assert len(images) == 8


@pytest.mark.parametrize("both", [True, False])
def test_frames_lie_in_columns_and_rows(both: bool) -> None:
    made = turntable_frames(views(6) if both else None, views(6))
    image = Image.open(io.BytesIO(made.data))
    assert (made.columns, made.rows) == (6, 1 + both)
    assert image.size == (made.width, made.height)
    assert made.width % made.columns == 0
    assert made.height % made.rows == 0
