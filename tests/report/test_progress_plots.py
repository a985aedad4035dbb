"""Plots of a period: what is drawn is read back from the picture itself."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from report.progress_sample import progress, tracked, version

from reviewbot.render.colours import BLUE, ORANGE, VERMILLION
from reviewbot.render.picture import Picture
from reviewbot.report.progress import AssetProgress
from reviewbot.report.progress_plots import asset_plot, findings_plot


def pixels(picture: Picture) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(picture.data)).convert("RGB")).astype(int)


def has(image: np.ndarray, colour: tuple[int, int, int]) -> int:
    return int((np.abs(image - colour).max(axis=2) <= 2).sum())


def way(*versions) -> AssetProgress:
    return AssetProgress(path="props/lamp.obj", versions=versions)


def test_one_version_is_no_plot() -> None:
    assert asset_plot(way(version(24, "added"))) == []
    assert asset_plot(way()) == []
    gone = version(25, "removed", stops=None, looks=None)
    assert asset_plot(way(version(24, "start"), gone)) == []


def test_an_asset_s_measures_are_drawn_at_twice_the_size_they_are_shown_at() -> None:
    (plot,) = asset_plot(progress().assets[0])
    assert plot.width == 1660
    image = pixels(plot)
    assert image.shape == (plot.height, plot.width, 3)
    assert has(image, BLUE) > 500
    assert has(image, VERMILLION) > 500
    assert "faces 100 to 120" in plot.caption
    assert "used texture 48% to 54%" in plot.caption


def test_more_open_findings_are_more_ink() -> None:
    few = asset_plot(way(version(24, "start"), version(25, "changed", stops=1, looks=3)))[0]
    none = asset_plot(way(version(24, "start"), version(25, "changed")))[0]
    key = has(pixels(none), VERMILLION)  # the legend's
    assert has(pixels(few), VERMILLION) > 2 * key


def test_a_flat_measure_is_drawn_flat() -> None:
    """Ripples of a thousandth stay within the line's own width."""
    steady = [version(24, "start", faces=10_000 + at) for at in range(9)]
    (plot,) = asset_plot(way(*steady))
    panel = pixels(plot)[120:400, 110:540]
    rows = np.flatnonzero((np.abs(panel - BLUE).max(axis=2) <= 2).any(axis=1))
    assert rows.max() - rows.min() < 24


def test_open_findings_over_the_period() -> None:
    (plot,) = findings_plot(progress())
    image = pixels(plot)
    assert has(image, VERMILLION) > 2000
    assert has(image, ORANGE) > 200
    assert "3 at the start, 3 at the end" in plot.caption
    assert findings_plot(progress(findings=())) == []


@pytest.mark.parametrize("days", [(24, 25), (24, None), (None, 25), (None, None), (25, 25)])
def test_any_span_can_be_drawn(days: tuple[int | None, int | None]) -> None:
    opened, ended = days
    fate = "opened" if ended is None else "passing"
    assert findings_plot(progress(findings=(tracked(fate, opened=opened, ended=ended),)))


def test_a_period_of_no_length_can_be_drawn() -> None:
    moment = "2025-03-24T00:00:00+01:00"
    assert findings_plot(progress(since=moment, until=moment))


def test_the_same_period_gives_the_same_picture() -> None:
    first, second = (findings_plot(progress())[0].data for _ in range(2))
    assert first == second
