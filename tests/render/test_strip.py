"""The strip shows before over after over what differs, large enough to be seen."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from reviewbot.render.colours import BLUE, ORANGE, VERMILLION
from reviewbot.render.compose import ViewImage
from reviewbot.render.differences import ViewDifference, differences_of
from reviewbot.render.strip import difference_image, strip_picture


def view(name: str, *, height: int, width: int, shift: int = 0) -> ViewImage:
    mask = np.zeros((200, 200), dtype=bool)
    top, left = (200 - height) // 2, (200 - width) // 2 + shift
    mask[top : top + height, left : left + width] = True
    clay = np.where(mask[..., None], 150, 238).astype(np.uint8) * np.ones(3, np.uint8)
    return ViewImage(name=name, clay=clay, mask=mask)


def turn(count: int, **shape: int) -> list[ViewImage]:
    return [view(f"view {k + 1:02d}", **shape) for k in range(count)]


def near(image: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    return np.abs(image.astype(int) - colour).max(axis=-1) < 12


def test_what_was_lost_gained_and_changed_is_told_apart() -> None:
    before, after = view("v", height=80, width=80), view("v", height=80, width=80, shift=10)
    after.clay[90:110, 95:115] = 20
    difference = differences_of([before], [after], flip_views=0)[0]
    drawn = difference_image(before, after, difference)
    np.testing.assert_array_equal(near(drawn, BLUE), before.mask & ~after.mask)
    np.testing.assert_array_equal(near(drawn, ORANGE), after.mask & ~before.mask)
    assert near(drawn, VERMILLION)[95:105, 100:110].all()
    assert not near(drawn, VERMILLION)[70:80, 100:120].any()


@pytest.mark.parametrize(
    ("height", "width", "rows"), [(160, 60, 1), (60, 180, 2)], ids=["upright", "wide"]
)
def test_wide_assets_get_two_rows_of_larger_panels(height: int, width: int, rows: int) -> None:
    views = turn(16, height=height, width=width)
    picture = strip_picture(None, views, (), title="prop")
    image = np.asarray(Image.open(io.BytesIO(picture.data)).convert("L"))
    form = (image > 130) & (image < 170)
    runs = np.diff(np.concatenate([[0], form.any(axis=1).astype(int), [0]]))
    assert (runs == 1).sum() >= rows
    assert picture.width <= 1660
    assert "8 sides" in picture.caption


def test_three_rows_where_there_are_two_versions() -> None:
    before, after = turn(8, height=100, width=60), turn(8, height=100, width=60, shift=4)
    found: tuple[ViewDifference, ...] = differences_of(before, after, flip_views=0)
    both = strip_picture(before, after, found, title="prop")
    alone = strip_picture(None, after, (), title="prop")
    assert both.height > 2.5 * alone.height
    assert "8 of 8 views differ" in both.caption


def test_no_version_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one"):
        strip_picture(None, None, (), title="")
