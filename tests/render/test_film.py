"""Film strips and version animations."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from reviewbot.render.canvas import WIDTH
from reviewbot.render.film import (
    MOST_FRAMES,
    FilmFrame,
    chosen_frames,
    film_animation,
    film_strip,
)

VERMILLION = (213, 94, 0)


def frame(shade: int = 120, **more: object) -> FilmFrame:
    image = np.full((90, 60, 3), shade, np.uint8)
    fields = {"image": image, "instead": "", "day": "24 Mar", "words": "Export again", "size": ""}
    return FilmFrame(**{**fields, "verdict": "pass", **more})


def decoded(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def share_of(image: np.ndarray, colour: tuple[int, int, int]) -> float:
    return float((np.abs(image - colour).max(axis=2) < 24).mean())


@pytest.mark.parametrize("count", [1, 2, MOST_FRAMES, MOST_FRAMES + 1, 400])
def test_first_and_last_are_always_shown(count: int) -> None:
    chosen = chosen_frames(count)
    assert chosen == sorted(set(chosen))
    assert (chosen[0], chosen[-1]) == (0, count - 1)
    assert len(chosen) == min(count, MOST_FRAMES)
    steps = np.diff(chosen)
    assert not len(steps) or steps.max() - steps.min() <= 1


def test_a_strip_is_as_wide_as_other_pictures_and_grows_downwards() -> None:
    one_row = film_strip([frame()] * 6, title="box.obj", left_out=0)
    two_rows = film_strip([frame()] * 7, title="box.obj", left_out=0)
    assert WIDTH - 12 <= one_row.width <= WIDTH
    assert two_rows.width == one_row.width
    assert one_row.height < two_rows.height < 2 * one_row.height
    assert "6 versions" in one_row.caption


def test_what_is_left_out_is_said() -> None:
    strip = film_strip([frame()] * 3, title="box.obj", left_out=4)
    assert "4 between them are not shown" in strip.caption


def test_the_verdict_is_marked() -> None:
    bad = decoded(film_strip([frame(verdict="stop")] * 3, title="", left_out=0).data)
    good = decoded(film_strip([frame(verdict="pass")] * 3, title="", left_out=0).data)
    unknown = decoded(film_strip([frame(verdict=None)] * 3, title="", left_out=0).data)
    assert share_of(bad, VERMILLION) > 10 * max(share_of(good, VERMILLION), 1e-5)
    assert share_of(unknown, VERMILLION) == share_of(good, VERMILLION)


@pytest.mark.parametrize("words", ["", "x" * 400, "many words " * 60, "a\nb\0\u202e🏮灯"])
def test_any_message_fits(words: str) -> None:
    plain = film_strip([frame()] * 3, title="", left_out=0)
    strip = film_strip([frame(words=words)] * 3, title="", left_out=0)
    assert (strip.width, strip.height) == (plain.width, plain.height)


def test_a_removed_version_has_a_frame() -> None:
    gone = frame(image=None, instead="removed", verdict=None)
    strip = film_strip([frame(), gone], title="", left_out=0)
    assert strip.height == film_strip([frame(), frame()], title="", left_out=0).height


def test_an_animation_is_calm_and_whole() -> None:
    """At most three flashes a second: WCAG 2.2, 2.3.1."""
    frames = [frame(shade, words="w" * shade) for shade in (40, 120, 250)]
    frames.append(frame(image=None, instead="removed", verdict=None, size="100 times as large"))
    film = film_animation(frames)
    opened = Image.open(io.BytesIO(film.data))
    assert opened.n_frames == 4
    assert (opened.width, opened.height) == (film.width, film.height)
    assert len(film.data) < 2_000_000
    for at in range(4):
        opened.seek(at)
        opened.load()
        assert opened.info["duration"] >= 1000 / 3


def test_noisy_versions_stay_under_two_megabytes() -> None:
    noise = np.random.default_rng(7)
    frames = [
        frame(image=noise.integers(0, 255, (480, 400, 3), np.uint8)) for _ in range(MOST_FRAMES)
    ]
    assert len(film_animation(frames).data) < 2_000_000
